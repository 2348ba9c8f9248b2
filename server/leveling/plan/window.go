package plan

import "slices"

// Window is a closed range of datums in whole picometres (1e-9 mm), not empty.
type Window struct{ FromPm, ToPm int64 }

// Holding is the window of datums at which all the numbered rows, left where they stand, are even: what
// later plans of a job keep to. It is nil where there is none, or where no row is numbered.
func (p Problem) Holding(numbers []int) *Window {
	if len(numbers) == 0 {
		return nil
	}
	lo, hi := -beyondPm, beyondPm
	s := newSolver(&p)
	for i := range s.rows {
		r := &s.rows[i]
		if !slices.Contains(numbers, r.Number) {
			continue
		}
		if r.half < 0 {
			return nil
		}
		lo, hi = max(lo, r.depth-r.half), min(hi, r.depth+r.half)
	}
	if lo > hi {
		return nil
	}
	return &Window{int64(lo), int64(hi)}
}

// bounds are the datums among which the best is searched.
func (s *solver) bounds() (lo, hi pm) {
	if s.Window != nil {
		return pm(s.Window.FromPm), pm(s.Window.ToPm)
	}
	return s.hull()
}

// eachHeld calls f, by rising datum, with every window that may be the smallest about a datum of the
// problem's window. Of every choice the datum is its middle, held to the problem's window, and its spread is
// twice what the furthest of its predictions is from that: the same as ever where the middle lies inside.
// Between the ends the smallest spread about a datum is that of a smallest window that holds an option of
// every row; so only these and the two ends need be tried.
func (s *solver) eachHeld(f func(w window, datum pm)) {
	from, to := pm(s.Window.FromPm), pm(s.Window.ToPm)
	about := func(t pm) {
		away := s.furthest(t)
		f(window{t - away, t + away}, t)
	}
	about(from)
	s.eachWindow(func(w window) {
		if t := (w.low + w.high).half(); from <= t && t <= to {
			f(w, t)
		}
	})
	if to > from {
		about(to)
	}
}

// furthest is how far from datum t the row is that comes least near to it.
func (s *solver) furthest(t pm) pm {
	away := pm(0)
	for i := range s.rows {
		if r := &s.rows[i]; !r.stuck() {
			away = max(away, (t - r.options[r.nearest(t)].depth).abs())
		}
	}
	return away
}
