package sheet

import (
	"cmp"
	"time"

	"rowdatum/server/internal/flow"
	"rowdatum/server/leveling"
	"rowdatum/server/leveling/job"
)

// Options say how a sheet speaks.
type Options struct {
	Language leveling.Language
	// Styles have the titles and units of mechanisms in the language, by id; those of the job stand in for
	// what is missing.
	Styles map[string]leveling.Style
	Zone   *time.Location // of times; nil is UTC
	Log    [][]byte       // the job's events as they are stored; JSON alone needs them
}

// Sheet is a job's sheet in one language.
type Sheet struct {
	head   flow.JobHead
	s      *job.State // with its words
	voice  leveling.Voice
	p      *phrases
	styles map[string]leveling.Style
	zone   *time.Location
	log    [][]byte
	done   map[int]*done // by row
	people []person
}

// done is what was done to a row.
type done struct {
	counts []float64
	parts  []string
}

// person is who had a hand in the job.
type person struct {
	name                                         string
	readings, plans, moves, parts, points, ticks int
	opened, signed                               bool
}

// New makes the sheet of a job as it stands.
func New(head flow.JobHead, s *job.State, o Options) *Sheet {
	out := &Sheet{
		head: head, s: s.In(o.Language), voice: s.Voice(o.Language), p: catalogue.In(o.Language),
		styles: o.Styles, zone: cmp.Or(o.Zone, time.UTC), log: o.Log, done: map[int]*done{},
	}
	for i := range s.Rows {
		out.done[s.Rows[i].Row] = &done{}
	}
	for _, e := range s.Standing() {
		out.note(e)
	}
	return out
}

// note takes an event to its row and its person.
func (s *Sheet) note(e job.Event) {
	who := s.person(e.Person)
	switch {
	case e.Opened != nil:
		who.opened = true
	case e.Reading != nil:
		who.readings++
	case e.Issued != nil:
		who.plans++
	case e.Move != nil:
		who.moves++
		d := s.done[e.Move.Row]
		d.counts = append(d.counts, e.Move.Count)
	case e.PartChange != nil:
		who.parts++
		d := s.done[e.PartChange.Row]
		d.parts = append(d.parts, e.PartChange.Part)
	case e.Inspection != nil:
		who.points++
	case e.Tick != nil:
		who.ticks++
	case e.Signed != nil:
		who.signed = true
	}
}

// person finds or adds a person; what nobody put a name to goes to one who is not kept.
func (s *Sheet) person(name string) *person {
	if name == "" {
		return &person{}
	}
	for i := range s.people {
		if s.people[i].name == name {
			return &s.people[i]
		}
	}
	s.people = append(s.people, person{name: name})
	return &s.people[len(s.people)-1]
}

// style is the style of a mechanism, in the language where that is known.
func (s *Sheet) style(mechanism string) leveling.Style {
	for _, m := range s.s.Opened.Planter.Mechanisms {
		if m.ID != mechanism {
			continue
		}
		if own, ok := s.styles[m.Style]; ok {
			return own
		}
		return s.s.Opened.Styles[m.Style]
	}
	return leveling.Style{}
}

// inspectionPoint is a point of a row's style: limit and unit are the job's own, its title is in the
// language where that is known.
func (s *Sheet) inspectionPoint(row int, id string) leveling.InspectionPoint {
	mechanism := s.s.Row(row).Mechanism
	out := leveling.InspectionPoint{ID: id, Title: id}
	for _, m := range s.s.Opened.Planter.Mechanisms {
		if m.ID == mechanism {
			out = pointOf(s.s.Opened.Styles[m.Style], out)
		}
	}
	out.Title = pointOf(s.style(mechanism), out).Title
	return out
}

func pointOf(s leveling.Style, p leveling.InspectionPoint) leveling.InspectionPoint {
	for _, q := range s.InspectionPoints {
		if q.ID == p.ID {
			q.Title = cmp.Or(q.Title, p.Title)
			return q
		}
	}
	return p
}
