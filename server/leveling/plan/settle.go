package plan

import (
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
}

// settle appends row r's pieces over datums lo to hi: parts A to D of the rule, in their order.
func (s *settler) settle(out []piece, r *row, index int32, lo, hi pm) []piece {
	if r.leave >= 0 && r.depth-r.half <= lo && hi <= r.depth+r.half {
		return append(out, piece{lo, index, choice{Left, int32(r.leave)}})
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
		c, last := choice{Nearest, int32(cell)}, min(cellEnd, hi)
		away := (t - r.depth).abs()
		switch {
		case r.leave >= 0 && away <= r.half:
			c, last = choice{Left, int32(r.leave)}, r.depth+r.half
		case len(accepted) > 0 && accepted[0].from <= t:
			c, last = choice{Moved, accepted[0].option}, r.before(t, r.half, accepted[0].to)
		case r.leave >= 0 && away < r.off:
			c, last = choice{Reread, int32(r.leave)}, r.before(t, r.half, r.depth+r.off-1)
			last = beforeSpan(accepted, last)
		default:
			last = beforeSpan(accepted, r.before(t, max(r.half, r.off-1), last))
		}
		if n := len(out); n == first || out[n-1].choice != c {
			out = append(out, piece{t, index, c})
		}
		t = last + 1
	}
	return out
}

// before cuts last short of the datums within width of the estimate, where leave comes first, when
// they still lie ahead of t.
func (r *row) before(t, width, last pm) pm {
	if r.leave >= 0 && width >= 0 && t < r.depth-width {
		return min(last, r.depth-width-1)
	}
	return last
}

// beforeSpan cuts last short of the next span, which lies ahead.
func beforeSpan(ahead []span, last pm) pm {
	if len(ahead) > 0 {
		return min(last, ahead[0].from-1)
	}
	return last
}

// acceptedSpans lists by rising datum, over lo to hi, the accepted option other than leave that is
// nearest the datum.
func (s *settler) acceptedSpans(r *row, lo, hi pm) []span {
	first, end := r.from(lo-s.widest), r.from(hi+s.widest+1)
	s.near, s.far, s.spans = s.near[:0], s.far[:0], s.spans[:0]
	s.line = s.line[:0]
	for i := first; i < end; { // of equal depths the preferred comes last: what comes later wins
		group := i
		for group < end && r.options[group].depth == r.options[i].depth {
			group++
		}
		for j := group - 1; j >= i; j-- {
			if h := r.accepted(j, &s.accept); h >= 0 && j != r.leave {
				s.line = append(s.line, span{r.options[j].depth, r.options[j].depth + h, int32(j)})
			}
		}
		i = group
	}
	s.near = s.latest(s.near)
	s.line = s.line[:0]
	for j := end - 1; j >= first; j-- { // the same, seen from the deeper side: signs turned
		if h := r.accepted(j, &s.accept); h >= 0 && j != r.leave {
			s.line = append(s.line, span{-r.options[j].depth, h - r.options[j].depth, int32(j)})
		}
	}
	s.far = s.latest(s.far)
	slices.Reverse(s.far)
	for i := range s.far {
		s.far[i].from, s.far[i].to = -s.far[i].to, -s.far[i].from
	}
	s.join(r, lo, hi)
	return s.spans
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
				turn = until(r.options[a], r.options[b])
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
	if n := len(s.spans); n > 0 && s.spans[n-1].option == option && s.spans[n-1].to == from-1 {
		s.spans[n-1].to = to
		return
	}
	s.spans = append(s.spans, span{from, to, option})
}
