package optimum

import (
	"math"
	"slices"
)

// choice is what a row costs over a range of datums.
type choice struct {
	from, to float64 // mm
	cost     float64 // seconds
}

// worthMoving is how much nearer to the datum a row must come to be moved where that will not prove it, mm.
const worthMoving = 1

// choices are a row's costs over all datums (parts A, R, M, D and E of the leveling plan): one after the other, each as far
// as it goes. Where two meet, the cheaper is grown by so many millimetres, or shrunk where that is negative.
func (p problem) choices(f figured, grown float64) []choice {
	if len(f.reached()) == 0 {
		return []choice{{math.Inf(-1), math.Inf(1), p.miss}} // E
	}
	turns := f.turns()
	out := []choice{{from: math.Inf(-1), cost: p.costAt(f, turns[0]-1)}}
	for i, at := range turns {
		beyond := at + 1
		if i+1 < len(turns) {
			beyond = (at + turns[i+1]) / 2
		}
		now := &out[len(out)-1]
		switch cost := p.costAt(f, beyond); {
		case cost < now.cost:
			now.to = at - grown
			out = append(out, choice{from: at - grown, cost: cost})
		case cost > now.cost:
			now.to = at + grown
			out = append(out, choice{from: at + grown, cost: cost})
		}
	}
	out[len(out)-1].to = math.Inf(1)
	return slices.DeleteFunc(out, func(c choice) bool { return c.from > c.to })
}

// turns are the datums, rising, at which a row's part may turn into another.
func (f figured) turns() []float64 {
	var out []float64
	around := func(depth, half float64) {
		if half >= 0 {
			out = append(out, depth-half, depth+half)
		}
	}
	for _, half := range f.again {
		around(f.depth, half)
	}
	reached := f.reached()
	for i, o := range reached {
		around(o.depth, o.half)
		out = append(out, (f.depth+o.depth-worthMoving)/2, (f.depth+o.depth+worthMoving)/2)
		if i > 0 {
			out = append(out, (reached[i-1].depth+o.depth)/2)
		}
	}
	slices.Sort(out)
	return slices.Compact(out)
}

// costAt is what a row that is not stuck costs at a datum.
func (p problem) costAt(f figured, datum float64) float64 {
	again, moved := math.Inf(1), math.Inf(1)
	nearest, left := math.Inf(1), math.Inf(1)
	for _, o := range f.reached() {
		away := math.Abs(o.depth - datum)
		nearest = math.Min(nearest, away)
		if o.effect != 0 {
			if away <= o.half {
				moved = f.touch // M
			}
			continue
		}
		left = away
		if away <= o.half {
			return 0 // A
		}
		if n := f.readings(datum); n > 0 {
			again = float64(n) * p.read // R
		}
	}
	switch cost := math.Min(again, moved); {
	case !math.IsInf(cost, 1):
		return cost
	case left-nearest <= worthMoving: // no more where leaving the row is out of reach
		return p.miss // D, left
	}
	return p.miss + f.touch // D, moved
}

// readings are the fewest further readings that prove a row even at a datum; 0 where none do.
func (f figured) readings(datum float64) int {
	return 1 + slices.IndexFunc(f.again, func(half float64) bool { return math.Abs(f.depth-datum) <= half })
}
