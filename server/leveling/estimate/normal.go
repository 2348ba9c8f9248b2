package estimate

import "math"

// NormalCDF is the chance that a standard Gaussian is at most x.
func NormalCDF(x float64) float64 { return math.Erfc(-x/math.Sqrt2) / 2 }

// NormalQuantile is the x with NormalCDF(x) = p, 0 < p < 1.
func NormalQuantile(p float64) float64 {
	if p > 0.5 {
		return -NormalQuantile(1 - p)
	}
	// A rational first guess (Abramowitz and Stegun 26.2.22, within 0.003), then Halley's steps, each of
	// which triples the digits.
	t := math.Sqrt(-2 * math.Log(p))
	x := (2.30753+0.27061*t)/(1+0.99229*t+0.04481*t*t) - t
	for range 3 {
		step := (NormalCDF(x) - p) / normalDensity(x)
		x -= step / (1 + x*step/2)
	}
	return x
}

func normalDensity(x float64) float64 {
	return math.Exp(-x*x/2) / math.Sqrt(2*math.Pi)
}
