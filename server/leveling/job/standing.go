package job

import "rowdatum/server/leveling"

// Standing lists the events in force, in order: who did what, without what was struck and the strikes.
func (s *State) Standing() []Event {
	var out []Event
	for _, e := range s.log {
		if e.struckBy == 0 && e.Strike == nil {
			out = append(out, *e.Event)
		}
	}
	return out
}

// Inspected is the point that an inspection is of, by the job's copy of the row's style; nil where that has no
// such point.
func (s *State) Inspected(in Inspection) *leveling.InspectionPoint {
	i := s.index(in.Row)
	if i < 0 {
		return nil
	}
	return point(s.rows[i].style, in.Point)
}
