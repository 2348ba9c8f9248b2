package plan

import (
	"cmp"
	"math"
	"slices"
	"sort"

	"rowdatum/server/leveling"
	"rowdatum/server/leveling/estimate"
)

// row is one row prepared for the search.
type row struct {
	*Row
	depth   pm       // estimate
	joined  float64  // variance that the aim joins to this row's, mm²
	half    pm       // how far a datum may be for the row as found to be even; none if never
	rings   []ring   // what further readings would prove beyond half, by rising number of them
	off     pm       // how far a datum must be for the row as found to be off
	options []option // in reach, by rising prediction; of equal ones the preferred first
	leave   int      // index of leave in options; -1 where it is out of reach
	uniform bool     // whether all its moves take as long
	least   micros   // what its quickest move takes; without a move, more than anything
	matched bool     // the other rows are brought to this one
	now     choice
}

// option is one option in reach.
type option struct {
	depth   pm      // predicted
	half    pm      // how far a datum may be for a move there to be accepted; none, or not known yet
	effect  float64 // nominal, mm
	seconds micros  // of moving there and reading it once; 0 for leave
	source  int32   // index into Row.Options: the adjuster's own order
}

// Values of half that are no width.
const (
	none     pm = -1
	notKnown pm = -2
)

// never is more than any work takes.
const never micros = math.MaxInt64

// choice is what a row's part of a plan comes to: the part, for Reread how many more readings, and an index
// into the row's options.
type choice struct {
	part     Part
	readings int8
	option   int32
}

// stuck says whether nothing is in reach.
func (r *row) stuck() bool { return len(r.options) == 0 }

// sd is the standard uncertainty of the row as found, with what the aim joins to it.
func (r *row) sd() float64 { return r.sdWith(r.Estimate.UncertaintyMm) }

// sdWith is sd with u in place of the row's own uncertainty.
func (r *row) sdWith(u float64) float64 { return math.Sqrt(u*u + r.joined) }

// predictedSd is the standard uncertainty of the depth after option i.
func (r *row) predictedSd(i int) float64 {
	if i == r.leave {
		return r.sd()
	}
	return r.sdAfter(r.options[i].effect, r.joined)
}

// sdAfter is the standard uncertainty of the row's depth after a move of nominal effect by, with variance
// joined to it, before it is read there.
func (r *Row) sdAfter(by, joined float64) float64 {
	return math.Sqrt(r.Estimate.VarianceMoved(by, r.Style.SeatingMm) + joined)
}

// accepted is the half-width of option i, which moves, once it was read there; worked out when first asked for.
func (r *row) accepted(i int, a *estimate.Acceptance) pm {
	o := &r.options[i]
	if o.half == notKnown {
		o.half = halfWidth(a, r.sdWith(r.Estimate.UncertaintyMoved(o.effect, r.Style.SeatingMm)))
	}
	return o.half
}

func halfWidth(a *estimate.Acceptance, u float64) pm {
	h, ok := a.HalfWidth(u)
	if !ok {
		return none
	}
	return toPm(h)
}

// verdict is the verdict on the row as found at datum t.
func (r *row) verdict(t pm) leveling.Verdict {
	switch away := (t - r.depth).abs(); {
	case r.stuck():
		return leveling.Stuck
	case r.matched, away <= r.half:
		return leveling.Even
	case away >= r.off:
		return leveling.Off
	}
	return leveling.Unsure
}

// prepare fills r's options that are in reach into room, which is empty and has capacity for all of
// them, and returns the room left over.
func (r *row) prepare(reach leveling.Reach, room []option) []option {
	r.leave = -1
	r.depth = toPm(r.Estimate.DepthMm)
	checked := r.reachChecked() && reach != (leveling.Reach{})
	r.options = room
	rising, touch := true, toMicros(r.Style.TouchSeconds)
	r.uniform, r.least = true, never
	for i := range r.Options {
		o := &r.Options[i]
		if r.matched || r.Stays {
			if !o.Leave {
				continue
			}
		} else if checked && !r.inReach(o, reach) {
			continue
		}
		n := len(r.options)
		r.options = r.options[:n+1]
		p := &r.options[n]
		*p = option{depth: r.depth, half: none, source: int32(i)}
		if !o.Leave {
			// The conversion keeps processors from fusing the product into the sum.
			by := float64(r.Estimate.Scale * o.EffectMm)
			p.depth, p.half, p.effect, p.seconds = toPm(r.Estimate.DepthMm+by), notKnown, o.EffectMm, touch
			if o.Seconds > 0 {
				p.seconds = toMicros(o.Seconds)
			}
			r.uniform = r.uniform && (r.least == never || r.least == p.seconds)
			r.least = min(r.least, p.seconds)
		}
		rising = rising && (n == 0 || r.options[n-1].depth < p.depth)
	}
	if !rising {
		slices.SortFunc(r.options, func(a, b option) int { return cmp.Or(cmp.Compare(a.depth, b.depth), preferred(a, b)) })
	}
	for i := range r.options {
		if r.Options[r.options[i].source].Leave {
			r.leave = i
		}
	}
	return r.options[len(r.options):]
}

// judge works out how far a datum may be, and must be, for the row as found to be even or off.
func (r *row) judge(a *estimate.Acceptance) {
	u := r.sd()
	r.half, r.off = halfWidth(a, u), toPm(a.OffDistance(u))
}

// Leaves is the option that leaves a row alone, alone, where that is in reach; else all of the row's options.
func (p *Problem) Leaves(r *Row) []leveling.Option {
	for i := range r.Options {
		if o := &r.Options[i]; o.Leave && r.inReach(o, p.Reach) {
			return r.Options[i : i+1]
		}
	}
	return r.Options
}

// inReach says whether an option leaves the season's travel, where that is asked of the row.
func (r *Row) inReach(o *leveling.Option, reach leveling.Reach) bool {
	return !r.reachChecked() || !o.TravelKnown ||
		toPm(o.ShallowerLeftMm) >= toPm(reach.ShallowerMm) && toPm(o.DeeperLeftMm) >= toPm(reach.DeeperMm)
}

// reachChecked says whether the season's travel is asked of this row.
func (r *Row) reachChecked() bool { return r.Style.SetsPlantingDepth && r.Setting != "" }

// preferred compares options that are equally near: the quicker, then the smaller |effect|, then the
// shallower, then the adjuster's own order.
func preferred(a, b option) int {
	switch {
	case a.seconds != b.seconds:
		return cmp.Compare(a.seconds, b.seconds)
	case a.effect != b.effect:
		return cmp.Or(cmp.Compare(math.Abs(a.effect), math.Abs(b.effect)), cmp.Compare(a.effect, b.effect))
	}
	return cmp.Compare(a.source, b.source)
}

// until is the last datum at which a is nearer than b, or as near and preferred; a is shallower.
func until(a, b *option) pm {
	sum := a.depth + b.depth
	if sum&1 == 0 && preferred(*a, *b) > 0 {
		return sum.half() - 1
	}
	return sum.half()
}

// from is the index of the first option at t or deeper.
func (r *row) from(t pm) int {
	return sort.Search(len(r.options), func(i int) bool { return r.options[i].depth >= t })
}

// nearest is the option nearest t.
func (r *row) nearest(t pm) int {
	deeper := r.from(t)
	if deeper == 0 {
		return 0
	}
	shallower := r.from(r.options[deeper-1].depth)
	if deeper == len(r.options) || t <= until(&r.options[shallower], &r.options[deeper]) {
		return shallower
	}
	return deeper
}

// cell is the last datum at which option i, the first of its depth, is the nearest, and the option
// that is nearest after it.
func (r *row) cell(i int) (last pm, next int) {
	for next = i + 1; next < len(r.options); next++ {
		if r.options[next].depth != r.options[i].depth {
			return until(&r.options[i], &r.options[next]), next
		}
	}
	return beyondPm, i
}
