package estimate_test

import (
	"math"
	"math/rand/v2"
	"testing"

	"gonum.org/v1/gonum/mat"

	"rowdatum/server/leveling"
	"rowdatum/server/leveling/estimate"
)

// shopMove is one move of a random row, with the stay after it; a stay without readings has none.
type shopMove struct {
	effect, seating float64
	stay            *estimate.StayMean
}

// batch solves the same row in one piece: generalised least squares of all stays at once, by weighted
// equations for the depth at the start, the scale and what every seating came to. The last depth is a
// sum of these.
func batch(moves []shopMove, scale, scaleSd float64, b estimate.Budget) (depth, depthVar, s, sVar, cov float64, first estimate.First) {
	n := 2 + len(moves)
	var a [][]float64
	var y []float64
	equation := func(row []float64, value, sd float64) {
		for i := range row {
			row[i] /= sd
		}
		a, y = append(a, row), append(y, value/sd)
	}
	prior := make([]float64, n)
	prior[1] = 1
	equation(prior, scale, scaleSd)
	now := make([]float64, n)
	now[0] = 1
	var begun []float64 // the depth when it was first read
	for i, m := range moves {
		seat := make([]float64, n)
		seat[2+i] = 1
		equation(seat, 0, m.seating)
		now[1] += m.effect
		now[2+i] = 1
		if m.stay != nil {
			if begun == nil {
				begun = append(begun, now...)
			}
			equation(append([]float64(nil), now...), m.stay.MeanMm, math.Sqrt(b.PerReadingMm2*m.stay.Weight+b.LastingMm2))
		}
	}
	x := mat.NewDense(len(a), n, nil)
	for i, row := range a {
		x.SetRow(i, row)
	}
	var qr mat.QR
	qr.Factorize(x)
	var solved, inverse, r mat.Dense
	if err := qr.SolveTo(&solved, false, mat.NewDense(len(y), 1, y)); err != nil {
		panic(err)
	}
	qr.RTo(&r)
	if err := inverse.Inverse(r.Slice(0, n, 0, n)); err != nil {
		panic(err)
	}
	var of mat.Dense
	of.Mul(&inverse, inverse.T())
	last := mat.NewDense(1, n, now)
	var d, lc, lcl mat.Dense
	d.Mul(last, &solved)
	lc.Mul(last, &of)
	lcl.Mul(&lc, last.T())
	var fd, fc, fcf, fcl mat.Dense
	start := mat.NewDense(1, n, begun)
	fd.Mul(start, &solved)
	fc.Mul(start, &of)
	fcf.Mul(&fc, start.T())
	fcl.Mul(&fc, last.T())
	first = estimate.First{DepthMm: fd.At(0, 0), VarianceMm2: fcf.At(0, 0), CovarianceMm2: fcl.At(0, 0), ScaleCovarianceMm: fc.At(0, 1)}
	return d.At(0, 0), lcl.At(0, 0), solved.At(1, 0), of.At(1, 1), lc.At(0, 1), first
}

func TestTrackEqualsBatchLeastSquares(t *testing.T) {
	rng := rand.New(rand.NewPCG(11, 12))
	for i := range 4000 {
		f := leveling.Fixture{ResolutionMm: 3 * rng.Float64(), RepeatabilityMm: 0.2 + rng.Float64()}
		b := estimate.BudgetOf(f)
		scale, scaleSd := 0.6+0.8*rng.Float64(), 0.01+0.3*rng.Float64()
		track := estimate.NewTrack(scale, scaleSd, b)
		var moves []shopMove
		read := false
		for j := range 1 + rng.IntN(7) {
			m := shopMove{seating: 0.05 + 0.5*rng.Float64()}
			if j > 0 {
				m.effect = 40 * (rng.Float64() - 0.5)
			}
			track.Move(m.effect, m.seating)
			if rng.IntN(4) > 0 || j == 0 && rng.IntN(2) == 0 {
				k := 1 + rng.IntN(4)
				m.stay = &estimate.StayMean{MeanMm: 50 + 20*rng.NormFloat64(), Readings: k, Weight: (1 + rng.Float64()) / float64(k)}
				track.Observe(*m.stay)
				read = true
			}
			moves = append(moves, m)
		}
		if !read {
			if track.Known() {
				t.Fatalf("case %d: a depth without a reading", i)
			}
			continue
		}
		d, dv, s, sv, cov, first := batch(moves, scale, scaleSd, b)
		got := track.Estimate()
		begun := got.AtFirst()
		for _, c := range []struct {
			what      string
			got, want float64
		}{
			{"depth", got.DepthMm, d}, {"uncertainty", got.UncertaintyMm, math.Sqrt(dv)},
			{"scale", got.Scale, s}, {"scale sd", got.ScaleSd, math.Sqrt(sv)}, {"covariance", got.CovarianceMm, cov},
			{"first depth", begun.DepthMm, first.DepthMm}, {"its variance", begun.VarianceMm2, first.VarianceMm2},
			{"its covariance", begun.CovarianceMm2, first.CovarianceMm2}, {"its covariance with the scale", begun.ScaleCovarianceMm, first.ScaleCovarianceMm},
		} {
			if math.Abs(c.got-c.want) > 1e-8*(1+math.Abs(c.want)) {
				t.Fatalf("case %d: %s %.12g, batch %.12g\n%+v", i, c.what, c.got, c.want, moves)
			}
		}
	}
}

// What an estimate foretells of further readings is what they come to.
func TestTrackForetellsItsUncertainty(t *testing.T) {
	b := estimate.BudgetOf(leveling.Fixture{ResolutionMm: 1.5875, RepeatabilityMm: 0.5, FloorMm: 1})
	for _, moved := range []bool{false, true} {
		for more := 1; more < 5; more++ {
			start := estimate.NewTrack(1, 0.08, b)
			if moved {
				start.Observe(estimate.StayMean{MeanMm: 50, Readings: 1, Weight: 1})
				start.Move(6.35, 0.3)
			}
			now, then := start, start
			now.Observe(estimate.StayMean{MeanMm: 57, Readings: 2, Weight: 0.5})
			k := 2 + more
			then.Observe(estimate.StayMean{MeanMm: 57, Readings: k, Weight: 1 / float64(k)})
			if got, want := now.Estimate().UncertaintyAfter(more), then.Estimate().UncertaintyMm; math.Abs(got-want) > 1e-12 {
				t.Errorf("moved %v, %d more: foretold %v, came to %v", moved, more, got, want)
			}
		}
	}
}

func TestTrackOfExactFixtureStaysFinite(t *testing.T) {
	track := estimate.NewTrack(1, 0, estimate.Budget{})
	for _, y := range []float64{50, 56, 55} {
		track.Observe(estimate.StayMean{MeanMm: y, Readings: 1, Weight: 1})
		e := track.Estimate()
		if e.DepthMm != y || e.UncertaintyMm != 0 || e.UncertaintyAfter(3) != 0 {
			t.Errorf("after %v: %+v", y, e)
		}
		track.Move(6, 0)
	}
}

func TestPool(t *testing.T) {
	f := leveling.Fixture{ResolutionMm: 1.5875, RepeatabilityMm: 0.5}
	var p estimate.Pool
	if u, nu := p.Repeatability(f); u != 0.5 || nu != 10 {
		t.Errorf("nothing pooled: %v with %v", u, nu)
	}
	// Pairs that scatter as the fixture's figure says leave it where it is.
	per := estimate.BudgetOf(f).PerReadingMm2
	for range 20 {
		p.Add([]float64{50, 50 + math.Sqrt(2*per)}) // s² = per
	}
	if u, nu := p.Repeatability(f); math.Abs(u-0.5) > 1e-9 || nu != 30 {
		t.Errorf("as foretold: %v with %v", u, nu)
	}
	// By hand: no ruling, ten degrees at 0.5² and five at 1: (10·0.25 + 5·1)/15 = 0.5.
	q := estimate.Pool{SquaresMm2: 5, Degrees: 5}
	if u, nu := q.Repeatability(leveling.Fixture{RepeatabilityMm: 0.5}); math.Abs(u-math.Sqrt(0.5)) > 1e-12 || nu != 15 {
		t.Errorf("by hand: %v with %v", u, nu)
	}
}

// The scatter found from simulated ruled pairs is the one put in: not that of the ruled readings.
func TestPoolFindsTheScatterBeforeTheRuling(t *testing.T) {
	rng := rand.New(rand.NewPCG(13, 14))
	for _, u := range []float64{0.3, 0.5, 0.9} {
		f := leveling.Fixture{ResolutionMm: 1.5875, RepeatabilityMm: 0.5}
		var p estimate.Pool
		for range 20000 {
			depth := 50 + 10*rng.Float64()
			read := func() float64 { return f.ResolutionMm * math.Round((depth+u*rng.NormFloat64())/f.ResolutionMm) }
			p.Add([]float64{read(), read()})
		}
		if got, _ := p.Repeatability(f); math.Abs(got-u) > 0.02 {
			t.Errorf("scatter %v: found %v", u, got)
		}
	}
}

func TestGate(t *testing.T) {
	f := leveling.Fixture{ResolutionMm: 1.5875, RepeatabilityMm: 0.5}
	g := estimate.NewGate(f)
	limit := 3.5 * math.Sqrt(estimate.BudgetOf(f).PerReadingMm2*1.5) // against two others
	if !g.Agrees(50+limit-1e-6, 50, 2) || g.Agrees(50+limit+1e-6, 50, 2) {
		t.Errorf("the limit against two others is not %v", limit)
	}
	exact := estimate.NewGate(leveling.Fixture{ResolutionMm: 1.5875, RepeatabilityMm: 0.01})
	if !exact.Agrees(50+1.5875, 50, 1) || exact.Agrees(50+2*1.5875, 50, 1) {
		t.Error("one ruling apart must agree, two must not")
	}
	track := estimate.NewTrack(1, 0.08, estimate.BudgetOf(f))
	if _, known := g.Foretold(track, 50); known {
		t.Error("nothing is foretold before the first stay")
	}
	track.Observe(estimate.StayMean{MeanMm: 50, Readings: 1, Weight: 1})
	track.Move(6.35, 0.3)
	v := 2*(estimate.BudgetOf(f).PerReadingMm2+estimate.BudgetOf(f).LastingMm2) + math.Pow(6.35*0.08, 2) + 0.09
	far := 3.5 * math.Sqrt(v)
	if in, _ := g.Foretold(track, 56.35+far-1e-6); !in {
		t.Error("within 3.5 sd of what was foretold")
	}
	if in, _ := g.Foretold(track, 56.35-far-1e-6); in {
		t.Error("beyond 3.5 sd of what was foretold")
	}
	single := 0.25 + 1.5875*1.5875/12
	if g.Drifted(50+5*math.Sqrt(2*single)-1e-6, 50) || !g.Drifted(50+5*math.Sqrt(2*single)+1e-6, 50) {
		t.Error("the limit against the last as-left is wrong")
	}
	if _, far := g.Apart(80, []float64{50, 51, 52}); far {
		t.Error("three other rows are too few")
	}
	// Median 51.5, deviations 1.5 0.5 0.5 1.5: MAD 1.
	away := 5 * math.Sqrt(1.4826*1.4826+single)
	for _, c := range []struct {
		y   float64
		far bool
	}{{51.5 + away - 1e-6, false}, {51.5 + away + 1e-6, true}} {
		if median, far := g.Apart(c.y, []float64{53, 50, 52, 51}); far != c.far || median != 51.5 {
			t.Errorf("%v: median %v, far %v", c.y, median, far)
		}
	}
}
