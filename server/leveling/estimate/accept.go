package estimate

import "math"

// Chance is the probability that a row is within tol of a datum, where its estimate is delta from the
// datum with standard uncertainty u: P(|depth − T| ≤ tol), Gaussian.
func Chance(delta, u, tol float64) float64 {
	delta = math.Abs(delta)
	if u == 0 {
		if delta <= tol {
			return 1
		}
		return 0
	}
	if delta <= tol { // both misses are small numbers: nothing cancels
		return 1 - NormalCDF((delta-tol)/u) - NormalCDF(-(delta+tol)/u)
	}
	return NormalCDF((tol-delta)/u) - NormalCDF(-(delta+tol)/u)
}

// HalfWidth is how far a datum may be from an estimate of uncertainty u so that the row is still within
// tol with confidence c; false where even a datum at the estimate fails.
func HalfWidth(u, tol, c float64) (h float64, ok bool) { return NewAcceptance(tol, c).HalfWidth(u) }

// OffDistance is how far a datum must be from an estimate of uncertainty u so that the row is outside
// tol with confidence c; 0 where that is so at the estimate already.
func OffDistance(u, tol, c float64) float64 { return NewAcceptance(tol, c).OffDistance(u) }

// ProvableTolerance is the smallest tolerance that an estimate of uncertainty u can prove.
func ProvableTolerance(u, c float64) float64 { return u * -NormalQuantile((1-c)/2) }

// Accept says whether a row whose estimate is delta from the datum is even: within tol with
// confidence c.
func Accept(delta, u, tol, c float64) bool {
	h, ok := HalfWidth(u, tol, c)
	return ok && math.Abs(delta) <= h
}

// Acceptance is a tolerance and a confidence with what follows from them alone. It is the guarded
// acceptance of JCGM 106:2012 for a tolerance interval with two ends.
type Acceptance struct {
	tol, c   float64
	one, two float64 // Gaussian quantiles of confidence c: one-sided, two-sided
}

// NewAcceptance prepares for tolerance tol above 0 and confidence c, 0.5 ≤ c < 1.
func NewAcceptance(tol, c float64) Acceptance {
	return Acceptance{tol: tol, c: c, one: -NormalQuantile(1 - c), two: -NormalQuantile((1 - c) / 2)}
}

// ProvableTolerance is the package's function at this confidence.
func (a Acceptance) ProvableTolerance(u float64) float64 { return u * a.two }

// HalfWidth is the package's function at this tolerance and confidence.
func (a Acceptance) HalfWidth(u float64) (h float64, ok bool) {
	if u*a.two > a.tol {
		return 0, false
	}
	return a.distance(u, a.c, a.one), true
}

// OffDistance is the package's function at this tolerance and confidence.
func (a Acceptance) OffDistance(u float64) float64 {
	if Chance(0, u, a.tol) <= 1-a.c {
		return 0
	}
	return a.distance(u, 1-a.c, -a.one)
}

// distance solves P = p for the distance, where the chance at distance 0 is at least p; z is the
// Gaussian quantile of p. In units of u, with t = tol/u and y = t − distance/u, that is
//
//	Φ(y) − Φ(y − 2t) = p, z ≤ y ≤ t.
//
// Where t(t − z) > 20 the second tail is below e⁻⁴⁰ of the density at z, so y = z.
func (a Acceptance) distance(u, p, z float64) float64 {
	if a.tol*(a.tol-z*u) > 20*u*u {
		return a.tol - z*u
	}
	t := a.tol / u
	y, lo, hi := z, z, t
	for range 100 { // a bound only: Halley's steps take three or four, bisection at most 60
		miss, slope, bend := excess(y, t, p)
		if miss == 0 {
			break
		}
		if miss < 0 {
			lo = y
		} else {
			hi = y
		}
		newton := miss / slope
		next := y - newton/(1-newton*bend/(2*slope))
		if step := math.Abs(next - y); step < 1e-6 && step*math.Abs(bend) < 1e-6*slope {
			y = next // a step triples the digits where the slope is not small against the bend
			break
		}
		if !(next > lo && next < hi) {
			next = lo + (hi-lo)/2
		}
		if hi-lo <= 1e-15*t {
			break
		}
		y = next
	}
	return max(0, u*(t-y))
}

// excess is Φ(y) − Φ(y − 2t) − p with its first two derivatives, written with whichever tails are small.
func excess(y, t, p float64) (miss, slope, bend float64) {
	far := y - 2*t
	if p > 0.5 {
		miss = (1 - p) - NormalCDF(-y) - NormalCDF(far)
	} else {
		miss = NormalCDF(y) - NormalCDF(far) - p
	}
	near, end := normalDensity(y), normalDensity(far)
	return miss, near - end, far*end - y*near
}
