package worth

import (
	"cmp"
	"math"
	"slices"
)

// apart is the negative logarithm of the likelihood of a row, or of a group of rows, that is unlike the others, worn or
// bent: 5 of 100 rows are, and lie anywhere within 25.4 mm, log(25.4/0.05); ours, no source.
const apart = 6.230481447578482

// Groups of rows that are alike, and rows that stand each for itself.
const (
	alone      = -1
	mostGroups = 3 // those that are alike, and what lies above and below them
)

// groupsOf tells which rows are alike: the group of each, or that it stands alone. A few rows that are far from all others
// would make the population as wide as they are far, and the noise of all others would count twice again. The rows that
// are alike, group 0, are the neighbours by depth, half of all and four at least, for which the depths of all rows are
// likeliest: theirs Gaussian around their mean, those of the others anywhere. What lies on one side of them may be a group
// of its own, such as edge rows that have all worn alike: it lies anywhere as a whole.
func groupsOf(rows []Row) (groups []int8, used int) {
	d := sortedDepths(rows)
	n := len(rows)
	below, above := make([]float64, n+1), make([]float64, n+1) // of so many rows from one end
	for m := range n + 1 {
		below[m], above[m] = d.side(0, m), d.side(n-m, n)
	}
	best, from, to := math.Inf(1), 0, n
	for m := n; m >= max(fewest, (n+1)/2); m-- {
		for k := 0; k+m <= n; k++ {
			if c := below[k] + d.alike(k, k+m) + above[n-k-m]; c < best {
				best, from, to = c, k, k+m
			}
		}
	}
	groups, used = make([]int8, n), 1
	for _, side := range [2][2]int{{0, from}, {to, n}} {
		group := alone
		if d.isGroup(side[0], side[1]) {
			group, used = used, used+1
		}
		for _, i := range d.order[side[0]:side[1]] {
			groups[i] = int8(group)
		}
	}
	return groups, used
}

// depths are rows by depth.
type depths struct {
	order         []int     // indices of the rows
	sums, squares []float64 // of depths less the middle one, of the first so many
	own           float64   // mean variance of the readings
}

func sortedDepths(rows []Row) depths {
	d := depths{make([]int, len(rows)), make([]float64, len(rows)+1), make([]float64, len(rows)+1), 0}
	for i := range rows {
		d.order[i] = i
		d.own += rows[i].First.VarianceMm2 / float64(len(rows))
	}
	slices.SortFunc(d.order, func(a, b int) int { return cmp.Or(cmp.Compare(rows[a].First.Mm, rows[b].First.Mm), a-b) })
	middle := rows[d.order[len(rows)/2]].First.Mm
	for k, i := range d.order {
		x := rows[i].First.Mm - middle
		d.sums[k+1], d.squares[k+1] = d.sums[k]+x, d.squares[k]+float64(x*x)
	}
	return d
}

// alike is the negative logarithm of the likelihood of the k-th to the l-th row, if they are alike and each is of their
// group as often as its share of all rows: without that, one group would fall into two halves.
func (d *depths) alike(k, l int) float64 {
	m, sum := float64(l-k), d.sums[l]-d.sums[k]
	around := max(0, d.squares[l]-d.squares[k]-float64(sum*sum)/m)
	variance := max(around/(m-1), d.own, leastVariance)
	return m/2*math.Log(2*math.Pi*variance) + around/(2*variance) + m*math.Log(float64(len(d.order))/m)
}

// side is that of rows on one side of those that are alike.
func (d *depths) side(k, l int) float64 {
	if d.isGroup(k, l) {
		return apart + d.alike(k, l)
	}
	return apart * float64(l-k)
}

// isGroup says whether rows on one side of those that are alike are more likely a group of their own than each anywhere.
func (d *depths) isGroup(k, l int) bool {
	return l-k >= fewest && apart+d.alike(k, l) < apart*float64(l-k)
}
