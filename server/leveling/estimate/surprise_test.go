package estimate

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"
)

func TestMedianDeviationIsTheSortedOnes(t *testing.T) {
	rng := rand.New(rand.NewPCG(5, 25))
	for range 5000 {
		xs := make([]float64, 1+rng.IntN(40))
		for i := range xs {
			xs[i] = 50 + 1.5875*float64(rng.IntN(9)) + float64(rng.IntN(2))*rng.NormFloat64()
		}
		median := Median(xs)
		deviations := make([]float64, len(xs))
		for i, x := range xs {
			deviations[i] = math.Abs(x - median)
		}
		if got, want := medianDeviation(xs, median), Median(deviations); got != want {
			t.Fatalf("%v: %v, want %v", slices.Clone(xs), got, want)
		}
	}
}
