package estimate

import "math"

// Mean is the mean of xs, 0 of none. The first value is taken off before summing and what is left of
// the deviations is added back, so that large common offsets cost no digits.
func Mean(xs []float64) float64 {
	if len(xs) == 0 {
		return 0
	}
	n := float64(len(xs))
	mean := xs[0] + deviations(xs, xs[0])/n
	return mean + deviations(xs, mean)/n
}

// SD is the sample standard deviation of xs (n - 1), 0 of fewer than two.
func SD(xs []float64) float64 {
	if len(xs) < 2 {
		return 0
	}
	mean, squares := Mean(xs), 0.0
	for _, x := range xs {
		squares += (x - mean) * (x - mean)
	}
	left := deviations(xs, mean) // 0 but for rounding of the mean
	n := float64(len(xs))
	return math.Sqrt(max(0, squares-left*left/n) / (n - 1))
}

func deviations(xs []float64, from float64) float64 {
	var sum float64
	for _, x := range xs {
		sum += x - from
	}
	return sum
}
