package wear

import "slices"

// slopes are the slopes of chains, known but for one that all have in common.
type slopes struct {
	chains   []*chain
	at       []float64   // mm a hectare
	cov      [][]float64 // of at, where the readings scatter as their uncertainties say
	variance float64     // how much more they scatter
	degrees  float64
}

// fitSlopes solves for all chains together: depth = level + slope·hectares + shift of the visit + scatter. It
// returns nil where the chains are too few, or share too few visits to be compared.
//
// Each chain is first brought to triangular form by itself, its slope last; what is left below its triangle
// tells of the visits' shifts alone. Then, with the shifts c, a slope is (z − s·c)/r by the last line of its
// triangle. Shifts are known but for a constant, which the levels take up, and for a part in proportion to
// the hectares, which all slopes have in common: those of the first and the last visit are held at 0.
func fitSlopes(chains []*chain) *slopes {
	if len(chains) < FewestRows {
		return nil
	}
	inner, reach := innerVisits(chains)
	var shifts [][]float64
	var left []float64
	last := make([][]float64, len(chains)) // r, z, then s
	for i, c := range chains {
		c.index = i
		t := c.triangle(inner, reach)
		n := len(t.r)
		last[i] = append([]float64{t.r[n-1][n-1]}, t.sides[n-1]...)
		for _, row := range t.sides[n:] {
			left, shifts = append(left, row[0]), append(shifts, row[1:])
		}
	}
	if len(left) < len(inner) {
		return nil
	}
	f := leastSquares(shifts, left)
	if f.degrees > len(left)-len(inner) { // some shift depends on the others: rows without a visit in common
		return nil
	}
	s := &slopes{chains: chains, cov: make([][]float64, len(chains))}
	s.degrees = scatterDegrees + float64(f.degrees)
	s.variance = (scatterDegrees + f.squares) / s.degrees
	for i, row := range last {
		s.at = append(s.at, (row[1]-dot(row[2:], f.coefficients))/row[0]/reach)
		s.cov[i] = make([]float64, len(chains))
		for j, other := range last {
			s.cov[i][j] = bilinear(row[2:], f.inverse, other[2:]) / (row[0] * other[0] * reach * reach)
		}
		s.cov[i][i] += 1 / (row[0] * row[0] * reach * reach)
	}
	s.center()
	return s
}

// innerVisits numbers the visits of the chains but for the first and the last, and tells the most hectares.
func innerVisits(chains []*chain) (inner map[int]int, reach float64) {
	var visits []int
	for _, c := range chains {
		visits = append(visits, c.visits...)
		for _, p := range c.points {
			reach = max(reach, p.hectares)
		}
	}
	slices.Sort(visits)
	visits = slices.Compact(visits) // three at least, or no chain were long enough
	inner = map[int]int{}
	for i, v := range visits[1 : len(visits)-1] {
		inner[v] = i
	}
	return inner, reach
}

// leastMm is how well anything is known at best, mm.
const leastMm = 0.001

// triangle is the chain by itself, every line over its uncertainty: levels, then the slope on hectares over
// reach; right sides are depth, then the shifts of the inner visits.
func (c *chain) triangle(inner map[int]int, reach float64) triangle {
	var x, sides [][]float64
	for _, p := range c.points {
		w := 1 / max(leastMm, p.UncertaintyMm)
		line, side := make([]float64, c.levels+1), make([]float64, 1+len(inner))
		line[p.level], line[c.levels] = w, w*p.hectares/reach
		side[0] = w * p.DepthMm
		if i, free := inner[p.visit]; free {
			side[1+i] = w
		}
		x, sides = append(x, line), append(sides, side)
	}
	return reflect(x, sides)
}

func dot(a, b []float64) (sum float64) {
	for i := range a {
		sum += a[i] * b[i]
	}
	return sum
}

// bilinear is aᵀ·m·b.
func bilinear(a []float64, m [][]float64, b []float64) (sum float64) {
	for i := range a {
		sum += a[i] * dot(m[i], b)
	}
	return sum
}
