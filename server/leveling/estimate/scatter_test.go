package estimate_test

import (
	"math"
	"math/rand/v2"
	"testing"

	"rowdatum/server/leveling"
	"rowdatum/server/leveling/estimate"
)

// Without a ruling the test is the plain one: at 24 degrees of freedom χ² is 40.27 at 2 % (tables of χ², from memory).
func TestDoubtsIsChiSquare(t *testing.T) {
	f := leveling.Fixture{RepeatabilityMm: 0.5}
	for _, c := range []struct {
		ratio float64 // of the squares to the stated variance
		pairs int
		want  bool
	}{{40.2, 24, false}, {40.4, 24, true}, {1000, 5, false}, {1000, 6, true}} {
		var p estimate.Pool
		for range c.pairs {
			p.Add([]float64{50, 50 + math.Sqrt(2*0.25*c.ratio/float64(c.pairs))})
		}
		if got := p.Doubts(f); got != c.want {
			t.Errorf("%+v: %v", c, got)
		}
	}
	if (estimate.Pool{SquaresMm2: 9, Degrees: 9}).Doubts(leveling.Fixture{}) {
		t.Error("a fixture of which nothing is stated is doubted")
	}
}

// Fixtures that scatter as stated are doubted in no more than 2 of 100 jobs, whatever the ruling and however the
// repeats are spread over the rows; doubled scatter is found where the ruling lets it be seen.
func TestDoubts(t *testing.T) {
	const trials = 2000
	const tooMany = 0.02 + 3*0.00313 // 3 standard deviations of a share of 0.02 in so many
	for _, c := range []struct {
		perInch         float64
		rows, readings  int
		doubled, atMost float64 // least and most share noticed with doubled scatter
	}{
		{32, 24, 2, 0.97, 1},
		{16, 6, 2, 0.42, 1},
		{16, 12, 2, 0.66, 1},
		{16, 24, 2, 0.88, 1},
		{16, 8, 4, 0.88, 1},
		{16, 1, 25, 0.75, 1},
		{8, 24, 2, 0.45, 0.6},
		{8, 1, 25, 0, 0.1},
		{4, 24, 2, 0.1, 0.25},
	} {
		f := leveling.Fixture{ResolutionMm: 25.4 / c.perInch, RepeatabilityMm: 0.5}
		rng := rand.New(rand.NewPCG(81, 82))
		share := func(scatter float64) float64 {
			doubted := 0
			for range trials {
				var p estimate.Pool
				for range c.rows {
					depth, ys := 50+10*rng.Float64(), make([]float64, c.readings)
					for i := range ys {
						ys[i] = f.ResolutionMm * math.Round((depth+scatter*rng.NormFloat64())/f.ResolutionMm)
					}
					p.Add(ys)
				}
				if p.Doubts(f) {
					doubted++
				}
			}
			return float64(doubted) / trials
		}
		clean, doubled := share(0.5), share(1)
		t.Logf("ruled in 1/%g in, %d rows read %d times: clean %.3f, doubled %.3f", c.perInch, c.rows, c.readings, clean, doubled)
		if clean > tooMany || doubled < c.doubled || doubled > c.atMost {
			t.Error("not what it should be")
		}
	}
}
