package dig_test

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"rowdatum/server/leveling"
	"rowdatum/server/leveling/dig"
	"rowdatum/server/leveling/estimate"
)

// covered digs made-up fields and says, by what they have in common, which share of the 90 % intervals of
// the corrections holds the truth: how far a row's true depth is from the mean of the true depths.
func covered(runs int, seed uint64, rows []int, ratios []float64) map[string]float64 {
	rng := rand.New(rand.NewPCG(seed, 6))
	z := estimate.NormalQuantile(0.95)
	in, of := map[string]float64{}, map[string]float64{}
	for i := range runs {
		const scatter = 4.0 // of seeds of one row, mm
		m, ratio, k := rows[i%len(rows)], ratios[i/len(rows)%len(ratios)], 3+rng.IntN(6)
		p := dig.Problem{Aim: dig.DefaultAim()}
		truth := make([]float64, m)
		for r := range m {
			truth[r] = 50 + ratio*scatter*rng.NormFloat64()
			s := leveling.RowSeeds{Row: r + 1}
			for range k + rng.IntN(3) {
				s.DepthsMm = append(s.DepthsMm, truth[r]+scatter*rng.NormFloat64())
			}
			p.Rows = append(p.Rows, s)
		}
		mean := estimate.Mean(truth)
		for r, row := range dig.Analyze(p).Rows {
			for _, key := range []string{"all", fmt.Sprintf("ratio %v", ratio), fmt.Sprintf("%d rows", m)} {
				of[key]++
				if math.Abs(row.EffectMm-(truth[r]-mean)) <= z*row.UncertaintyMm {
					in[key]++
				}
			}
		}
	}
	for key := range of {
		in[key] *= 100 / of[key]
	}
	return in
}

func TestCoverage(t *testing.T) {
	for key, percent := range covered(4000, 2026, []int{12, 16, 24, 36}, []float64{0.5, 1, 2}) {
		t.Logf("%s: %.2f %%", key, percent)
		if !(percent >= 87 && percent <= 93) {
			t.Errorf("%s: 90 %% intervals cover %.2f %%", key, percent)
		}
	}
}

// Where rows hardly differ, or are few, how much they differ is little known, and the intervals are on the
// safe side: wide rather than too sure.
func TestCoverageOnTheSafeSide(t *testing.T) {
	for key, percent := range covered(2000, 2027, []int{4, 6, 8, 12, 24}, []float64{0, 0.1, 0.25, 1}) {
		t.Logf("%s: %.2f %%", key, percent)
		if !(percent >= 89) {
			t.Errorf("%s: 90 %% intervals cover only %.2f %%", key, percent)
		}
	}
}
