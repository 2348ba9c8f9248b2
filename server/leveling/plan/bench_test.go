package plan_test

import (
	"fmt"
	"math/rand/v2"
	"slices"
	"testing"
	"time"

	"rowdatum/server/leveling"
	"rowdatum/server/leveling/estimate"
	"rowdatum/server/leveling/plan"
)

// bigShop makes rows of threaded handles, options each, every row with its own scale: what a job that has
// learned each row's travel asks for.
func bigShop(rows, options int, seed uint64) plan.Problem {
	rng := rand.New(rand.NewPCG(seed, uint64(rows)))
	p := plan.Problem{Aim: leveling.DefaultAim(), Rows: make([]plan.Row, rows)}
	f := leveling.DefaultFixture()
	for i := range p.Rows {
		e := estimate.Stay(f, []float64{50.8 + 5*rng.NormFloat64(), 50.8 + 5*rng.NormFloat64()})
		e.Scale, e.ScaleSd = 1+0.08*rng.NormFloat64(), 0.02+0.06*rng.Float64()
		p.Rows[i] = rowOf(i+1, 0, &threadedHandle, e, handle(6.35, 0.25, float64(options-1)/4, float64(rng.IntN(options))/4))
	}
	return p
}

// sortBaseline is the time to sort as many numbers as p has options.
func sortBaseline(p plan.Problem) time.Duration {
	rng := rand.New(rand.NewPCG(8, 9))
	var numbers []int64
	for _, r := range p.Rows {
		for range r.Options {
			numbers = append(numbers, rng.Int64())
		}
	}
	work := make([]int64, len(numbers))
	const rounds = 20
	begin := time.Now()
	for range rounds {
		copy(work, numbers)
		slices.Sort(work)
	}
	return time.Since(begin) / rounds
}

// bigShops are some of as many rows, fewer where they are large.
func bigShops(rows int) []plan.Problem {
	shops := make([]plan.Problem, max(2, 960/rows))
	for i := range shops {
		shops[i] = bigShop(rows, 40, uint64(i))
	}
	return shops
}

// benchmark takes turns over several shops, so that the processor cannot learn one by heart.
func benchmark(b *testing.B, rows int, f func(plan.Problem) plan.Plan, change func(*plan.Problem)) {
	shops := bigShops(rows)
	for i := range shops {
		change(&shops[i])
	}
	base := sortBaseline(shops[0])
	b.ReportAllocs()
	b.ResetTimer()
	for i := 0; b.Loop(); i++ {
		f(shops[i%len(shops)])
	}
	b.ReportMetric(float64(b.Elapsed())/float64(b.N)/float64(base), "x-sort")
}

func asIs(*plan.Problem) {}

// BenchmarkSolve is the plan alone, from the smallest planter to more rows than any has: what grows no faster than
// sorting keeps its "x-sort".
func BenchmarkSolve(b *testing.B) {
	for _, rows := range []int{6, 12, 24, 48, 120, 480, 1200, 4800, 10000} {
		b.Run(fmt.Sprintf("rows=%d", rows), func(b *testing.B) { benchmark(b, rows, plan.Solver(), asIs) })
	}
	b.Run("ten-times-the-rows", tenTimesTheRows)
	for _, kind := range []leveling.AimKind{leveling.Closest, leveling.MatchRow} {
		b.Run(kind.String(), func(b *testing.B) {
			benchmark(b, 48, plan.Solver(), func(p *plan.Problem) { p.Aim.Kind, p.Aim.Row = kind, 1 })
		})
	}
	b.Run("nothing-provable", func(b *testing.B) {
		benchmark(b, 48, plan.Solver(), func(p *plan.Problem) { p.Aim.ToleranceMm = 0.7 })
	})
}

// tenTimesTheRows tells how much longer 480 rows take than 48, the two timed in turn.
func tenTimesTheRows(b *testing.B) {
	small, large, solve := bigShops(48), bigShops(480), plan.Solver()
	const turns = 10
	var few, many time.Duration
	for i := 0; b.Loop(); i++ {
		begin := time.Now()
		for j := range turns {
			solve(small[(i*turns+j)%len(small)])
		}
		few += time.Since(begin)
		begin = time.Now()
		solve(large[i%len(large)])
		many += time.Since(begin)
	}
	b.ReportMetric(turns*float64(many)/float64(few), "x-48rows")
}

// BenchmarkCompute is the plan with trade-off, marks and words, as a service computes one after the other.
func BenchmarkCompute(b *testing.B) {
	var planner plan.Planner
	benchmark(b, 48, planner.Compute, asIs)
}

func BenchmarkTradeoff(b *testing.B) {
	for _, rows := range []int{48, 480} {
		b.Run(fmt.Sprintf("rows=%d", rows), func(b *testing.B) {
			base := sortBaseline(bigShop(rows, 40, 0))
			var shops []func() []plan.TradeoffPoint
			for i := range max(2, 960/rows) {
				shops = append(shops, plan.TradeoffOf(bigShop(rows, 40, uint64(i))))
			}
			b.ReportAllocs()
			b.ResetTimer()
			for i := 0; b.Loop(); i++ {
				shops[i%len(shops)]()
			}
			b.ReportMetric(float64(b.Elapsed())/float64(b.N)/float64(base), "x-sort")
		})
	}
}
