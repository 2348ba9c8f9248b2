package estimate

import "math"

// ChiSquareCDF is the chance that χ² with nu degrees of freedom is at most x: the regularised incomplete
// gamma function P(nu/2, x/2).
func ChiSquareCDF(x, nu float64) float64 {
	logGamma, _ := math.Lgamma(nu / 2)
	return lowerGamma(nu/2, x/2, logGamma)
}

// lowerGamma is P(a, x), where logGamma is ln Γ(a).
func lowerGamma(a, x, logGamma float64) float64 {
	if x <= 0 {
		return 0
	}
	front := math.Exp(a*math.Log(x) - x - logGamma)
	if x < a+1 {
		return front * gammaSeries(a, x)
	}
	return 1 - front*gammaFraction(a, x)
}

// gammaSeries is P(a, x) over its front, xᵃe⁻ˣ/Γ(a), by its power series (Abramowitz and Stegun 6.5.29).
func gammaSeries(a, x float64) float64 {
	term := 1 / a
	sum := term
	for n := 1.0; n < 10000 && term > sum*1e-17; n++ {
		term *= x / (a + n)
		sum += term
	}
	return sum
}

// gammaFraction is 1 − P(a, x) over the same front, by its continued fraction (Abramowitz and Stegun
// 6.5.31) as Lentz sums it.
func gammaFraction(a, x float64) float64 {
	const tiny = 1e-300
	b := x + 1 - a
	c, d := 1/tiny, 1/b
	h := d
	for n := 1.0; n < 10000; n++ {
		an := -n * (n - a)
		b += 2
		d, c = an*d+b, b+an/c
		if math.Abs(d) < tiny {
			d = tiny
		}
		if math.Abs(c) < tiny {
			c = tiny
		}
		d = 1 / d
		h *= d * c
		if math.Abs(d*c-1) < 1e-16 {
			break
		}
	}
	return h
}

// ChiSquareQuantile is the x with ChiSquareCDF(x, nu) = p, 0 < p < 1.
func ChiSquareQuantile(p, nu float64) float64 {
	a := nu / 2
	logGamma, _ := math.Lgamma(a)
	// The cube of Wilson and Hilferty (1931) as a first guess; near 0, where it fails, the first term of the
	// series.
	w := 1 - 2/(9*nu) + NormalQuantile(p)*math.Sqrt(2/(9*nu))
	x := nu * w * w * w
	if x <= nu*0.01 || w <= 0 {
		x = 2 * math.Exp((math.Log(p*a)+logGamma)/a)
	}
	for range 50 { // a bound only: three or four steps do
		density := math.Exp((a-1)*math.Log(x/2)-x/2-logGamma) / 2
		newton := (lowerGamma(a, x/2, logGamma) - p) / density
		bend := (a-1)/x - 0.5
		step := newton / (1 - max(-0.5, min(0.5, newton*bend/2)))
		next := max(x-step, x/4)
		done := math.Abs(next-x) <= 1e-6*x // a step triples the digits
		if x = next; done {
			break
		}
	}
	return x
}
