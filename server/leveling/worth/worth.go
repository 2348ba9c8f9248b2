package worth

import (
	"math"

	"rowdatum/server/leveling/estimate"
)

// Depth is what is known of a depth: a Gaussian.
type Depth struct {
	Mm          float64
	VarianceMm2 float64 // 0 or more
}

// Row is what is known of one row: the depth it had at first, before any move, by all that was read of it
// since, and the depth it has now, or is expected to have.
type Row struct {
	First, Now Depth
	// CovarianceMm2 is that of First and Now: the variance itself while the row has not been moved.
	CovarianceMm2 float64
	// Aside says that the row is of the planter, but that nothing is said of it.
	Aside bool
	// Unclaimed says that nobody claims the row to be within tolerance: it counts in the spread only.
	Unclaimed bool
}

// Target is what the rows' depths are held against.
type Target struct {
	DatumMm           float64
	ToleranceMm       float64 // either side
	ZeroUncertaintyMm float64 // what is not known of the datum itself, for all rows alike
	Matched           int     // the row that is the datum, as an index; -1 where none is
}

// Spread is the largest minus the smallest true depth.
type Spread struct {
	MeanMm float64 `json:"meanMm"`
	FromMm float64 `json:"fromMm"` // the central 90 %
	ToMm   float64 `json:"toMm"`
}

// Worth is what can be said of all rows together.
type Worth struct {
	Chance float64 // that all rows lie within tolerance of the target at once, to 0.001
	Spread Spread  // of the true depths, to 0.01 mm
}

// fewest is how many rows say something of the population they are from.
const fewest = 4

// Population is what the rows of one planter say of each other.
type Population struct {
	groups []int8 // the group of each row, or alone; nil: each stands for itself
	of     []group
}

// group is a group of rows that are alike, by what σ² may be, in parts of equal chance.
type group [strata]common

// common is a group where σ² is known.
type common struct {
	between        float64 // σ²
	middle, spread float64 // g and its standard deviation
}

// NewPopulation takes up the rows' first depths.
func NewPopulation(rows []Row) *Population {
	if len(rows) < fewest {
		return Apart()
	}
	p := new(Population)
	var used int
	p.groups, used = groupsOf(rows)
	for g := range used {
		var first []Depth
		for i := range rows {
			if int(p.groups[i]) == g {
				first = append(first, rows[i].First)
			}
		}
		p.of = append(p.of, newGroup(first))
	}
	return p
}

// newGroup takes up the first depths of rows that are alike.
func newGroup(first []Depth) (g group) {
	mean, own, n := 0.0, 0.0, float64(len(first))
	for _, d := range first {
		mean += d.Mm
		own += d.VarianceMm2
	}
	mean, own = mean/n, own/n
	squares := 0.0
	for _, d := range first {
		away := d.Mm - mean
		squares += float64(away * away)
	}
	for s := range g {
		chance := (float64(s) + 0.5) / strata
		g[s] = commonOf(first, max(0, squares/estimate.ChiSquareQuantile(chance, n-1)-own))
	}
	return g
}

// Apart is the population of rows that stand each for itself: so few that they say nothing of it, or
// estimated in the light of each other already.
func Apart() *Population { return new(Population) }

// leastVariance is (1e-9 mm)²: nothing is known better.
const leastVariance = 1e-18

func commonOf(first []Depth, between float64) common {
	weights, weighted := 0.0, 0.0
	for _, d := range first {
		w := 1 / max(between+d.VarianceMm2, leastVariance)
		weights += w
		weighted += float64(w * d.Mm)
	}
	return common{between: between, middle: weighted / weights, spread: math.Sqrt(1 / weights)}
}

// groupOf is the group of row i.
func (p *Population) groupOf(i int) int {
	if p.groups == nil {
		return alone
	}
	return int(p.groups[i])
}

// given is a row's depth where σ² of its group is known: base + slope·g, and a standard deviation around it.
type given struct{ base, slope, sd float64 }

func (p *Population) given(r *Row, group, s int) given {
	total := r.First.VarianceMm2
	if group != alone {
		total += p.of[group][s].between
	}
	if group == alone || total < leastVariance {
		return given{base: r.Now.Mm, sd: math.Sqrt(max(0, r.Now.VarianceMm2))}
	}
	slope := r.CovarianceMm2 / total
	return given{
		base: r.Now.Mm - float64(slope*r.First.Mm), slope: slope,
		sd: math.Sqrt(max(0, r.Now.VarianceMm2-float64(slope*r.CovarianceMm2))),
	}
}

// draws are the points of one question.
type draws struct {
	table  [points]float64             // the Gaussian's quantiles
	middle [mostGroups][points]float64 // g of each group
	target [points]float64
	depths [points]float64 // of the present row
	held   extent          // of the rows that are claimed to be within tolerance
	all    extent
}

// extent is the range of some rows' depths at each point.
type extent struct {
	rows      int
	low, high [points]float64
}

// add widens the range to the depths of one more row.
func (e *extent) add(depths *[points]float64) {
	if e.rows++; e.rows == 1 {
		e.low, e.high = *depths, *depths
		return
	}
	for k, depth := range depths {
		e.low[k], e.high[k] = min(e.low[k], depth), max(e.high[k], depth)
	}
}

// Of says what the rows are worth. The population is theirs, as they were first found.
func (p *Population) Of(rows []Row, t Target) Worth {
	d := draws{table: whole()}
	p.common(&d, rows, t)
	for i := range rows {
		if r := &rows[i]; !r.Aside && !r.Unclaimed {
			p.draw(&d, r, i)
			d.held.add(&d.depths)
		}
	}
	d.all = d.held
	for i := range rows {
		if r := &rows[i]; !r.Aside && r.Unclaimed {
			p.draw(&d, r, i)
			d.all.add(&d.depths)
		}
	}
	if d.all.rows == 0 {
		return Worth{Chance: 1}
	}
	return d.worth(t.ToleranceMm)
}

// common draws what the rows share: the middles of their groups, and the target.
func (p *Population) common(d *draws, rows []Row, t Target) {
	for g := range p.of {
		dimension := 0
		if g > 0 {
			dimension = moreMiddles + g - 1
		}
		middle := sequence(dimension)
		for k := range points {
			c := &p.of[g][k%strata]
			d.middle[g][k] = c.middle + float64(c.spread*middle.next(&d.table))
		}
	}
	zero := sequence(zeroDimension)
	for k := range points {
		d.target[k] = t.DatumMm + float64(t.ZeroUncertaintyMm*zero.next(&d.table))
	}
	if t.Matched >= 0 {
		p.draw(d, &rows[t.Matched], t.Matched)
		d.target = d.depths
	}
}

// draw draws the depths of row i.
func (p *Population) draw(d *draws, r *Row, i int) {
	var by [strata]given
	group := p.groupOf(i)
	for s := range by {
		by[s] = p.given(r, group, s)
	}
	z, middle := sequence(rowDimension+i), &d.middle[max(0, group)] // of a row that stands alone it counts nothing
	for k := range &d.depths {
		g := &by[k%strata]
		d.depths[k] = g.base + float64(g.slope*middle[k]) + float64(g.sd*z.next(&d.table))
	}
}

func (d *draws) worth(tolerance float64) Worth {
	within, sum := 0, 0.0
	spreads := d.depths[:] // no longer needed
	for k := range points {
		if d.held.rows == 0 || d.held.high[k]-d.target[k] <= tolerance && d.target[k]-d.held.low[k] <= tolerance {
			within++
		}
		spreads[k] = d.all.high[k] - d.all.low[k]
		sum += spreads[k]
	}
	const tail = points / 20 // 5 % on either side
	return Worth{
		Chance: rounded(float64(within)/points, 1000),
		Spread: Spread{rounded(sum/points, 100), rounded(nth(spreads, tail), 100), rounded(nth(spreads, points-1-tail), 100)},
	}
}

func rounded(x, parts float64) float64 { return math.Round(x*parts) / parts }

// nth is the value that would stand at place n if xs were sorted. It moves the values about.
func nth(xs []float64, n int) float64 {
	for low, high := 0, len(xs)-1; low < high; {
		pivot, i, j := xs[(low+high)/2], low, high
		for i <= j {
			for xs[i] < pivot {
				i++
			}
			for xs[j] > pivot {
				j--
			}
			if i <= j {
				xs[i], xs[j] = xs[j], xs[i]
				i, j = i+1, j-1
			}
		}
		switch {
		case n <= j:
			high = j
		case n >= i:
			low = i
		default:
			return xs[n]
		}
	}
	return xs[n]
}
