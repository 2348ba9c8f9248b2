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
	like   []bool         // which rows are of it; nil: none, each stands for itself
	strata [strata]common // of equal chance, by what σ² may be
}

// common is the population where σ² is known.
type common struct {
	between        float64 // σ²
	middle, spread float64 // g and its standard deviation
}

// NewPopulation takes up the rows' first depths.
func NewPopulation(rows []Row) *Population {
	if len(rows) < fewest {
		return Apart()
	}
	p := &Population{like: core(rows)}
	mean, own, n := 0.0, 0.0, 0.0
	for i := range rows {
		if p.like[i] {
			mean += rows[i].First.Mm
			own += rows[i].First.VarianceMm2
			n++
		}
	}
	mean, own = mean/n, own/n
	squares := 0.0
	for i := range rows {
		if p.like[i] {
			away := rows[i].First.Mm - mean
			squares += float64(away * away)
		}
	}
	for s := range p.strata {
		chance := (float64(s) + 0.5) / strata
		between := max(0, squares/estimate.ChiSquareQuantile(chance, n-1)-own)
		p.strata[s] = p.commonOf(rows, between)
	}
	return p
}

// Apart is the population of rows that stand each for itself: so few that they say nothing of it, or
// estimated in the light of each other already.
func Apart() *Population { return new(Population) }

// leastVariance is (1e-9 mm)²: nothing is known better.
const leastVariance = 1e-18

func (p *Population) commonOf(rows []Row, between float64) common {
	weights, weighted := 0.0, 0.0
	for i := range rows {
		if !p.like[i] {
			continue
		}
		w := 1 / max(between+rows[i].First.VarianceMm2, leastVariance)
		weights += w
		weighted += float64(w * rows[i].First.Mm)
	}
	return common{between: between, middle: weighted / weights, spread: math.Sqrt(1 / weights)}
}

// given is a row's depth where σ² is known: base + slope·g, and a standard deviation around it.
type given struct{ base, slope, sd float64 }

func (p *Population) given(r *Row, i, s int) given {
	c := &p.strata[s]
	total := c.between + r.First.VarianceMm2
	if p.like == nil || !p.like[i] || total < leastVariance {
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
	table  [points]float64 // the Gaussian's quantiles
	middle [points]float64 // g
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
		if depth < e.low[k] {
			e.low[k] = depth
		}
		if depth > e.high[k] {
			e.high[k] = depth
		}
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

// common draws what the rows share: the middle of the population, and the target.
func (p *Population) common(d *draws, rows []Row, t Target) {
	middle, zero := sequence(0), sequence(1)
	for k := range points {
		c := &p.strata[k%strata]
		d.middle[k] = c.middle + float64(c.spread*middle.next(&d.table))
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
	for s := range by {
		by[s] = p.given(r, i, s)
	}
	z := sequence(2 + i)
	for k := range &d.depths {
		g := &by[k%strata]
		d.depths[k] = g.base + float64(g.slope*d.middle[k]) + float64(g.sd*z.next(&d.table))
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
