package plan

import (
	"cmp"
	"slices"

	"rowdatum/server/leveling/estimate"
)

// piece begins a range of datums over which a row's choice is fixed; it lasts to the row's next piece.
type piece struct {
	from pm
	row  int32
	choice
}

// span is a range of datums over which an option is the accepted one nearest the datum.
type span struct {
	from, to pm
	option   int32
}

// settler works out rows' parts; it holds the tolerance and rooms that are used again row after row.
type settler struct {
	accept      estimate.Acceptance
	widest      pm // no half-width is above it: the tolerance
	line, stack []span
	near, far   []span
	spans       []span
	class       []int32 // options that take as long as each other
	open        []span  // of classes, the quickest first
}

// settle appends row r's pieces over datums lo to hi: parts A, R, M and D of the rule.
func (s *settler) settle(out []piece, r *row, index int32, lo, hi pm) []piece {
	if r.leave >= 0 && r.depth-r.half <= lo && hi <= r.depth+r.half {
		return append(out, piece{lo, index, choice{Left, 0, int32(r.leave)}})
	}
	accepted := s.acceptedSpans(r, lo, hi)
	cell := r.nearest(lo)
	cellEnd, cellNext := r.cell(cell)
	first := len(out)
	for t := lo; t <= hi; {
		for cellEnd < t {
			cell = cellNext
			cellEnd, cellNext = r.cell(cell)
		}
		for len(accepted) > 0 && accepted[0].to < t {
			accepted = accepted[1:]
		}
		c, last := s.part(r, accepted, t, hi)
		if c.part == Nearest {
			turn := cellEnd
			if c.option, turn = r.nearestPart(cell, t, cellEnd); turn < last {
				last = turn
			}
		}
		if n := len(out); n == first || out[n-1].choice != c {
			out = append(out, piece{t, index, c})
		}
		t = last + 1
	}
	return out
}

// part is row r's part at datum t, without the option where it is Nearest, and a datum up to which it is at
// least the same, hi at most.
func (s *settler) part(r *row, accepted []span, t, hi pm) (c choice, last pm) {
	last = hi
	moved := len(accepted) > 0 && accepted[0].from <= t
	if moved {
		last = min(last, accepted[0].to)
	} else if len(accepted) > 0 {
		last = min(last, accepted[0].from-1)
	}
	if r.leave >= 0 {
		if (t - r.depth).abs() <= r.half {
			return choice{Left, 0, int32(r.leave)}, min(hi, r.depth+r.half)
		}
		most := never
		if moved {
			most = r.options[accepted[0].option].seconds
		}
		again, same := r.ringAt(t, most)
		last = min(last, same)
		if again != nil {
			return choice{Reread, int8(again.readings), int32(r.leave)}, last
		}
	}
	if moved {
		return choice{Moved, 0, accepted[0].option}, last
	}
	return choice{part: Nearest}, last
}

// worthMoving is how much nearer a move must bring a row that it is not expected to prove; ours, no source.
const worthMoving pm = pmPerMm

// nearestPart is the option of part D at datum t, where the option of index cell is the nearest up to cellEnd,
// and the last datum up to which it is the same. The row is left unless the option is nearer than leave by
// more than 1 mm, which turns at most once before cellEnd.
func (r *row) nearestPart(cell int, t, cellEnd pm) (option int32, last pm) {
	if r.leave < 0 {
		return int32(cell), cellEnd
	}
	if r.BroughtNear {
		return int32(r.leave), beyondPm
	}
	depth := r.options[cell].depth
	switch ends := depth + r.depth; {
	case (t-r.depth).abs()-(t-depth).abs() > worthMoving:
		if t < r.depth { // up to where 2t reaches ends - 1 mm
			cellEnd = min(cellEnd, -(-(ends - worthMoving)).half()-1)
		}
		return int32(cell), cellEnd
	case t > r.depth && depth-r.depth > worthMoving: // up to where 2t passes ends + 1 mm
		return int32(r.leave), min(cellEnd, (ends + worthMoving).half())
	}
	return int32(r.leave), cellEnd
}

// acceptedSpans lists by rising datum, over lo to hi, which move proves: of those that do the quickest, of
// equally quick ones the nearest.
func (s *settler) acceptedSpans(r *row, lo, hi pm) []span {
	first, end := r.from(lo-s.widest), r.from(hi+s.widest+1)
	s.spans, s.class = s.spans[:0], s.class[:0]
	for i := first; i < end; i++ {
		if i != r.leave {
			s.class = append(s.class, int32(i))
		}
	}
	if r.uniform {
		s.nearestSpans(r, s.class, lo, hi)
		return s.spans
	}
	slices.SortStableFunc(s.class, func(a, b int32) int { return cmp.Compare(r.options[a].seconds, r.options[b].seconds) })
	for class := s.class; len(class) > 0; {
		n := 1
		for n < len(class) && r.options[class[n]].seconds == r.options[class[0]].seconds {
			n++
		}
		s.nearestSpans(r, class[:n], lo, hi)
		class = class[n:]
	}
	s.quickest(r)
	return s.spans
}

// quickest makes of s.spans, each class by rising datum, the spans of the quickest option that is accepted.
func (s *settler) quickest(r *row) {
	slices.SortFunc(s.spans, func(a, b span) int { return cmp.Compare(a.from, b.from) })
	line := append(s.line[:0], s.spans...)
	s.line, s.spans = line, s.spans[:0]
	quicker := func(a, b span) bool { return r.options[a.option].seconds < r.options[b.option].seconds }
	open := heap[span]{s.open[:0], quicker}
	for t := -beyondPm; len(line) > 0 || len(open.items) > 0; {
		if len(open.items) == 0 {
			t = max(t, line[0].from)
		}
		for len(line) > 0 && line[0].from <= t {
			open.push(line[0])
			line = line[1:]
		}
		top := open.items[0]
		if top.to < t {
			open.pop()
			continue
		}
		last := top.to
		if len(line) > 0 {
			last = min(last, line[0].from-1)
		}
		s.add(t, last, top.option)
		t = last + 1
	}
	s.open = open.items
}

// nearestSpans adds to s.spans by rising datum, over lo to hi, which option of a class, given by rising
// depth, is the nearest of those that are accepted.
func (s *settler) nearestSpans(r *row, class []int32, lo, hi pm) {
	s.near, s.far, s.line = s.near[:0], s.far[:0], s.line[:0]
	for i := 0; i < len(class); { // of equal depths the preferred comes last: what comes later wins
		group := i
		for group < len(class) && r.options[class[group]].depth == r.options[class[i]].depth {
			group++
		}
		for j := group - 1; j >= i; j-- {
			if o := &r.options[class[j]]; r.accepted(int(class[j]), &s.accept) >= 0 {
				s.line = append(s.line, span{o.depth, o.depth + o.half, class[j]})
			}
		}
		i = group
	}
	s.near = s.latest(s.near)
	s.line = s.line[:0]
	for j := len(class) - 1; j >= 0; j-- { // the same, seen from the deeper side: signs turned
		if o := &r.options[class[j]]; r.accepted(int(class[j]), &s.accept) >= 0 {
			s.line = append(s.line, span{-o.depth, o.half - o.depth, class[j]})
		}
	}
	s.far = s.latest(s.far)
	slices.Reverse(s.far)
	for i := range s.far {
		s.far[i].from, s.far[i].to = -s.far[i].to, -s.far[i].from
	}
	s.join(r, lo, hi)
}

// latest appends to out, disjoint and rising, where each span of s.line is the last begun of those
// still open. The line is sorted by from; of equal ones the later wins.
func (s *settler) latest(out []span) []span {
	stack, at := s.stack[:0], -beyondPm
	emit := func(to pm) {
		if top := stack[len(stack)-1]; at <= min(to, top.to) {
			out = append(out, span{at, min(to, top.to), top.option})
			at = min(to, top.to) + 1
		}
	}
	for _, next := range s.line {
		for len(stack) > 0 && at < next.from {
			emit(next.from - 1)
			if at < next.from {
				stack = stack[:len(stack)-1]
			}
		}
		at = next.from
		for len(stack) > 0 && stack[len(stack)-1].to <= next.to {
			stack = stack[:len(stack)-1]
		}
		stack = append(stack, next)
	}
	for ; len(stack) > 0; stack = stack[:len(stack)-1] {
		emit(beyondPm)
	}
	s.stack = stack
	return out
}

// join makes s.spans over lo to hi out of the nearest accepted options on either side of the datum.
func (s *settler) join(r *row, lo, hi pm) {
	near, far := s.near, s.far
	for t := lo; t <= hi; {
		var here [2]bool
		last := hi
		for side, list := range [2]*[]span{&near, &far} {
			for len(*list) > 0 && (*list)[0].to < t {
				*list = (*list)[1:]
			}
			if len(*list) == 0 {
				continue
			}
			if here[side] = (*list)[0].from <= t; here[side] {
				last = min(last, (*list)[0].to)
			} else {
				last = min(last, (*list)[0].from-1)
			}
		}
		switch {
		case here[0] && here[1]:
			a, b := near[0].option, far[0].option
			turn := last // the last datum of a
			if r.options[a].depth != r.options[b].depth {
				turn = until(&r.options[a], &r.options[b])
			}
			s.add(t, min(turn, last), a)
			s.add(max(turn+1, t), last, b)
		case here[0]:
			s.add(t, last, near[0].option)
		case here[1]:
			s.add(t, last, far[0].option)
		}
		t = last + 1
	}
}

func (s *settler) add(from, to pm, option int32) {
	if from > to {
		return
	}
	if n := len(s.spans); n > 0 && s.spans[n-1].option == option && s.spans[n-1].to == from-1 { // of the same class
		s.spans[n-1].to = to
		return
	}
	s.spans = append(s.spans, span{from, to, option})
}
