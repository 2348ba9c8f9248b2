package job

import (
	"cmp"
	"errors"
	"fmt"
	"math"
	"slices"

	"rowdatum/server/leveling"
	"rowdatum/server/leveling/estimate"
	"rowdatum/server/leveling/plan"
)

// Fold makes the state of a whole log. It fails only for a log that cannot be: a fault of ours.
func Fold(events []Event) (*State, error) { return (&State{}).Apply(events...) }

// Apply makes the state after further events; s stays as it is. It fails as Fold does.
func (s *State) Apply(events ...Event) (*State, error) {
	longer, err := s.Extend(events...)
	if err != nil {
		return nil, err
	}
	return longer.State(), nil
}

// Longer is a log that was found to fold, before what follows from it is worked out: that costs most, and
// need not be done where others wait.
type Longer struct {
	Revision   int
	Stage      Stage
	UpdateTime leveling.Micros
	folder     folder
}

// State works out what follows. It is called once.
func (l *Longer) State() *State {
	l.folder.derive()
	return l.folder.State
}

// Extend takes further events into the log; s stays as it is. It fails as Fold does.
func (s *State) Extend(events ...Event) (*Longer, error) {
	next := *s
	next.log = append(make([]logged, 0, len(s.log)+len(events)), s.log...)
	next.rows = slices.Clone(s.rows)
	f := folder{State: &next}
	for i := range events {
		e := events[i]
		if err := f.add(&e); err != nil {
			return nil, &leveling.Error{
				Kind: leveling.Internal, Reason: "INTERNAL",
				Message: "The log of this job cannot be read; nothing was changed.",
				Err:     fmt.Errorf("folding event %d of a job: %w", e.Revision, err),
			}
		}
	}
	if len(next.log) == 0 {
		return nil, &leveling.Error{Kind: leveling.Internal, Reason: "INTERNAL", Message: "The log of this job is empty.", Err: errors.New("folding an empty log")}
	}
	return &Longer{Revision: next.Revision, Stage: next.Stage, UpdateTime: next.UpdateTime, folder: f}, nil
}

// folder makes a new State. Rows are copied before they are first changed.
type folder struct {
	*State
	touched []int // indices of rows that are this State's own
}

// add takes one event into the log.
func (f *folder) add(e *Event) error {
	if e.Revision != f.Revision+1 {
		return fmt.Errorf("revision %d follows %d", e.Revision, f.Revision)
	}
	if (e.Opened != nil) != (f.Revision == 0) {
		return errors.New("a log has one opening, which is its first event")
	}
	if f.Revision > 0 && f.Stage != StageOpen {
		return errors.New("the job is closed")
	}
	if err := f.enter(e); err != nil {
		return err
	}
	f.log = append(f.log, logged{Event: e})
	f.Revision, f.UpdateTime = e.Revision, e.CreateTime
	f.bytes += e.Size()
	return nil
}

func (f *folder) enter(e *Event) error {
	switch {
	case e.Opened != nil:
		return f.open(e)
	case e.Reading != nil:
		return f.read(e.Revision, e.Reading)
	case e.Move != nil:
		if x := e.Move.EffectMm; math.IsNaN(x) || math.IsInf(x, 0) {
			return errors.New("a move without a finite effect")
		}
		return f.step(e.Move.Row, step{revision: e.Revision, move: e.Move, near: f.bringsNear(e.Move.Row)})
	case e.PartChange != nil:
		return f.step(e.PartChange.Row, step{revision: e.Revision})
	case e.Strike != nil:
		return f.strike(e.Revision, e.Strike.Revision)
	case e.Issued != nil:
		return f.issue(e)
	case e.Signed != nil:
		f.Stage = StageSigned
		f.Signature = &Signature{e.Person, e.CreateTime, cmp.Or(e.Signed.Recipe, 1), e.Signed.ContentHash, e.Signed.Exceptions}
	case e.Voided != nil:
		f.Stage, f.VoidReason = StageVoided, e.Voided.Reason
	case e.Inspection == nil && e.Note == nil && e.Tick == nil:
		return errors.New("nothing happened in it")
	}
	return nil
}

func (f *folder) open(e *Event) error {
	o := e.Opened
	f.Opened, f.Aim, f.Stage, f.CreateTime = o, o.Aim, StageOpen, e.CreateTime
	f.styles = make(map[string]*leveling.Style, len(o.Styles))
	for id, s := range o.Styles {
		f.styles[id] = &s
	}
	for i := range o.Planter.Rows {
		l := &rowLog{planter: &o.Planter.Rows[i]}
		if l.group = f.groupOf(l.planter.Mechanism); l.group < 0 {
			return fmt.Errorf("row %d has the unknown mechanism %q", l.planter.Number, l.planter.Mechanism)
		}
		if l.style = f.styles[o.Planter.Mechanisms[l.group].Style]; l.style == nil {
			return fmt.Errorf("row %d has the unknown style %q", l.planter.Number, o.Planter.Mechanisms[l.group].Style)
		}
		f.touched = append(f.touched, i)
		f.rows = append(f.rows, l)
	}
	slices.SortFunc(f.rows, func(a, b *rowLog) int { return cmp.Compare(a.planter.Number, b.planter.Number) })
	return nil
}

func (f *folder) issue(e *Event) error {
	rows := e.Issued.Plan.Rows
	if !slices.EqualFunc(rows, f.rows, func(p plan.RowPlan, l *rowLog) bool { return p.Row == l.planter.Number }) {
		return errors.New("a plan of other rows")
	}
	datum := e.Issued.Plan.DatumMm
	f.Issued, f.PlanRevision, f.Aim, f.DatumMm = e.Issued, e.Revision, e.Issued.Aim, &datum
	f.firstPlan = cmp.Or(f.firstPlan, e.Revision)
	f.plannedAt = make([]int, len(f.rows))
	for i, l := range f.rows {
		f.plannedAt[i] = l.since()
	}
	return nil
}

// bringsNear says whether the last plan has a row moved only as near as it goes, and that was not done yet.
func (f *folder) bringsNear(number int) bool {
	i := f.index(number)
	if i < 0 || f.Issued == nil {
		return false
	}
	p := f.planRow(i)
	return p.Part == plan.Nearest && !p.Option.Leave && f.rows[i].since() == f.plannedAt[i]
}

// groupOf is the index of the first mechanism that is the same as the named one, -1 where there is none
// of that name.
func (f *folder) groupOf(id string) int {
	all := f.Opened.Planter.Mechanisms
	i := slices.IndexFunc(all, func(m leveling.Mechanism) bool { return m.ID == id })
	if i < 0 {
		return i
	}
	return slices.IndexFunc(all, func(m leveling.Mechanism) bool { return m.Style == all[i].Style && m.Figures == all[i].Figures })
}

// index is where a row stands in Rows, -1 where there is none.
func (s *State) index(number int) int {
	i, found := slices.BinarySearchFunc(s.rows, number, func(l *rowLog, n int) int { return cmp.Compare(l.planter.Number, n) })
	if !found {
		return -1
	}
	return i
}

// own returns a row that may be changed, by the event of a revision.
func (f *folder) own(number, revision int) (*rowLog, error) {
	i := f.index(number)
	if i < 0 {
		return nil, fmt.Errorf("there is no row %d", number)
	}
	if !slices.Contains(f.touched, i) {
		f.rows[i] = f.rows[i].clone()
		f.touched = append(f.touched, i)
	}
	f.rows[i].changed = revision
	return f.rows[i], nil
}

func (f *folder) read(revision int, r *Reading) error {
	l, err := f.own(r.Row, revision)
	if err != nil {
		return err
	}
	depth := f.Opened.DepthMm(*r)
	if math.IsNaN(depth) || math.IsInf(depth, 0) || r.AfterMove < 0 || r.AfterMove >= revision {
		return errors.New("a reading that cannot be")
	}
	l.readings = append(l.readings, rowReading{revision: revision, afterMove: r.AfterMove, depthMm: depth, side: r.Side})
	return nil
}

func (f *folder) step(row int, s step) error {
	l, err := f.own(row, s.revision)
	if err != nil {
		return err
	}
	l.steps = append(l.steps, s)
	return nil
}

// strike takes an event out of force.
func (f *folder) strike(by, revision int) error {
	if why := f.notStrikable(revision); why != "" {
		return errors.New(why)
	}
	e := &f.log[revision-1]
	e.struckBy = by
	row := 0
	switch {
	case e.Reading != nil:
		row = e.Reading.Row
	case e.Move != nil:
		row = e.Move.Row
	case e.PartChange != nil:
		row = e.PartChange.Row
	default:
		return nil
	}
	l, err := f.own(row, by)
	if err != nil {
		return err
	}
	for i := range l.readings {
		l.readings[i].struck = l.readings[i].struck || l.readings[i].revision == revision
	}
	for i := range l.steps {
		l.steps[i].struck = l.steps[i].struck || l.steps[i].revision == revision
	}
	return nil
}

// notStrikable says why an event may not be struck; empty: it may.
func (s *State) notStrikable(revision int) string {
	if revision < 1 || revision > len(s.log) {
		return fmt.Sprintf("this job has no event %d", revision)
	}
	e := s.log[revision-1]
	switch {
	case e.struckBy > 0:
		return fmt.Sprintf("event %d is struck already", revision)
	case e.Reading != nil, e.Inspection != nil, e.Note != nil, e.Tick != nil, e.PartChange != nil:
		return ""
	case e.Move != nil:
		if last := s.rows[s.index(e.Move.Row)].lastMove(); last.revision != revision {
			return fmt.Sprintf("event %d is not the last move of row %d; strike the later one first", revision, e.Move.Row)
		}
		return ""
	}
	return fmt.Sprintf("event %d is none that can be struck", revision)
}

// derive works out everything that follows from the log.
func (f *folder) derive() {
	fixture := f.Opened.Fixture.Figures
	gate, own := estimate.NewGate(fixture), estimate.BudgetOf(fixture)
	for _, i := range f.touched {
		f.rows[i].settle(gate, own)
	}
	var pool estimate.Pool
	for _, l := range f.rows {
		pool.Join(l.pool)
	}
	u, nu := pool.Repeatability(fixture)
	f.RepeatabilityMm, f.Doubt = u, nil
	if pool.Doubts(fixture) {
		f.Doubt = &Doubt{pool.Scatter(fixture), pool.Degrees}
	}
	fixture.RepeatabilityMm = estimate.Inflated(u, nu, f.confidence())
	d := newDeriver(f.State, gate, own, estimate.BudgetOf(fixture))
	d.rows()
	d.wholeJob()
}

// planRow is what the last plan does with the row at an index.
func (s *State) planRow(i int) *plan.RowPlan {
	if s.Issued == nil {
		return nil
	}
	return &s.Issued.Plan.Rows[i]
}
