package job

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
