package job

import (
	"cmp"
	"encoding/json"
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"rowdatum/proto/seal"
	"rowdatum/server/leveling"
)

// CheckSign says whether a person may sign with these exceptions.
func (s *State) CheckSign(person string, exceptions []Exception) error {
	if err := s.takesEvents(); err != nil {
		return err
	}
	var v leveling.Violations
	v.Words("person", person, 1, leveling.MaxNameSize)
	for i, x := range exceptions {
		path := "exceptions[" + strconv.Itoa(i) + "]."
		v.Words(path+"reason", x.Reason, 1, leveling.MaxWordsSize)
		switch {
		case x.Unproven && x.Row != 0:
			say(&v, path+"row", func(p *phrases) string { return p.rowBesideAll }, x.Row)
		case !x.Unproven:
			s.theRow(path, x.Row, &v)
		}
		if slices.ContainsFunc(exceptions[:i], func(o Exception) bool { return o.Row == x.Row && o.Unproven == x.Unproven }) {
			say(&v, path+"row", func(p *phrases) string { return p.exceptedTwice }, x.Row)
		}
	}
	if err := v.Err(); err != nil {
		return err
	}
	if open := s.openCautions(); open != "" {
		return &leveling.Error{
			Kind: leveling.FailedState, Reason: "CAUTIONS_OPEN", Message: "Not every caution is ticked; each must be, by a person, before the job is signed.",
			Metadata: map[string]string{"cautions": open},
		}
	}
	var open []int
	for i := range s.Rows {
		if r := &s.Rows[i]; s.need(i) != needNothing && s.excepted(i, exceptions) == "" {
			open = append(open, r.Row)
		}
	}
	if open == nil {
		return nil
	}
	return &leveling.Error{
		Kind: leveling.FailedState, Reason: "ROWS_OPEN", Message: leveling.Voice{}.RowList(open) + ": not proven even, and not excepted with a reason.",
		Metadata: map[string]string{"rows": numbers(open)},
	}
}

// openCautions lists the ids of the cautions that are not ticked.
func (s *State) openCautions() string {
	var open []string
	for _, c := range s.Cautions {
		if c.Person == "" {
			open = append(open, c.ID)
		}
	}
	return strings.Join(open, ",")
}

// Seal puts into an event that signs a log the hash of the whole: name is the job's, planters/P/jobs/J, log the events before it as they
// are stored.
func (e *Event) Seal(name string, log [][]byte) (err error) {
	e.Signed.Recipe = seal.Newest
	last, err := json.Marshal(e)
	if err != nil {
		return fmt.Errorf("sealing a job: %w", err)
	}
	if e.Signed.ContentHash, err = seal.Hash(name, append(slices.Clip(log), last)); err != nil {
		return fmt.Errorf("sealing a job: %w", err)
	}
	return nil
}

// Lesson is what a job teaches of one row.
type Lesson struct {
	Row         int
	Setting     leveling.JSON // where it stands now
	Moved       bool          // in this job
	PartChanged bool          // in this job: what was known before is out of date
	Scale       *float64      // nil: the style's own
	ScaleSd     *float64
	AsLeftMm    *float64 // in the numbers of the job's fixture; nil where nothing is known
}

// Lessons are what the job teaches, by rising row.
func (s *State) Lessons() []Lesson {
	out := make([]Lesson, len(s.Rows))
	for i := range s.Rows {
		r, l := &s.Rows[i], s.rows[i]
		t := Lesson{Row: r.Row, Setting: r.Setting, Moved: r.Moved, PartChanged: l.partChanged()}
		e := r.Estimate
		if e.Scale > 0 && l.taught(e.Scale, e.ScaleSd) {
			t.Scale, t.ScaleSd = &e.Scale, &e.ScaleSd
		}
		if r.Known {
			t.AsLeftMm = &e.DepthMm
		}
		out[i] = t
	}
	return out
}

// taught says whether a scale is other than the style's own.
func (l *rowLog) taught(scale, sd float64) bool { return scale != 1 || sd != l.style.ScaleSd }

// partChanged says whether a part of the row was changed in this job.
func (l *rowLog) partChanged() bool {
	return slices.ContainsFunc(l.stays, func(s stay) bool { return s.partChanged() })
}

// Teach is a planter, as it is now, after the job's lessons. A row that has another mechanism by now learns
// nothing; one that was not moved in the job keeps its setting. What another visit that was signed since this
// job was opened left of a row stands; where both moved it, nobody knows where it stands. The caller counts
// the planter's revision.
func (s *State) Teach(p leveling.Planter) leveling.Planter {
	p.Rows = slices.Clone(p.Rows)
	for _, t := range s.Lessons() {
		i := slices.IndexFunc(p.Rows, func(r leveling.PlanterRow) bool { return r.Number == t.Row })
		if i < 0 || !SameMechanism(&p, &s.Opened.Planter, p.Rows[i].Mechanism, s.Row(t.Row).Mechanism) {
			continue
		}
		r := &p.Rows[i]
		switch elsewhere := movedElsewhere(r, s.rows[s.index(t.Row)].planter); {
		case elsewhere && t.Moved:
			r.Setting, r.AsLeftMm = "", nil
			continue
		case elsewhere:
			continue
		case t.Moved:
			r.Setting = t.Setting
		}
		if t.Moved || t.PartChanged {
			r.Scale, r.ScaleSd = t.Scale, t.ScaleSd
		}
		if t.AsLeftMm != nil || t.PartChanged {
			r.AsLeftMm, r.AsLeftFixture = t.AsLeftMm, s.Opened.Fixture.ID
		}
	}
	return p
}

// movedElsewhere says whether a row, as it is now, was moved and left by another visit since it was opened.
func movedElsewhere(now, opened *leveling.PlanterRow) bool {
	left := func(r *leveling.PlanterRow) float64 { return *cmp.Or(r.AsLeftMm, new(math.Inf(1))) }
	return now.Setting != opened.Setting && left(now) != left(opened)
}

// SameMechanism says whether two planters' mechanisms are the same style with the same figures.
func SameMechanism(p, q *leveling.Planter, a, b string) bool {
	find := func(p *leveling.Planter, id string) (m leveling.Mechanism) {
		for _, m := range p.Mechanisms {
			if m.ID == id {
				return m
			}
		}
		return m
	}
	x, y := find(p, a), find(q, b)
	return x.Style == y.Style && x.Figures == y.Figures
}
