package estimate

import (
	"math"
	"testing"
)

// TestChiSquareQuantile compares with quantiles by R 4.2.2 (relative 1e-8 claimed), and goes there and back.
func TestChiSquareQuantile(t *testing.T) {
	for _, c := range []struct{ p, nu, want float64 }{
		{0.025, 5, 0.831211613487}, {0.975, 5, 12.83250199403}, {0.025, 24, 12.401150217444}, {0.975, 24, 39.364077026604},
		{0.025, 78, 55.465624978873}, {0.975, 78, 104.315937838519},
	} {
		if got := ChiSquareQuantile(c.p, c.nu); math.Abs(got/c.want-1) > 1e-10 {
			t.Errorf("quantile %v of %v degrees is %.12f, want %.12f", c.p, c.nu, got, c.want)
		}
	}
	for nu := 1.0; nu < 200; nu++ {
		for _, p := range []float64{1e-9, 0.001, 1.0 / 32, 0.1, 0.5, 0.9, 31.0 / 32, 0.999} {
			if x := ChiSquareQuantile(p, nu); math.Abs(ChiSquareCDF(x, nu)/p-1) > 1e-9 {
				t.Errorf("quantile %v of %v degrees is %v, which has %v below it", p, nu, x, ChiSquareCDF(x, nu))
			}
		}
	}
	// With two degrees of freedom it is exponential.
	for _, p := range []float64{1e-6, 0.25, 0.99} {
		if got, want := ChiSquareQuantile(p, 2), -2*math.Log1p(-p); math.Abs(got/want-1) > 1e-12 {
			t.Errorf("quantile %v of 2 degrees is %v, want %v", p, got, want)
		}
	}
}
