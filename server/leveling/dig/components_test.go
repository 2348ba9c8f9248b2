package dig

import (
	"math"
	"math/rand/v2"
	"testing"
)

// Where all rows scatter alike, the variances of the estimates are those of Searle for unbalanced groups (Searle,
// Casella & McCulloch, Variance Components, 1992: from memory).
func TestVariancesAreSearles(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 1))
	for range 2000 {
		var rows []component
		var n, squares, cubes float64
		w := 0.1 + rng.Float64()
		for range 2 + rng.IntN(20) {
			k := float64(1 + rng.IntN(9))
			rows = append(rows, component{mean: 50 + 2*rng.NormFloat64(), seeds: k, scatter: w})
			n, squares, cubes = n+k, squares+k*k, cubes+k*k*k
		}
		m := float64(len(rows))
		degrees, effective := n-m+1, n-squares/n
		c := componentsOf(rows, w, degrees)
		b, spread := c.between, squares-2*cubes/n+squares*squares/(n*n)
		betweenVar := 2 / (effective * effective) * ((m-1)*(m-1+degrees)/degrees*w*w + 2*effective*w*b + spread*b*b)
		cov := -(m - 1) / effective * 2 * w / degrees
		if math.Abs(c.betweenVar-betweenVar) > 1e-9*betweenVar || math.Abs(c.cov-cov) > 1e-9*math.Abs(cov) {
			t.Fatalf("%v: variance %v, want %v; covariance %v, want %v", rows, c.betweenVar, betweenVar, c.cov, cov)
		}
	}
}
