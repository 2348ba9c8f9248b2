package optimum

import (
	"math"
	"slices"
)

// choice is one part that a row may play, with the datums at which it may.
type choice struct {
	from, to float64 // mm
	cost     float64 // seconds
}

// choices are the parts that a row may play (A to E of the leveling plan), acceptance grown by so many millimetres, shrunk
// where that is negative. Where several are to be had at a datum, the cheapest is the row's own:
//
//   - A costs nothing and B the touch, less than what is left to a row that neither has;
//   - a row that is off and left (D) costs only the miss, perhaps less than a touch, but where it may be, no place is
//     accepted: a row is less sure once it was moved, so no half-width reaches as far as the distance at which it is off;
//   - C, and D with a move, cost touch and miss. No part costs more, so they need no ends.
func (f figured) choices(miss, grown float64) []choice {
	reached := f.reached()
	if len(reached) == 0 {
		return []choice{{math.Inf(-1), math.Inf(1), miss}} // E
	}
	var out []choice
	for i, o := range reached {
		if o.half >= 0 {
			out = append(out, choice{o.depth - o.half - grown, o.depth + o.half + grown, f.costOf(o)}) // A, B
		}
		if o.effect == 0 {
			out = append(out, f.offAndLeft(reached, i, miss, grown)...)
		}
	}
	shrunkAway := func(c choice) bool { return c.from > c.to }
	return append(slices.DeleteFunc(out, shrunkAway), choice{math.Inf(-1), math.Inf(1), f.touch + miss})
}

// costOf is what an accepted place costs.
func (f figured) costOf(o option) float64 {
	if o.effect == 0 {
		return 0
	}
	return f.touch
}

// offAndLeft is D where leaving the row is nearest: so far from it that it is off, no further than half-way to its
// neighbours.
func (f figured) offAndLeft(reached []option, left int, miss, grown float64) []choice {
	shallowest, deepest := math.Inf(-1), math.Inf(1)
	if left > 0 {
		shallowest = (f.depth + reached[left-1].depth) / 2
	}
	if left < len(reached)-1 {
		deepest = (f.depth + reached[left+1].depth) / 2
	}
	return []choice{
		{shallowest - grown, f.depth - f.off + grown, miss},
		{f.depth + f.off - grown, deepest + grown, miss},
	}
}
