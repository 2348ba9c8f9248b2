package shop

import "math"

// point is what a way of working comes to at one tolerance.
type point struct {
	toleranceMm float64
	figures
}

// curve is a way of working at rising tolerances.
type curve []point

// at is what the curve comes to where its 95th percentile of spread is p95: between the widest tolerance that keeps within
// it and the next one, in proportion. Where even the widest that was tried leaves less spread, the widest counts, to the
// other's advantage; where none keeps within it there is nothing to compare, and all is NaN.
func (c curve) at(p95 float64) point {
	for i := len(c) - 1; i >= 0; i-- {
		switch {
		case c[i].p95 > p95:
		case i == len(c)-1:
			return c[i]
		default:
			return between(c[i], c[i+1], (p95-c[i].p95)/(c[i+1].p95-c[i].p95))
		}
	}
	return between(point{}, point{}, math.NaN())
}

// with is what the curve comes to at a tolerance within those that were tried.
func (c curve) with(toleranceMm float64) point {
	for i := 1; i < len(c); i++ {
		if a, b := c[i-1], c[i]; toleranceMm <= b.toleranceMm {
			return between(a, b, (toleranceMm-a.toleranceMm)/(b.toleranceMm-a.toleranceMm))
		}
	}
	return c[len(c)-1]
}

// between is a share of the way from a to b.
func between(a, b point, share float64) point {
	mix := func(x, y float64) float64 { return x + share*(y-x) }
	return point{mix(a.toleranceMm, b.toleranceMm), figures{
		mix(a.readings, b.readings), mix(a.moves, b.moves), mix(a.touched, b.touched), mix(a.minutes, b.minutes),
		mix(a.median, b.median), mix(a.p95, b.p95), mix(a.most, b.most),
		mix(a.even, b.even), mix(a.wrong, b.wrong), mix(a.excepted, b.excepted),
	}}
}

// worst is the largest share of rows wrongly called even.
func (c curve) worst() float64 {
	worst := 0.0
	for _, p := range c {
		worst = max(worst, p.wrong)
	}
	return worst
}
