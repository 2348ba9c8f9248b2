package estimate

import (
	"math"

	"gonum.org/v1/gonum/mathext"
)

// StudentQuantile is the x below which a share p of Student's t with nu degrees of freedom lies, 0 < p
// < 1; nu above 0, infinite for a Gaussian.
func StudentQuantile(p, nu float64) float64 {
	switch {
	case math.IsInf(nu, 1):
		return NormalQuantile(p)
	case p < 0.5:
		return -StudentQuantile(1-p, nu)
	}
	// ν/(ν + t²) has a beta distribution whose lower tail is both of t's upper tails.
	y := mathext.InvRegIncBeta(nu/2, 0.5, 2*(1-p))
	return math.Sqrt(nu * (1 - y) / y)
}

// Inflated is u as it enters a Gaussian interval of confidence c when it was itself estimated with nu
// degrees of freedom: u·t/z, two-sided.
func Inflated(u, nu, c float64) float64 {
	p := (1 + c) / 2
	return u * StudentQuantile(p, nu) / NormalQuantile(p)
}

// EffectiveDegrees is the Welch–Satterthwaite number of degrees of freedom of the root sum of squares
// of us, each estimated with its own nus (JCGM 100:2008, G.4.1); infinite where nothing was estimated.
func EffectiveDegrees(us, nus []float64) float64 {
	var square, sum float64
	for i, u := range us {
		square += u * u
		sum += u * u * u * u / nus[i]
	}
	if sum == 0 {
		return math.Inf(1)
	}
	return square * square / sum
}
