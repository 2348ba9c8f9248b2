package dig

import (
	"math"

	"rowdatum/server/leveling/estimate"
)

// Anova is a one-way analysis of variance.
type Anova struct {
	BetweenDegrees int     `json:"betweenDegrees,omitzero"`
	WithinDegrees  int     `json:"withinDegrees,omitzero"`
	BetweenSquares float64 `json:"betweenSquares,omitzero"` // sum of squares
	WithinSquares  float64 `json:"withinSquares,omitzero"`
	F              float64 `json:"f,omitzero"` // 0 where nothing differs; 1e12 at most
	P              float64 `json:"p,omitzero"` // chance of such an F were all groups alike
}

// BetweenMean is the mean square between groups.
func (a Anova) BetweenMean() float64 { return a.BetweenSquares / float64(a.BetweenDegrees) }

// WithinMean is the mean square within groups.
func (a Anova) WithinMean() float64 { return a.WithinSquares / float64(a.WithinDegrees) }

// RSquared is the share of the squares that lies between groups.
func (a Anova) RSquared() float64 { return a.BetweenSquares / (a.BetweenSquares + a.WithinSquares) }

// OneWay analyzes two groups or more, none empty, at least one of two values or more. The first value is
// taken off all, which costs no digit of values that share their leading ones, and every mean is refined by
// what its deviations leave.
func OneWay(groups [][]float64) Anova {
	first := groups[0][0]
	means, sizes := make([]float64, len(groups)), make([]float64, len(groups))
	shifted := make([][]float64, len(groups))
	var n float64
	var total sum
	for i, g := range groups {
		shifted[i] = make([]float64, len(g))
		for j, y := range g {
			shifted[i][j] = y - first
			total.add(y - first)
		}
		means[i], sizes[i] = estimate.Mean(shifted[i]), float64(len(g))
		n += sizes[i]
	}
	grand := total.value() / n
	var between, within sum
	for i, g := range shifted {
		between.add(sizes[i] * (means[i] - grand) * (means[i] - grand))
		for _, y := range g {
			within.add((y - means[i]) * (y - means[i]))
		}
	}
	a := Anova{
		BetweenDegrees: len(groups) - 1, WithinDegrees: int(n) - len(groups),
		BetweenSquares: between.value(), WithinSquares: within.value(),
	}
	a.F = ratio(a.BetweenMean(), a.WithinMean())
	a.P = estimate.FisherTail(a.F, float64(a.BetweenDegrees), float64(a.WithinDegrees))
	return a
}

// mostF stands for all larger ones, so that figures stay finite where seeds of a row do not differ at all.
const mostF = 1e12

func ratio(a, b float64) float64 {
	switch {
	case a == 0:
		return 0
	case b == 0:
		return mostF
	}
	return min(mostF, a/b)
}

// sum is a running sum with what rounding lost (Neumaier).
type sum struct{ total, lost float64 }

func (s *sum) add(x float64) {
	t := s.total + x
	if math.Abs(s.total) >= math.Abs(x) {
		s.lost += (s.total - t) + x
	} else {
		s.lost += (x - t) + s.total
	}
	s.total = t
}

func (s *sum) value() float64 { return s.total + s.lost }
