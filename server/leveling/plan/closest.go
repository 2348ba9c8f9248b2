package plan

import (
	"cmp"
	"slices"
)

// window is a range of depths that holds an option of every row.
type window struct{ low, high pm }

// middling is a window with its middle as the datum.
type middling struct {
	window
	datum pm
}

// closest finds the smallest window that holds an option of every row, of equal ones that of the fewest
// seconds of moves, then the lowest. The datum is its middle.
func (s *solver) closest() Plan {
	var smallest []middling // windows of one width, by rising datum
	try := func(w window, datum pm) {
		if len(smallest) > 0 && w.width() < smallest[0].width() {
			smallest = smallest[:0]
		}
		if len(smallest) == 0 || w.width() == smallest[0].width() {
			smallest = append(smallest, middling{w, datum})
		}
	}
	s.eachMiddling(try)
	best := smallest[0]
	if len(smallest) > 1 {
		best = s.quickestOf(smallest)
	}
	return s.chosen(best)
}

// eachMiddling calls f with every window that may be the smallest.
func (s *solver) eachMiddling(f func(w window, datum pm)) {
	if s.Window == nil {
		s.eachWindow(func(w window) { f(w, (w.low + w.high).half()) })
		return
	}
	s.eachHeld(f)
}

func (w window) width() pm { return w.high - w.low }

// quickestOf is, of windows of one width by rising datum, the first with the fewest seconds of moves. From
// window to window a row's part of them changes only where leave comes in or goes out, and where the option
// nearest the middle becomes one that takes another time.
func (s *solver) quickestOf(windows []middling) middling {
	width := windows[0].width()
	type change struct {
		low pm // of the first window that it holds for
		row int
	}
	var changes []change
	for i := range s.rows {
		r := &s.rows[i]
		if r.stuck() {
			continue
		}
		if r.leave >= 0 {
			changes = append(changes, change{r.depth - width, i}, change{r.depth + 1, i})
		}
		for cell := 0; !r.uniform; {
			last, next := r.cell(cell)
			if last == beyondPm {
				break
			}
			changes = append(changes, change{last + 1 - width.half() - 1, i}, change{last + 1 - width.half(), i})
			cell = next
		}
	}
	slices.SortFunc(changes, func(a, b change) int { return cmp.Compare(a.low, b.low) })
	seconds := make([]micros, len(s.rows))
	var sum micros
	weigh := func(i int, w middling) {
		if r := &s.rows[i]; !r.stuck() {
			now := r.options[s.inside(r, w)].seconds
			sum += now - seconds[i]
			seconds[i] = now
		}
	}
	for i := range s.rows {
		weigh(i, windows[0])
	}
	best, fewest := windows[0], sum
	for _, w := range windows[1:] {
		for len(changes) > 0 && changes[0].low <= w.low {
			weigh(changes[0].row, w)
			changes = changes[1:]
		}
		if sum < fewest {
			best, fewest = w, sum
		}
	}
	return best
}

// chosen is the plan with every row's choice inside window w.
func (s *solver) chosen(w middling) Plan {
	for i := range s.rows {
		s.rows[i].now = s.within(&s.rows[i], w)
	}
	return s.plan(w.datum)
}

// leaves lists by rising depth where the rows stand that may be left.
func (s *solver) leaves() []pm {
	depths := make([]pm, 0, len(s.rows))
	for i := range s.rows {
		if r := &s.rows[i]; r.leave >= 0 {
			depths = append(depths, r.depth)
		}
	}
	slices.Sort(depths)
	return depths
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
	inside := zeros(s.held, len(s.rows))
	s.held = inside
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

// inside is the option of a row in a window: leave where it lies in it, else the nearest to the datum, which is
// the window's middle.
func (s *solver) inside(r *row, w middling) int {
	if r.leave >= 0 && w.low <= r.depth && r.depth <= w.high {
		return r.leave
	}
	i := r.nearest(w.datum)
	if r.options[i].depth < w.low { // as near as one in the window, where the middle was rounded
		i = r.from(w.low)
	}
	return i
}

// within is row r's choice inside window w. What it proves decides its part.
func (s *solver) within(r *row, w middling) choice {
	if r.stuck() {
		return choice{NoReach, 0, -1}
	}
	i := s.inside(r, w)
	away := (w.datum - r.options[i].depth).abs()
	if i != r.leave {
		if away <= r.accepted(i, &s.accept) {
			return choice{Moved, 0, int32(i)}
		}
		return choice{Nearest, 0, int32(i)}
	}
	if away <= r.half {
		return choice{Left, 0, int32(i)}
	}
	if again := r.ring(away); again != nil {
		return choice{Reread, int8(again.readings), int32(i)}
	}
	return choice{Nearest, 0, int32(i)}
}
