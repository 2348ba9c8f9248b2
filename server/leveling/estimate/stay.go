package estimate

import (
	"math"

	"rowdatum/server/leveling"
)

// Stay estimates a row from the readings of one stay, at least one: their mean, with the fixture's
// uncertainty for so many readings. The scale is taken as nominal; ScaleSd is left to the caller.
func Stay(f leveling.Fixture, readingsMm []float64) Estimate {
	e := Estimate{DepthMm: Mean(readingsMm), Scale: 1, Readings: len(readingsMm), Budget: budget(f)}
	e.UncertaintyMm = e.Budget.sd(e.Readings)
	return e
}

// Uncertainty is the standard uncertainty of a row's depth from k readings of one stay, k at least 1.
func Uncertainty(f leveling.Fixture, k int) float64 { return budget(f).sd(k) }

// UncertaintyAfter is what UncertaintyMm becomes after n more readings of the same stay.
func (e Estimate) UncertaintyAfter(n int) float64 {
	if n <= 0 || e.Budget.PerReadingMm2 == 0 {
		return e.UncertaintyMm
	}
	return e.Budget.sd(e.Readings + n)
}

// Least is what UncertaintyMm tends to with ever more readings of the same stay.
func (e Estimate) Least() float64 {
	if e.Budget.PerReadingMm2 == 0 {
		return e.UncertaintyMm
	}
	b := e.Budget
	b.PerReadingMm2 = 0
	return b.sd(1)
}

// budget splits a fixture's variance. A ruling adds q²/12 (uniform over one ruling: JCGM 100:2008,
// 4.3.7 and F.2.2.1); part of that stays, because the true depth keeps its place between two rulings.
func budget(f leveling.Fixture) Budget {
	lasting := rulingVar(f.ResolutionMm, f.RepeatabilityMm)
	each := f.RepeatabilityMm*f.RepeatabilityMm + f.ResolutionMm*f.ResolutionMm/12 - lasting
	return Budget{PerReadingMm2: max(0, each), LastingMm2: lasting, FloorMm2: f.FloorMm * f.FloorMm}
}

// VarianceMoved is the variance of the depth after a move of nominal effect effectMm that seats with a standard
// deviation, before it is read there; the floor's is included.
func (e *Estimate) VarianceMoved(effectMm, seatingMm float64) float64 {
	const most = 1e12 // mm²: off every planter, and finite
	u, s := e.UncertaintyMm, e.ScaleSd*effectMm
	v := float64(u*u) + float64(2*effectMm*e.CovarianceMm) + float64(s*s) + float64(seatingMm*seatingMm)
	if !(v < most) {
		return most
	}
	return max(0, v)
}

// MostReadings is how often a row is read in one stay at most; what it does not say by then it never will.
const MostReadings = 20

// UncertaintyMoved is the standard uncertainty of the depth after a move of nominal effect effectMm that seats
// with a standard deviation, once it was read there: one reading is taken in beside what was foretold, but the
// ruling's lasting part stays whole. That is more cautious than what a Track makes of the reading, because with
// the tighter figure moves are chosen that seldom prove.
func (e *Estimate) UncertaintyMoved(effectMm, seatingMm float64) float64 {
	b := &e.Budget
	foretold := max(0, e.VarianceMoved(effectMm, seatingMm)-b.FloorMm2-b.LastingMm2)
	v, either := b.LastingMm2+b.FloorMm2, foretold+b.PerReadingMm2
	if either > 0 {
		v += float64(foretold * (b.PerReadingMm2 / either))
	}
	return math.Sqrt(v)
}

func (b Budget) sd(k int) float64 {
	each := b.PerReadingMm2
	if b.Uneven > 0 {
		each = float64(each * b.Uneven)
	}
	v := each/float64(k) + b.LastingMm2
	if b.Prior > 0 {
		v /= 1 + float64(b.Prior*v)
	}
	return math.Sqrt(v + b.FloorMm2)
}

// rulingVar is the part of a ruling's variance that no number of readings removes, for a ruling q under
// Gaussian scatter u (theory of quantization with Gaussian dither):
//
//	q²/(2π²)·S(a), S(a) = Σ_{m≥1} exp(−a·m²)/m², a = (2π·u/q)²
//
// Below a = 1/4 the sum converges slowly; there S(a) = π²/6 − √(πa) + a/2 but for terms of the size of
// exp(−π²/a), less than 1e-17 (Poisson's summation of dS/da).
func rulingVar(q, u float64) float64 {
	if q == 0 {
		return 0
	}
	a := 2 * math.Pi * u / q
	a *= a
	var sum float64
	if a < 0.25 {
		sum = math.Pi*math.Pi/6 - math.Sqrt(math.Pi*a) + a/2
	} else {
		for m := 1.0; a*m*m < 40; m++ { // exp(-40) is below the last digit of the sum
			sum += math.Exp(-a*m*m) / (m * m)
		}
	}
	return q * q / (2 * math.Pi * math.Pi) * sum
}

// BeforeRuling is the scatter of repeated readings before a ruling rounds them, where that of the ruled
// readings is sdMm: what a fixture's repeatability is.
func BeforeRuling(resolutionMm, sdMm float64) float64 { return unruled(resolutionMm, sdMm*sdMm) }
