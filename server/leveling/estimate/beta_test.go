package estimate_test

import (
	"math"
	"testing"

	"gonum.org/v1/gonum/stat/distuv"

	"rowdatum/server/leveling/estimate"
)

// Against gonum's own beta, F and Student's t, over everything that an analysis of variance of a planter meets.
func TestDistributionsAgainstGonum(t *testing.T) {
	degrees := []float64{1, 2, 3, 4.5, 7, 11, 24, 60, 119, 1800, 18000}
	for _, a := range degrees {
		for _, b := range degrees {
			for _, x := range []float64{0.01, 0.2, 0.5, 1, 1.5, 3, 10, 60, 400} {
				want := distuv.F{D1: a, D2: b}.Survival(x)
				near(t, "F tail", estimate.FisherTail(x, a, b), want, 1e-9*want+1e-14)
			}
			for _, x := range []float64{0.001, 0.1, 0.5, 0.9, 0.999} {
				want := distuv.Beta{Alpha: a, Beta: b}.CDF(x)
				near(t, "beta", estimate.Beta(x, a, b), want, 1e-9*want+1e-14)
			}
		}
		for _, p := range []float64{0.6, 0.9, 0.95, 0.999, 0.999999} {
			q := estimate.StudentQuantile(p, a)
			relative(t, "quantile and tail", estimate.StudentTail(q, a), 2*(1-p), 1e-11)
			relative(t, "quantile", q, distuv.StudentsT{Sigma: 1, Nu: a}.Quantile(p), 1e-7)
		}
	}
}

// F quantiles: own computation with R 4.2.2.
func TestFisherTail(t *testing.T) {
	for _, c := range []struct{ f, d1, d2, tail float64 }{
		{4.96460274373, 1, 10, 0.05}, {4.10282101513, 2, 10, 0.05}, {2.21630864556, 11, 24, 0.05},
		{1.99198950522, 15, 32, 0.05}, {3.0943674306, 11, 24, 0.01},
	} {
		relative(t, "F tail", estimate.FisherTail(c.f, c.d1, c.d2), c.tail, 1e-9)
	}
	near(t, "F tail of 0", estimate.FisherTail(0, 3, 4), 1, 0)
	near(t, "F tail of an exact fit", estimate.FisherTail(math.Inf(1), 3, 4), 0, 0)
	near(t, "beta at 1", estimate.Beta(1, 3, 4), 1, 0)
	near(t, "Gaussian tail", estimate.StudentTail(1.9599639845401, math.Inf(1)), 0.05, 1e-12)
}
