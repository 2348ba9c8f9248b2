package plan

import (
	"cmp"
	"slices"
)

// window is a range of depths that holds an option of every row.
type window struct{ low, high pm }

// closest finds the smallest window that holds an option of every row, of equal ones the one that
// leaves the most work undone, then the lowest. The datum is its middle.
func (s *solver) closest() Plan {
	if s.Window != nil {
		return s.chosen(s.closestWithin())
	}
	leaves, untouched := s.leaves()
	var best window
	var bestSpared micros
	found := false
	lo, hi := 0, 0
	s.eachWindow(func(w window) {
		for lo < len(leaves) && leaves[lo] < w.low {
			lo++
		}
		for hi < len(leaves) && leaves[hi] <= w.high {
			hi++
		}
		spared := untouched[hi] - untouched[lo]
		wider := cmp.Compare(w.high-w.low, best.high-best.low)
		if !found || wider < 0 || wider == 0 && spared > bestSpared {
			best, bestSpared, found = w, spared, true
		}
	})
	return s.chosen(best, (best.low + best.high).half())
}

// chosen is the plan at datum t with every row's choice inside window w.
func (s *solver) chosen(w window, t pm) Plan {
	for i := range s.rows {
		s.rows[i].now = s.within(&s.rows[i], w, t)
	}
	return s.plan(t)
}

// leaves lists where the rows stand that may be left, by rising depth, and the work that leaving the
// first so many of them spares.
func (s *solver) leaves() (depths []pm, spared []micros) {
	type leave struct {
		depth pm
		touch micros
	}
	list := make([]leave, 0, len(s.rows))
	for i := range s.rows {
		if r := &s.rows[i]; r.leave >= 0 {
			list = append(list, leave{r.depth, r.touch})
		}
	}
	slices.SortFunc(list, func(a, b leave) int { return cmp.Compare(a.depth, b.depth) })
	depths, spared = make([]pm, len(list)), make([]micros, len(list)+1)
	for i, l := range list {
		depths[i], spared[i+1] = l.depth, spared[i]+l.touch
	}
	return depths, spared
}

// eachWindow calls f, by rising low end, with the smallest window from every option's depth on that
// holds an option of every row.
func (s *solver) eachWindow(f func(window)) {
	places, starts := slices.Grow(s.places[:0], cap(s.options)), s.starts[:0]
	for i := range s.rows {
		starts = append(starts, len(places))
		for j := range s.rows[i].options {
			places = append(places, placeOf(s.rows[i].options[j].depth, i))
		}
	}
	s.starts = starts
	s.places, s.sorting = sortRuns(places, s.sorting, starts, mergePlaces)
	places = s.places
	inside := zeros(s.inside, len(s.rows))
	s.inside = inside
	missing, next := s.live, 0
	for _, p := range places {
		for ; missing > 0 && next < len(places); next++ {
			row := places[next].row()
			if inside[row]++; inside[row] == 1 {
				missing--
			}
		}
		if missing > 0 {
			return
		}
		f(window{p.depth(), places[next-1].depth()})
		if inside[p.row()]--; inside[p.row()] == 0 {
			missing++
		}
	}
}

// zeros returns n zeros, in the room that is given where it is enough.
func zeros[T any](room []T, n int) []T {
	room = slices.Grow(room[:0], n)[:n]
	clear(room)
	return room
}

// within is row r's choice inside window w: leave where it lies in it, else the option of the window
// nearest t. What that proves decides its part.
func (s *solver) within(r *row, w window, t pm) choice {
	if r.stuck() {
		return choice{NoReach, -1}
	}
	if r.leave >= 0 && w.low <= r.depth && r.depth <= w.high {
		switch away := (t - r.depth).abs(); {
		case away <= r.half:
			return choice{Left, int32(r.leave)}
		case away < r.off:
			return choice{Reread, int32(r.leave)}
		}
		return choice{Nearest, int32(r.leave)}
	}
	i := r.nearest(t)
	if r.options[i].depth < w.low { // as near as one in the window, where the middle was rounded
		i = r.from(w.low)
	}
	if (t - r.options[i].depth).abs() <= r.accepted(i, &s.accept) {
		return choice{Moved, int32(i)}
	}
	return choice{Nearest, int32(i)}
}
