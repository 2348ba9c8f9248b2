package job_test

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"rowdatum/server/leveling"
	"rowdatum/server/leveling/job"
)

// The loop of a job on planters whose truth is known: handles that give less or more than their nominal
// travel, lost motion that is not always taken up, ruled readings whose scatter is not the fixture's
// figure. Of the rows that are called even at confidence 0.9, the share that is not within tolerance, and
// of the 90 % intervals of depth the share that covers, are held against what they promise.
func TestLoopKeepsItsPromise(t *testing.T) {
	for _, c := range []struct {
		name            string
		scaleSd         float64 // of the true scales; the style says 0.08
		lost            float64 // mm lost by one move in five
		scatter         float64 // of readings; the fixture says 0.5
		cover, wrong    float64 // least, most
		readings, moves float64 // most a row
	}{
		{"as foretold", 0.08, 0, 0.5, 0.89, 0.01, 1.7, 0.6},
		{"scatter half as large again", 0.08, 0, 0.75, 0.80, 0.03, 1.7, 0.6},
		{"scales twice as wide", 0.16, 0, 0.5, 0.86, 0.02, 1.7, 0.6},
		{"lost motion", 0.08, 0.6, 0.5, 0.88, 0.01, 1.7, 0.6},
	} {
		t.Run(c.name, func(t *testing.T) {
			rng := rand.New(rand.NewPCG(61, 62))
			const z = 1.6449 // Gauss, 90 %, two-sided (tables; from memory)
			var rows, covered, even, wrong, readings, moves int
			for range 100 {
				s, truth := simulate(t, rng, opened(8, 4), ways{rowsSd: 5, scaleSd: c.scaleSd, lost: c.lost, scatter: c.scatter})
				for _, r := range s.state.Rows {
					rows++
					if math.Abs(truth[r.Row]-r.Estimate.DepthMm) <= z*r.Estimate.UncertaintyMm {
						covered++
					}
					if r.Next == job.NextDone {
						even++
						if math.Abs(truth[r.Row]-*s.state.DatumMm) > s.state.Aim.ToleranceMm {
							wrong++
						}
					}
				}
				for _, e := range s.log {
					if e.Reading != nil {
						readings++
					}
					if e.Move != nil {
						moves++
					}
				}
			}
			share := func(n, of int) float64 { return float64(n) / float64(of) }
			t.Logf("intervals cover %.3f; called even %.3f, of these wrongly %.4f; %.2f readings and %.2f moves a row",
				share(covered, rows), share(even, rows), share(wrong, even), share(readings, rows), share(moves, rows))
			if share(covered, rows) < c.cover || share(wrong, even) > c.wrong || share(even, rows) < 0.97 {
				t.Error("the promise is not kept")
			}
			if share(readings, rows) > c.readings || share(moves, rows) > c.moves {
				t.Error("more work than it should be")
			}
		})
	}
}

// Rows so far apart that a number an inch off stands out from nothing, where one in a hundred is, and is
// believed: neither rule of reading after moves leaves planters an inch uneven. Where moves are not read after,
// that costs a reading more for every fifth row.
func TestMisreadInches(t *testing.T) {
	for _, c := range []struct {
		name     string
		verify   job.Verify
		readings float64 // most a row
	}{
		{"every moved row is read", job.VerifyMoved, 1.8},
		{"when needed", job.VerifyWhenNeeded, 1.2},
	} {
		t.Run(c.name, func(t *testing.T) {
			rng := rand.New(rand.NewPCG(63, 64))
			const planters, rows = 100, 24
			var spreads []float64
			readings := 0
			for range planters {
				o := opened(rows, 0)
				o.Verify = c.verify
				s, truth := simulate(t, rng, o, ways{rowsSd: 6, scaleSd: 0.08, scatter: 0.5, misread: 0.01})
				shallowest, deepest := math.Inf(1), math.Inf(-1)
				for _, r := range s.state.Rows {
					shallowest, deepest = min(shallowest, truth[r.Row]), max(deepest, truth[r.Row])
				}
				spreads = append(spreads, deepest-shallowest)
				for _, e := range s.log {
					if e.Reading != nil {
						readings++
					}
				}
			}
			slices.Sort(spreads)
			kept, each := spreads[planters*95/100-1], float64(readings)/planters/rows
			t.Logf("95 %% of planters keep within %.2f mm; %.2f readings a row", kept, each)
			if kept > 2*leveling.DefaultAim().ToleranceMm {
				t.Error("an inch misread leaves planters uneven")
			}
			if each > c.readings {
				t.Error("more readings than it should be")
			}
		})
	}
}

// ways are those of simulated rows and of who reads them.
type ways struct {
	rowsSd  float64 // of the rows' true depths, mm
	scaleSd float64 // of the true scales
	lost    float64 // mm lost by one move in five
	scatter float64 // of readings, mm
	misread float64 // share of readings that are an inch off
}

// simulate does what every row's next step asks for, until nothing is asked or a dozen rounds are over.
func simulate(t *testing.T, rng *rand.Rand, o *job.Opened, c ways) (*shop, map[int]float64) {
	s := newShop(o)
	truth, scale := map[int]float64{}, map[int]float64{}
	for _, r := range s.state.Rows {
		truth[r.Row] = 50 + c.rowsSd*rng.NormFloat64()
		scale[r.Row] = max(0.4, 1+c.scaleSd*rng.NormFloat64())
	}
	for range 12 {
		quiet := true
		planned := false
		for _, r := range s.state.Rows {
			switch s.state.Row(r.Row).Next {
			case job.NextRead, job.NextReadAgain, job.NextReadAfterMove:
				y := ruled(truth[r.Row] + c.scatter*rng.NormFloat64())
				if c.misread > 0 && rng.Float64() < c.misread {
					y += 25.4 * float64(2*rng.IntN(2)-1)
				}
				must(t, s.readMm(r.Row, y))
			case job.NextMove:
				e := r.Move.Option.EffectMm
				truth[r.Row] += scale[r.Row]*e + 0.3*rng.NormFloat64()
				if rng.IntN(5) == 0 {
					truth[r.Row] -= math.Copysign(c.lost, e)
				}
				must(t, s.moveNow(r.Row, r.Move.Option.Count))
			case job.NextPlan:
				planned = true
				continue
			default:
				continue
			}
			quiet = false
		}
		if quiet && planned {
			must(t, s.plan(job.Ask{}))
			quiet = false
		}
		if quiet {
			break
		}
	}
	return s, truth
}
