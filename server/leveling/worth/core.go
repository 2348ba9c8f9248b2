package worth

import (
	"cmp"
	"math"
	"slices"
)

// What is expected of a row that is unlike the others, worn or bent; ours, no source.
const (
	unlike   = 0.05 // how many of 100 rows are so, over 100
	unlikeMm = 25.4 // within which depths they lie
)

// core tells which rows are alike. A few rows that are far from all others would make the population as
// wide as they are far, and the noise of all others would count twice again. The rows that are alike are the
// neighbours by depth, half of all and four at least, for which the depths of all rows are likeliest: those
// of the core Gaussian around their mean, those of the others anywhere.
func core(rows []Row) []bool {
	byDepth := make([]int, len(rows))
	own := 0.0
	for i := range rows {
		byDepth[i] = i
		own += rows[i].First.VarianceMm2 / float64(len(rows))
	}
	slices.SortFunc(byDepth, func(a, b int) int { return cmp.Or(cmp.Compare(rows[a].First.Mm, rows[b].First.Mm), a-b) })
	middle := rows[byDepth[len(rows)/2]].First.Mm
	sums, squares := make([]float64, len(rows)+1), make([]float64, len(rows)+1)
	for k, i := range byDepth {
		x := rows[i].First.Mm - middle
		sums[k+1], squares[k+1] = sums[k]+x, squares[k]+float64(x*x)
	}
	best, from, to := math.Inf(1), 0, len(rows)
	for m := len(rows); m >= max(fewest, (len(rows)+1)/2); m-- {
		for k := 0; k+m <= len(rows); k++ {
			sum := sums[k+m] - sums[k]
			around := max(0, squares[k+m]-squares[k]-float64(sum*sum)/float64(m))
			if c := cost(around, own, m, len(rows)-m); c < best {
				best, from, to = c, k, k+m
			}
		}
	}
	in := make([]bool, len(rows))
	for _, i := range byDepth[from:to] {
		in[i] = true
	}
	return in
}

// cost is the negative logarithm of the likelihood of m rows with a sum of squares around their mean, and
// of others that are unlike them.
func cost(around, own float64, m, others int) float64 {
	variance := max(around/float64(m-1), own, leastVariance)
	return float64(m)/2*math.Log(2*math.Pi*variance) + around/(2*variance) + float64(others)*math.Log(unlikeMm/unlike)
}
