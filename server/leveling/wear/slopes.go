package wear

import (
	"maps"
	"math"
	"slices"
)

// slopes are the slopes of chains, known but for one that all have in common.
type slopes struct {
	chains   []*chain
	middle   []float64   // weights of the middle third
	at       []float64   // mm a hectare
	cov      [][]float64 // of at, where the readings scatter as their uncertainties and the component say
	scatter  float64     // sd of the readings over what their uncertainties alone say
	reseats  float64     // the component row by visit, mm²
	squares  float64     // of the residuals, the component counted
	variance float64     // how much of cov there is
	degrees  float64
}

// zeros are the visits whose fixture had one zero, and how well it was the same, mm.
type zeros map[int]float64

// fitSlopes solves for all chains together: depth = level + slope·hectares + shift of the visit + what the row
// does at that visit alone + scatter. It returns nil where the chains are too few, or share too few visits to be
// compared.
//
// The component row by visit is the least at which the residuals are no larger than foretold (Mandel and Paule's
// estimate); its degrees of freedom are those of the residuals, while the readings' own uncertainties are worth
// scatterDegrees more.
func fitSlopes(chains []*chain) *slopes {
	if len(chains) < FewestRows {
		return nil
	}
	f := solveChains(chains, 0, nil)
	if f == nil {
		return nil
	}
	degrees, residual := float64(f.degrees), f.squares
	scatter := math.Sqrt((scatterDegrees + residual) / (scatterDegrees + degrees))
	variance, reseats := scatter*scatter, 0.0
	if residual > degrees {
		variance = 1
		reseats = component(chains, f)
		f = solveChains(chains, reseats, nil)
	}
	s := f.slopes()
	s.scatter, s.reseats, s.variance = scatter, reseats, variance
	share := ownShare(chains, reseats)
	s.degrees = degrees + scatterDegrees*share*share
	s.center()
	return s
}

// component is the variance row by visit at which the residuals come to what is foretold, mm².
func component(chains []*chain, f *solved) float64 {
	low, high := 0.0, 1e-6
	for f.squares > float64(f.degrees) && high < 1e6 {
		low, high = high, 4*high
		f = solveChains(chains, high, nil)
	}
	for range 40 {
		half := (low + high) / 2
		if f := solveChains(chains, half, nil); f.squares > float64(f.degrees) {
			low = half
		} else {
			high = half
		}
	}
	return high
}

// ownShare is how much of the points' variance is their readings' own.
func ownShare(chains []*chain, reseats float64) float64 {
	own, points := 0.0, 0.0
	for _, c := range chains {
		for _, p := range c.points {
			v := max(leastMm*leastMm, p.UncertaintyMm*p.UncertaintyMm)
			own, points = own+v/(v+reseats), points+1
		}
	}
	return own / points
}

// solved are chains brought to the shifts that they have in common.
type solved struct {
	fit
	chains []*chain
	last   [][]float64 // of each chain r, z, then s
	reach  float64
}

// solveChains solves for the visits' shifts; nil: some shift depends on the others. Each chain is first brought to
// triangular form by itself, its slope last; what is left below its triangle tells of the shifts alone. Then, with
// the shifts c, a slope is (z − s·c)/r by the last line of its triangle.
//
// Without zeros shifts are known but for a constant, which the levels take up, and for a part in proportion to the
// hectares, which all slopes have in common: those of the first and the last visit are held at 0. With zeros every
// visit has a shift, that of a visit of zeros 0 as well as its fixture's zero is known.
func solveChains(chains []*chain, reseats float64, fixed zeros) *solved {
	free, reach := freeVisits(chains, fixed == nil)
	f := &solved{chains: chains, reach: reach}
	var shifts [][]float64
	var left []float64
	for i, c := range chains {
		c.index = i
		t := c.triangle(free, reach, reseats)
		n := len(t.r)
		f.last = append(f.last, append([]float64{t.r[n-1][n-1]}, t.sides[n-1]...))
		for _, row := range t.sides[n:] {
			left, shifts = append(left, row[0]), append(shifts, row[1:])
		}
	}
	for _, v := range slices.Sorted(maps.Keys(fixed)) {
		if at, ok := free[v]; ok {
			line := make([]float64, len(free))
			line[at] = 1 / fixed[v]
			left, shifts = append(left, 0), append(shifts, line)
		}
	}
	if len(left) < len(free) {
		return nil
	}
	f.fit = leastSquares(shifts, left)
	if f.degrees > len(left)-len(free) { // rows without a visit in common
		return nil
	}
	return f
}

// slopes are the slopes that the shifts leave.
func (f *solved) slopes() *slopes {
	s := &slopes{chains: f.chains, squares: f.squares, cov: make([][]float64, len(f.chains))}
	for i, row := range f.last {
		s.at = append(s.at, (row[1]-dot(row[2:], f.coefficients))/row[0]/f.reach)
		s.cov[i] = make([]float64, len(f.chains))
		for j, other := range f.last {
			s.cov[i][j] = bilinear(row[2:], f.inverse, other[2:]) / (row[0] * other[0] * f.reach * f.reach)
		}
		s.cov[i][i] += 1 / (row[0] * row[0] * f.reach * f.reach)
	}
	return s
}

// freeVisits numbers the visits of the chains, where only inner without the first and the last, and tells the most
// hectares.
func freeVisits(chains []*chain, inner bool) (free map[int]int, reach float64) {
	var visits []int
	for _, c := range chains {
		visits = append(visits, c.visits...)
		for _, p := range c.points {
			reach = max(reach, p.hectares)
		}
	}
	slices.Sort(visits)
	visits = slices.Compact(visits) // three at least, or no chain were long enough
	if inner {
		visits = visits[1 : len(visits)-1]
	}
	free = map[int]int{}
	for i, v := range visits {
		free[v] = i
	}
	return free, reach
}

// leastMm is how well anything is known at best, mm.
const leastMm = 0.001

// triangle is the chain by itself, every line over its uncertainty: levels, then the slope on hectares over
// reach; right sides are depth, then the shifts of the free visits.
func (c *chain) triangle(free map[int]int, reach, reseats float64) triangle {
	var x, sides [][]float64
	for _, p := range c.points {
		w := 1 / math.Sqrt(max(leastMm*leastMm, p.UncertaintyMm*p.UncertaintyMm)+reseats)
		line, side := make([]float64, c.levels+1), make([]float64, 1+len(free))
		line[p.level], line[c.levels] = w, w*p.hectares/reach
		side[0] = w * p.DepthMm
		if i, ok := free[p.visit]; ok {
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
