package wear

import (
	"cmp"
	"math"
	"slices"

	"rowdatum/server/leveling/estimate"
)

// Since compares a row as found at the last visit with how the visit before left it, both in mm below the median
// of the rows that have both.
type Since struct {
	LeftMm   float64  `json:"leftMm,omitzero"`
	FoundMm  float64  `json:"foundMm,omitzero"`
	ChangeMm Interval `json:"changeMm,omitzero"`
}

// sinceLeft compares the last two visits, by row. reseats is the component row by visit, mm².
func sinceLeft(p Problem, reseats float64) map[int]*Since {
	out := map[int]*Since{}
	n := len(p.Visits)
	if n < 2 {
		return out
	}
	var pairs []pair
	for _, r := range p.Visits[n-1].Rows {
		for _, b := range p.Visits[n-2].Rows {
			if b.Row != r.Row {
				continue
			}
			left := b.Left
			if !b.Moved && !b.PartChanged {
				left = cmp.Or(b.Left, b.Found)
			}
			if left != nil && r.Found != nil {
				pairs = append(pairs, pair{r.Row, left, r.Found})
			}
		}
	}
	var lefts, founds []float64
	shared := 0.0
	for _, q := range pairs {
		lefts, founds = append(lefts, q.left.DepthMm), append(founds, q.found.DepthMm)
		shared += q.variance(reseats)
	}
	if len(pairs) < FewestRows {
		return out
	}
	shared *= math.Pi / 2 / float64(len(pairs)*len(pairs)) // of a median of normal depths
	z := estimate.NormalQuantile((1 + p.Confidence) / 2)
	for _, q := range pairs {
		s := &Since{LeftMm: q.left.DepthMm - median(lefts), FoundMm: q.found.DepthMm - median(founds)}
		at := s.FoundMm - s.LeftMm
		half := z * math.Sqrt(q.variance(reseats)+shared)
		s.ChangeMm = Interval{At: at, From: at - half, To: at + half}
		out[q.row] = s
	}
	return out
}

// pair is a row as left and as found again.
type pair struct {
	row         int
	left, found *Reading
}

func (q pair) variance(reseats float64) float64 {
	return q.left.UncertaintyMm*q.left.UncertaintyMm + q.found.UncertaintyMm*q.found.UncertaintyMm + 2*reseats
}

func median(xs []float64) float64 {
	xs = slices.Sorted(slices.Values(xs))
	n := len(xs)
	return (xs[(n-1)/2] + xs[n/2]) / 2
}
