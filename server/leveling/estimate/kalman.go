package estimate

import (
	"math"

	"rowdatum/server/leveling"
)

// StayMean is what the readings of one stay come to: their weighted mean.
type StayMean struct {
	MeanMm   float64
	Readings int     // at least 1
	Weight   float64 // sum of the squares of the readings' weights: 1/Readings where all count alike
}

// Track is what is known of one row in the course of a job: a Gaussian of its depth and of its scale, by
// the exact Kalman recursion over stays. Nothing is known of the depth before the first stay.
type Track struct {
	depth, scale            float64
	depthVar, cov, scaleVar float64
	known, moved            bool
	first                   First // the depth before the first move
	fixture                 Budget
	before, foretold        float64 // of the present stay: 1/variance before it, 0 where nothing was known; depth before it
	readings                int     // of the present stay
	uneven                  float64 // of the present stay: variance of its weighted mean over that of a plain one
}

// leastVar is (1e-9 mm)²: a depth is not known better.
const leastVar = 1e-18

// NewTrack starts a row of which the scale is foretold with a standard deviation, read with a fixture of
// the budget b.
func NewTrack(scale, scaleSd float64, b Budget) Track {
	return Track{scale: scale, scaleVar: scaleSd * scaleSd, fixture: b, uneven: 1}
}

// BudgetOf splits a fixture's variance.
func BudgetOf(f leveling.Fixture) Budget { return budget(f) }

// Known says whether anything is known of the depth.
func (t *Track) Known() bool { return t.known }

// Move is a move of nominal effect, after which the mechanism seats with a standard deviation.
func (t *Track) Move(effectMm, seatingMm float64) {
	t.readings, t.before, t.uneven = 0, 0, 1
	if !t.known {
		return
	}
	t.depth += float64(t.scale * effectMm)
	t.depthVar += float64(2*effectMm*t.cov) + float64(effectMm*effectMm*t.scaleVar) + float64(seatingMm*seatingMm)
	t.depthVar = max(0, t.depthVar)
	t.cov += float64(effectMm * t.scaleVar)
	t.moved = true
	t.first.CovarianceMm2 += float64(effectMm * t.first.ScaleCovarianceMm)
	t.before, t.foretold = 1/max(t.depthVar, leastVar), t.depth
}

// Observe takes in the readings of a stay: once a stay, after its move.
func (t *Track) Observe(m StayMean) {
	t.readings, t.uneven = m.Readings, m.Weight*float64(m.Readings)
	v := t.variance(m)
	if !t.known {
		t.known, t.depth, t.depthVar, t.cov = true, m.MeanMm, v, 0
		t.first = First{DepthMm: m.MeanMm, VarianceMm2: v, CovarianceMm2: v}
		return
	}
	miss, total := m.MeanMm-t.depth, t.depthVar+v
	if total < leastVar { // both are taken for exact: the reading has the last word
		t.depth = m.MeanMm
		return
	}
	gain, scaleGain, firstGain := t.depthVar/total, t.cov/total, t.first.CovarianceMm2/total
	t.first.DepthMm += float64(firstGain * miss)
	t.first.VarianceMm2 = max(0, t.first.VarianceMm2-float64(firstGain*t.first.CovarianceMm2))
	t.first.ScaleCovarianceMm -= float64(firstGain * t.cov)
	t.first.CovarianceMm2 *= v / total
	t.depth += float64(gain * miss)
	t.scale += float64(scaleGain * miss)
	t.scaleVar = max(0, t.scaleVar-float64(scaleGain*t.cov))
	t.cov *= v / total
	t.depthVar *= v / total
}

// MeanFor is the mean of k readings of this stay that would make the row's depth depthMm.
func (t *Track) MeanFor(depthMm float64, k int) float64 {
	return depthMm + (depthMm-t.foretold)*t.before*t.variance(StayMean{Weight: t.uneven / float64(k)})
}

// UncertaintyOf is the uncertainty that k readings of this stay would leave.
func (t *Track) UncertaintyOf(k int) float64 { return t.Estimate().Budget.sd(k) }

// variance is what the readings of a stay leave open.
func (t *Track) variance(m StayMean) float64 {
	return t.fixture.PerReadingMm2*m.Weight + t.fixture.LastingMm2
}

// Estimate is the row as it stands. Its depth and uncertainty are of no meaning while the depth is not
// known.
func (t *Track) Estimate() Estimate {
	b := t.fixture
	b.Prior, b.Uneven = t.before, t.uneven
	first := t.first
	first.VarianceMm2 += b.FloorMm2
	first.CovarianceMm2 += b.FloorMm2
	return Estimate{
		DepthMm: t.depth, UncertaintyMm: math.Sqrt(t.depthVar + b.FloorMm2),
		Scale: t.scale, ScaleSd: math.Sqrt(t.scaleVar), CovarianceMm: t.cov,
		Readings: t.readings, Budget: b, Moved: t.moved, First: first,
	}
}

// priorDegrees is how many degrees of freedom the fixture's own repeatability is worth against the
// readings of a job; our choice, no source.
const priorDegrees = 10

// Pool gathers the scatter of repeated readings.
type Pool struct {
	SquaresMm2 float64 // sum over groups of the squared deviations from the group's mean
	Degrees    int     // sum over groups of their sizes less one

	together float64 // sum over groups of (k − 1)², k their size
	shares   float64 // sum over groups of (k − 1)/k
}

// Add takes in readings of one place: one stay, one side.
func (p *Pool) Add(readingsMm []float64) {
	if k := len(readingsMm); k > 1 {
		sd := SD(readingsMm)
		p.SquaresMm2 += sd * sd * float64(k-1)
		p.Degrees += k - 1
		p.together += float64((k - 1) * (k - 1))
		p.shares += float64(k-1) / float64(k)
	}
}

// Join takes in another pool.
func (p *Pool) Join(q Pool) {
	p.SquaresMm2 += q.SquaresMm2
	p.Degrees += q.Degrees
	p.together += q.together
	p.shares += q.shares
}

// Repeatability is the repeatability that the fixture's own figure and the pooled readings come to, with
// its degrees of freedom. Ruled readings are pooled with ruled readings, and the ruling's part is taken
// off once.
func (p Pool) Repeatability(f leveling.Fixture) (mm, nu float64) {
	nu = priorDegrees + float64(p.Degrees)
	if p.Degrees == 0 {
		return f.RepeatabilityMm, nu
	}
	square := (priorDegrees*budget(f).PerReadingMm2 + p.SquaresMm2) / nu
	return unruled(f.ResolutionMm, square), nu
}

// unruled solves for the scatter before the ruling q rounds it, where that of ruled readings has the
// given variance: u² + q²/12 − u_sys²(u) = square, which rises with u, and is u² at least and
// u² + q²/12 at most.
func unruled(q, square float64) float64 {
	lo, hi := math.Sqrt(max(0, square-q*q/12)), math.Sqrt(square)
	for range 60 {
		mid := lo + (hi-lo)/2
		if mid <= lo || mid >= hi {
			break
		}
		if mid*mid+q*q/12-rulingVar(q, mid) < square {
			lo = mid
		} else {
			hi = mid
		}
	}
	return hi
}

// Gate says which readings surprise. It goes by the fixture's own figures, so that what is read on one
// row never changes what counts on another.
type Gate struct {
	scatter float64 // variance of one ruled reading
	ruling  float64
	single  float64 // variance of one reading against the true depths of rows
}

// NewGate prepares for a fixture.
func NewGate(f leveling.Fixture) Gate {
	return Gate{
		scatter: budget(f).PerReadingMm2,
		ruling:  f.ResolutionMm * (1 + 1e-9), // one ruling apart is one ruling, whatever the last bits say
		single:  f.RepeatabilityMm*f.RepeatabilityMm + f.ResolutionMm*f.ResolutionMm/12,
	}
}

// Agrees says whether a reading agrees with the mean of m others of its stay.
func (g Gate) Agrees(readingMm, othersMm float64, m int) bool {
	off := math.Abs(readingMm - othersMm)
	return off <= surprisingReading*math.Sqrt(g.scatter*(1+1/float64(m))) || off <= g.ruling
}

// Foretold says whether a reading that begins a stay agrees with what the row's earlier stays foretell;
// known is false where they foretell nothing.
func (g Gate) Foretold(t Track, readingMm float64) (agrees, known bool) {
	low, high, known := g.Limits(t)
	return low <= readingMm && readingMm <= high, known
}

// Limits are the depths between which a reading that begins a stay agrees with what is foretold.
func (g Gate) Limits(t Track) (low, high float64, known bool) {
	sd := math.Sqrt(t.depthVar + t.variance(StayMean{Weight: 1}))
	return t.depth - surprisingReading*sd, t.depth + surprisingReading*sd, t.known
}

// Apart says whether a row's only reading is far from the median of the other rows. It sorts others.
func (g Gate) Apart(readingMm float64, others []float64) (median float64, far bool) {
	return apart(leveling.Fixture{RepeatabilityMm: math.Sqrt(g.single)}, readingMm, others)
}

// Drifted says whether a row's only reading is far from where the row was last left.
func (g Gate) Drifted(readingMm, asLeftMm float64) bool {
	return math.Abs(readingMm-asLeftMm) > surprisingRow*math.Sqrt(2*g.single)
}
