package estimate

import (
	"math"

	"rowdatum/server/leveling"
)

// When a fixture's stated repeatability is doubted; our choice, no source.
const (
	fewestDegrees = 6    // of repeated readings that can say something of it
	doubtChance   = 0.02 // that readings which scatter as stated are doubted
)

// Doubts says whether the pooled readings scatter more than the fixture's repeatability lets them, at 2 % and from 6
// degrees of freedom on. Their squares over what ruled readings scatter are χ² where the ruling is no wider than three
// times the scatter. Under a wider one most rows never leave their line of the ruling and a few change between two at
// every reading: there the squares' own variance gives the χ² its degrees of freedom (Satterthwaite).
func (p Pool) Doubts(f leveling.Fixture) bool {
	stated := budget(f).PerReadingMm2
	nu := float64(p.Degrees)
	if p.Degrees < fewestDegrees || stated <= 0 || !exceeds(p.SquaresMm2/stated, nu, nu) {
		return false
	}
	variance := p.squaresVariance(f) / (stated * stated)
	return exceeds(p.SquaresMm2/stated, nu, min(nu, 2*nu*nu/variance))
}

// Scatter is what the pooled readings alone scatter, before the ruling rounds them, mm; 0 of none.
func (p Pool) Scatter(f leveling.Fixture) float64 {
	if p.Degrees == 0 {
		return 0
	}
	return BeforeRuling(f.ResolutionMm, math.Sqrt(p.SquaresMm2/float64(p.Degrees)))
}

// exceeds says whether x, of a mean and as a multiple of χ² with nu degrees of freedom, is too large for chance.
func exceeds(x, mean, nu float64) bool {
	return x*nu/mean > ChiSquareQuantile(1-doubtChance, nu)
}

// squaresVariance is the variance of SquaresMm2 where readings scatter as stated and rows lie anywhere between two
// lines: for k readings of one place with variance v and fourth moment m there, (k − 1)²·(m/k − v²(k − 3)/(k(k − 1))),
// and (k − 1)² times the variance of v over the places.
func (p Pool) squaresVariance(f leveling.Fixture) float64 {
	const places = 64
	var v, vv, m float64 // means over the places
	for i := range places {
		v2, m4 := ruledMoments(f, f.ResolutionMm*(float64(i)+0.5)/places)
		v, vv, m = v+v2/places, vv+v2*v2/places, m+m4/places
	}
	nu := float64(p.Degrees)
	return m*(nu-p.shares) - vv*(nu-3*p.shares) + (vv-v*v)*p.together
}

// ruledMoments are the variance and the fourth central moment of readings that scatter about a depth between 0 and the
// ruling.
func ruledMoments(f leveling.Fixture, depth float64) (v, m float64) {
	q, u := f.ResolutionMm, f.RepeatabilityMm
	if q == 0 || u == 0 {
		return u * u, 3 * u * u * u * u
	}
	lines := math.Ceil(6*u/q) + 1
	chance := func(n float64) float64 { return NormalCDF(((n+0.5)*q-depth)/u) - NormalCDF(((n-0.5)*q-depth)/u) }
	mean := 0.0
	for n := -lines; n <= lines; n++ {
		mean += chance(n) * n * q
	}
	for n := -lines; n <= lines; n++ {
		square := (n*q - mean) * (n*q - mean)
		v, m = v+chance(n)*square, m+chance(n)*square*square
	}
	return v, m
}
