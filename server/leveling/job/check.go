package job

import (
	"slices"
	"strconv"
	"strings"

	"rowdatum/server/leveling"
	"rowdatum/server/leveling/plan"
)

// Limits on one request, in events.
const (
	mostAsked      = leveling.MaxReadingsPerCall
	mostTextsAsked = 100
)

// takesEvents says that the job is open.
func (s *State) takesEvents() error {
	how := "signed"
	switch s.Stage {
	case StageOpen:
		return nil
	case StageVoided:
		how = "voided"
	}
	return &leveling.Error{
		Kind: leveling.FailedState, Reason: "JOB_CLOSED",
		Message: "This job is " + how + " and takes no more events.", Metadata: map[string]string{"stage": strings.ToUpper(how)},
	}
}

// each says that the job is open and that there are 1 to most of something, then lets check look at each.
func (s *State) each(field string, n, most int, check func(i int, path string, v *leveling.Violations)) error {
	if err := s.takesEvents(); err != nil {
		return err
	}
	var v leveling.Violations
	if n < 1 || n > most {
		say(&v, field, func(p *phrases) string { return p.entriesWrong }, n, most)
		return v.Err()
	}
	for i := range n {
		check(i, field+"["+strconv.Itoa(i)+"].", &v)
	}
	return v.Err()
}

// say notes a violation.
func say(v *leveling.Violations, field string, phrase func(*phrases) string, args ...any) {
	v.Say(field, catalogue.Message(phrase, args...))
}

// theRow returns a row's log, or notes that there is no such row.
func (s *State) theRow(path string, number int, v *leveling.Violations) *rowLog {
	i := s.index(number)
	if i < 0 {
		say(v, path+"row", func(p *phrases) string { return p.noRow }, number)
		return nil
	}
	return s.rows[i]
}

// CheckReadings says whether readings may be appended.
func (s *State) CheckReadings(readings []Reading) error {
	return s.each("readings", len(readings), mostAsked, func(i int, path string, v *leveling.Violations) {
		r := readings[i]
		l := s.theRow(path, r.Row, v)
		if l != nil && !l.knows(r.AfterMove) {
			say(v, path+"afterMove", func(p *phrases) string { return p.noMove }, r.AfterMove, r.Row)
		}
		if r.Side != WholeRow && r.Side != Left && r.Side != Right {
			v.Add(path+"side", "is %q, must be LEFT, RIGHT or left out", r.Side)
		}
		if r.Unit != leveling.MM && r.Unit != leveling.Inch {
			v.Add(path+"unit", "is %q, must be MM or IN", r.Unit)
			return
		}
		if depth := s.Opened.DepthMm(r); !(depth >= leveling.MinDepthMm && depth <= leveling.MaxDepthMm) {
			say(v, path+"value", func(p *phrases) string { return p.noDepth }, leveling.Quantity(depth, leveling.Millimeters), leveling.Amount(leveling.MinDepthMm, leveling.Millimeters), leveling.Quantity(leveling.MaxDepthMm, leveling.Millimeters))
		}
	})
}

// CheckMoves says whether moves may be appended. It comes before the adjuster is asked what they do: a
// count and an effect need only be finite. Where a row no longer stands where its writer thought, the
// error is Stale.
func (s *State) CheckMoves(moves []Move) error {
	var stale []int
	err := s.each("moves", len(moves), leveling.MaxRows, func(i int, path string, v *leveling.Violations) {
		m := moves[i]
		v.Within(path+"count", m.Count, -1e6, 1e6, "")
		v.Within(path+"effectMm", m.EffectMm, -1e6, 1e6, leveling.Millimeters)
		if slices.ContainsFunc(moves[:i], func(o Move) bool { return o.Row == m.Row }) {
			say(v, path+"row", func(p *phrases) string { return p.rowTwice }, m.Row)
		}
		l := s.theRow(path, m.Row, v)
		if l == nil {
			return
		}
		now := s.Row(m.Row)
		switch {
		case m.AfterMove != nil && !l.knows(*m.AfterMove):
			say(v, path+"afterMove", func(p *phrases) string { return p.noMove }, *m.AfterMove, m.Row)
		case now.Setting == "" && m.AfterMove == nil:
			say(v, path+"afterMove", func(p *phrases) string { return p.nameMove }, m.Row)
		case now.Setting != "" && m.SettingBefore == "":
			say(v, path+"settingBefore", func(p *phrases) string { return p.nameSetting }, m.Row, now.Setting)
		case now.Setting != "" && m.SettingBefore != now.Setting, m.AfterMove != nil && *m.AfterMove != now.LastMove:
			stale = append(stale, m.Row)
		}
	})
	if err != nil || stale == nil {
		return err
	}
	return &leveling.Error{
		Kind: leveling.Stale, Reason: "STALE_SETTING",
		Message:  leveling.Voice{}.RowList(stale) + ": somebody was faster, or wrote in between; look where the mechanism stands now, then decide.",
		Metadata: map[string]string{"rows": numbers(stale)},
	}
}

// CheckPartChanges says whether part changes may be appended.
func (s *State) CheckPartChanges(changes []PartChange) error {
	return s.each("partChanges", len(changes), mostAsked, func(i int, path string, v *leveling.Violations) {
		s.theRow(path, changes[i].Row, v)
		v.Words(path+"part", changes[i].Part, 1, leveling.MaxNameSize)
	})
}

// CheckInspections says whether inspections may be appended.
func (s *State) CheckInspections(inspections []Inspection) error {
	return s.each("inspections", len(inspections), mostAsked, func(i int, path string, v *leveling.Violations) {
		in := inspections[i]
		v.Words(path+"comment", in.Comment, 0, leveling.MaxWordsSize)
		if in.Value != nil {
			v.Within(path+"value", *in.Value, -1e6, 1e6, "")
		}
		l := s.theRow(path, in.Row, v)
		if l == nil {
			return
		}
		p := point(l.style, in.Point)
		switch {
		case p == nil && len(l.style.InspectionPoints) == 0:
			say(v, path+"point", func(p *phrases) string { return p.noPoints }, in.Point, in.Row)
		case p == nil:
			say(v, path+"point", func(p *phrases) string { return p.noPoint }, in.Point, in.Row, points(l.style))
		case p.Limit != nil && in.Value == nil:
			say(v, path+"value", func(p *phrases) string { return p.noValue }, p.Title)
		}
	})
}

// JudgeInspection says of a measured point whether its part is worn out: that follows from its limit.
func (s *State) JudgeInspection(in Inspection) Inspection {
	i := s.index(in.Row)
	if i < 0 || in.Value == nil {
		return in
	}
	p := point(s.rows[i].style, in.Point)
	if p == nil || p.Limit == nil {
		return in
	}
	switch p.WorseWhen {
	case leveling.WorseLarger:
		in.Worn = *in.Value > *p.Limit
	case leveling.WorseSmaller:
		in.Worn = *in.Value < *p.Limit
	}
	return in
}

func point(s *leveling.Style, id string) *leveling.InspectionPoint {
	for i := range s.InspectionPoints {
		if s.InspectionPoints[i].ID == id {
			return &s.InspectionPoints[i]
		}
	}
	return nil
}

func points(s *leveling.Style) string {
	ids := make([]string, len(s.InspectionPoints))
	for i := range ids {
		ids[i] = s.InspectionPoints[i].ID
	}
	return strings.Join(ids, ", ")
}

// CheckNotes says whether notes may be appended.
func (s *State) CheckNotes(notes []Note) error {
	return s.each("notes", len(notes), mostTextsAsked, func(i int, path string, v *leveling.Violations) {
		if notes[i].Row != 0 {
			s.theRow(path, notes[i].Row, v)
		}
		v.Words(path+"text", notes[i].Text, 1, leveling.MaxNoteSize)
	})
}

// CheckStrikes says whether strikes may be appended, one after the other.
func (s *State) CheckStrikes(strikes []Strike) error {
	err := s.each("strikes", len(strikes), mostTextsAsked, func(i int, path string, v *leveling.Violations) {
		if n := strikes[i].Revision; n < 1 || n > len(s.log) {
			say(v, path+"revision", func(p *phrases) string { return p.noEvent }, n, len(s.log))
		}
		v.Words(path+"reason", strikes[i].Reason, 0, leveling.MaxWordsSize)
	})
	if err != nil {
		return err
	}
	trial := *s
	trial.log, trial.rows = slices.Clone(s.log), slices.Clone(s.rows)
	f := folder{State: &trial}
	for i, x := range strikes {
		if err := f.strike(s.Revision+1+i, x.Revision); err != nil {
			return &leveling.Error{
				Kind: leveling.FailedState, Reason: "NOT_STRIKABLE", Message: sentence(err.Error()),
				Metadata: map[string]string{"revision": strconv.Itoa(x.Revision)},
			}
		}
	}
	return nil
}

func sentence(s string) string { return strings.ToUpper(s[:1]) + s[1:] + "." }

// CheckTicks says whether cautions may be ticked by a person.
func (s *State) CheckTicks(person string, ticks []Tick) error {
	return s.each("ticks", len(ticks), mostTextsAsked, func(i int, path string, v *leveling.Violations) {
		if i == 0 {
			v.Words("person", person, 1, leveling.MaxNameSize)
		}
		if !slices.ContainsFunc(s.Cautions, func(c CautionState) bool { return c.ID == ticks[i].Caution }) {
			say(v, path+"caution", func(p *phrases) string { return p.noCaution }, ticks[i].Caution)
		}
	})
}

// CheckVoid says whether the job may be voided.
func (s *State) CheckVoid(reason string) error {
	if err := s.takesEvents(); err != nil {
		return err
	}
	var v leveling.Violations
	v.Words("reason", reason, 1, leveling.MaxWordsSize)
	return v.Err()
}

// mostMoves is how often a row is moved before plans leave it where it is, unless a new search is asked for: what
// four moves did not bring to the datum a fifth will not. Ours, no source.
const mostMoves = 4

// Ask is what is asked of a plan.
type Ask struct {
	Aim      *leveling.Aim     // nil: the job's own
	Replan   bool              // search freely: no row holds the datum, and none is left because it was moved often
	Language leveling.Language // of its words, which the log keeps
}

// aim is the aim that is asked for.
func (s *State) aim(a Ask) leveling.Aim {
	if a.Aim != nil {
		return *a.Aim
	}
	return s.Opened.Aim
}

// CheckPlan says whether a plan may be computed.
func (s *State) CheckPlan(ask Ask) error {
	if err := s.takesEvents(); err != nil {
		return err
	}
	var v leveling.Violations
	s.aim(ask).Check("aim", func(n int) bool { return s.index(n) >= 0 }, &v)
	if err := v.Err(); err != nil {
		return err
	}
	var unread []int
	for i := range s.Rows {
		if !s.Rows[i].Known {
			unread = append(unread, s.Rows[i].Row)
		}
	}
	if unread == nil {
		return nil
	}
	return &leveling.Error{
		Kind: leveling.FailedState, Reason: "NOTHING_READ", Message: leveling.Voice{}.RowList(unread) + ": there is no reading to plan from.",
		Metadata: map[string]string{"rows": numbers(unread)},
	}
}

// Problem is what a plan is computed from, once CheckPlan passed; options are those of each row by its
// number, from where it stands. After a plan was issued, the datum keeps to where the rows that were moved
// or read again in this job and are even stay even; free says that nothing held it: there is no such row or no such
// datum, a replan was asked for, or the aim gives the datum itself.
func (s *State) Problem(options map[int][]leveling.Option, ask Ask) (p plan.Problem, free bool) {
	p = plan.Problem{Aim: s.aim(ask), Reach: s.Opened.Reach, ReferenceRows: s.Opened.Planter.ReferenceRows,
		ResolutionMm: s.Opened.Fixture.Figures.ResolutionMm, Voice: s.Voice(ask.Language)}
	var hold []int
	for i, l := range s.rows {
		r := &s.Rows[i]
		moves, near := l.moves()
		row := plan.Row{
			Number: r.Row, Estimate: r.Estimate, Mechanism: r.Mechanism, Group: l.group, Style: l.style,
			Setting: r.Setting, Options: options[r.Row], BroughtNear: near && !ask.Replan,
		}
		if moves >= mostMoves && !ask.Replan {
			row.Options = p.Leaves(&row)
		}
		p.Rows = append(p.Rows, row)
		worked := r.Moved || s.firstPlan > 0 && l.readSince(s.firstPlan)
		if worked && r.Verdict == leveling.Even && !r.Surprising {
			hold = append(hold, r.Row)
		}
	}
	searched := p.Aim.Kind == leveling.LeastWork || p.Aim.Kind == leveling.Closest
	if searched && !ask.Replan {
		p.Window = p.Holding(hold)
	}
	return p, p.Window == nil
}

func numbers(rows []int) string {
	out := make([]string, len(rows))
	for i, n := range rows {
		out[i] = strconv.Itoa(n)
	}
	return strings.Join(out, ",")
}
