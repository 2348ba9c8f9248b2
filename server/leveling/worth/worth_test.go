package worth

import (
	"cmp"
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"testing"
	"time"

	"rowdatum/server/leveling/estimate"
)

// TestQuantiles works the table out.
func TestQuantiles(t *testing.T) {
	for k, got := range quantiles {
		if want := estimate.NormalQuantile((float64(k) + 0.5) / points); math.Abs(got-want) > 1e-12 {
			t.Errorf("quantile %d is %v, want %v", k, got, want)
		}
	}
}

// TestPointsAreStratified: each dimension has every quantile once, and within each stratum one of every
// 32nd of the distribution.
func TestPointsAreStratified(t *testing.T) {
	for dimension := range moreMiddles + mostGroups - 1 {
		z, table := sequence(dimension), whole()
		var seen [points]bool
		var parts [strata][points / strata]bool
		for k := range points {
			q := z.next(&table)
			at, _ := slices.BinarySearchFunc(quantiles[:], -math.Abs(q), cmp.Compare[float64])
			if q > 0 {
				at = points - 1 - at
			}
			if seen[at] {
				t.Fatalf("dimension %d has quantile %d twice", dimension, at)
			}
			seen[at] = true
			parts[k%strata][at/strata] = true
		}
		for s, part := range parts {
			if slices.Contains(part[:], false) {
				t.Fatalf("dimension %d, stratum %d leaves out a part of the distribution", dimension, s)
			}
		}
	}
}

// d2 are the expected ranges of n standard Gaussians that control charts are drawn with: n = 2 to 10 to 8
// decimals by R 4.2.2 (tabulated studentised ranges integrate to the same), n = 11 to 25 as published in A. M. Joglekar,
// Statistical Methods for Six Sigma (Wiley, 2003), Appendix G, by permission of ASTM International.
var d2 = map[int]float64{
	2: 1.12837917, 3: 1.69256875, 4: 2.05875075, 5: 2.32592895, 6: 2.53441272, 7: 2.70435675, 8: 2.84720061, 9: 2.97002632, 10: 3.07750546,
	11: 3.173, 12: 3.258, 13: 3.336, 14: 3.407, 15: 3.472, 16: 3.532, 17: 3.588, 18: 3.640, 19: 3.689, 20: 3.735, 21: 3.778, 22: 3.819, 23: 3.858, 24: 3.895, 25: 3.931,
}

// like are n rows of which nothing but a Gaussian around depth 50 is known, each for itself.
func like(n int, sd float64) (*Population, []Row) {
	rows := make([]Row, n)
	for i := range rows {
		rows[i].Now = Depth{50, sd * sd}
	}
	return Apart(), rows
}

// TestExpectedRange compares the points' own range of n like Gaussians with d2.
func TestExpectedRange(t *testing.T) {
	for n := 2; n <= 25; n++ {
		p, rows := like(n, 10)
		got := p.Of(rows, Target{DatumMm: 50, ToleranceMm: 1, Matched: -1}).Spread.MeanMm / 10
		if miss := got/d2[n] - 1; math.Abs(miss) > 0.01 {
			t.Errorf("%d Gaussians: range %.4f, d2 is %.4f", n, got, d2[n])
		}
	}
}

// TestJointChance compares with the chance that is known: like rows, each for itself.
func TestJointChance(t *testing.T) {
	worst := 0.0
	for n := 1; n <= 48; n++ {
		for _, tolerance := range []float64{1, 1.5, 2, 2.5} {
			p, rows := like(n, 1)
			got := p.Of(rows, Target{DatumMm: 50, ToleranceMm: tolerance, Matched: -1}).Chance
			want := math.Pow(math.Erf(tolerance/math.Sqrt2), float64(n))
			worst = max(worst, math.Abs(got-want))
		}
	}
	if worst > 0.025 {
		t.Errorf("the joint chance is up to %.3f off", worst)
	}
	t.Logf("joint chance within %.3f", worst)
}

// TestAgainstSimulation compares random planters with a plain simulation of the same model: 20,000 draws
// of σ², of g, of the target and of every row.
func TestAgainstSimulation(t *testing.T) {
	const cases, draws = 40, 20000
	r := rand.New(rand.NewPCG(3, 4))
	var chance, mean, edge, squares float64
	for range cases {
		n := 1 + r.IntN(30)
		rows := make([]Row, n)
		for i := range rows {
			u, move := 0.3+0.5*r.Float64(), 0.0
			rows[i].First = Depth{50 + 2*r.NormFloat64(), u * u}
			rows[i].Now, rows[i].CovarianceMm2 = rows[i].First, u*u
			if r.IntN(2) == 0 {
				move = 0.2 * r.Float64()
				rows[i].Now = Depth{50 + 0.5*r.NormFloat64(), u*u + move}
			}
			rows[i].Aside, rows[i].Unclaimed = r.IntN(12) == 0, r.IntN(12) == 0
		}
		target := Target{DatumMm: 50, ToleranceMm: 2 + 3*r.Float64(), Matched: -1}
		switch r.IntN(3) {
		case 0:
			target.ZeroUncertaintyMm = r.Float64()
		case 1:
			target.Matched = r.IntN(n)
			rows[target.Matched].Aside = false
		}
		got, want := NewPopulation(rows).Of(rows, target), simulated(rows, target, draws, r)
		chance = max(chance, math.Abs(got.Chance-want.Chance))
		squares += (got.Chance - want.Chance) * (got.Chance - want.Chance) / cases
		mean = max(mean, math.Abs(got.Spread.MeanMm-want.Spread.MeanMm)/max(0.5, want.Spread.MeanMm))
		edge = max(edge, math.Abs(got.Spread.ToMm-want.Spread.ToMm)/max(0.5, want.Spread.ToMm))
	}
	if chance > 0.05 || math.Sqrt(squares) > 0.02 || mean > 0.03 || edge > 0.08 {
		t.Errorf("off by %.3f in chance, by %.3f of the mean spread, by %.3f of its upper end", chance, mean, edge)
	}
	t.Logf("off by at most %.3f in chance (root mean square %.3f), %.3f of the mean spread, %.3f of its upper end", chance, math.Sqrt(squares), mean, edge)
}

// simulated is the plain twin: pseudo-random numbers, χ² as a sum of squares, nothing cut into strata.
func simulated(rows []Row, t Target, draws int, r *rand.Rand) Worth {
	groups, used := make([]int8, len(rows)), 1
	for i := range groups {
		groups[i] = alone
	}
	if len(rows) >= 4 {
		groups, used = groupsOf(rows)
	}
	within := 0
	var spreads []float64
	for range draws {
		depths := make([]float64, len(rows))
		for i, row := range rows { // those that stand each for itself
			depths[i] = row.Now.Mm + math.Sqrt(row.Now.VarianceMm2)*r.NormFloat64()
		}
		for g := range used {
			simulateGroup(depths, rows, groups, int8(g), r)
		}
		at := t.DatumMm + t.ZeroUncertaintyMm*r.NormFloat64()
		if t.Matched >= 0 {
			at = depths[t.Matched]
		}
		all, low, high := true, math.Inf(1), math.Inf(-1)
		for i, d := range depths {
			if rows[i].Aside {
				continue
			}
			all = all && (rows[i].Unclaimed || math.Abs(d-at) <= t.ToleranceMm)
			low, high = min(low, d), max(high, d)
		}
		if all {
			within++
		}
		spreads = append(spreads, max(0, high-low))
	}
	slices.Sort(spreads)
	return Worth{float64(within) / float64(draws), Spread{estimate.Mean(spreads), spreads[draws/20], spreads[draws*19/20]}}
}

// simulateGroup draws the depths of the rows of one group.
func simulateGroup(depths []float64, rows []Row, groups []int8, group int8, r *rand.Rand) {
	var alike []Row
	for i, row := range rows {
		if groups[i] == group {
			alike = append(alike, row)
		}
	}
	if len(alike) == 0 {
		return
	}
	n, mean, own, squares, chi2 := float64(len(alike)), 0.0, 0.0, 0.0, 0.0
	for _, row := range alike {
		mean += row.First.Mm / n
		own += row.First.VarianceMm2 / n
	}
	for _, row := range alike {
		squares += (row.First.Mm - mean) * (row.First.Mm - mean)
	}
	for range len(alike) - 1 {
		z := r.NormFloat64()
		chi2 += z * z
	}
	between := max(0, squares/chi2-own)
	weights, weighted := 0.0, 0.0
	for _, row := range alike {
		weights += 1 / (between + row.First.VarianceMm2)
		weighted += row.First.Mm / (between + row.First.VarianceMm2)
	}
	g := weighted/weights + r.NormFloat64()/math.Sqrt(weights)
	for i, row := range rows {
		if groups[i] != group {
			continue
		}
		// The first depth, then the present one given it.
		w := between / (between + row.First.VarianceMm2)
		first := g + w*(row.First.Mm-g) + math.Sqrt(w*row.First.VarianceMm2)*r.NormFloat64()
		slope := row.CovarianceMm2 / row.First.VarianceMm2
		rest := row.Now.VarianceMm2 - slope*row.CovarianceMm2
		depths[i] = row.Now.Mm + slope*(first-row.First.Mm) + math.Sqrt(max(0, rest))*r.NormFloat64()
	}
}

// TestSame: the same question has the same answer, and every row aside leaves nothing to be unsure of.
func TestSame(t *testing.T) {
	_, rows := like(6, 1)
	for i := range rows {
		rows[i].First, rows[i].CovarianceMm2 = rows[i].Now, 1
	}
	target := Target{DatumMm: 50, ToleranceMm: 2, Matched: -1}
	if a, b := NewPopulation(rows).Of(rows, target), NewPopulation(rows).Of(rows, target); a != b {
		t.Errorf("%v, then %v", a, b)
	}
	for i := range rows {
		rows[i].Aside = true
	}
	if got := NewPopulation(rows).Of(rows, target); got != (Worth{Chance: 1}) {
		t.Errorf("no row is claimed: %v", got)
	}
	if got := NewPopulation(nil).Of(nil, target); got != (Worth{Chance: 1}) {
		t.Errorf("no rows: %v", got)
	}
}

// TestExactRows: rows that are known exactly have an exact spread.
func TestExactRows(t *testing.T) {
	var rows []Row
	for _, mm := range []float64{50, 51, 52, 53} {
		rows = append(rows, Row{First: Depth{mm, 0}, Now: Depth{mm, 0}})
	}
	got := NewPopulation(rows).Of(rows, Target{DatumMm: 51.5, ToleranceMm: 1.5, Matched: -1})
	if want := (Worth{1, Spread{3, 3, 3}}); got != want {
		t.Errorf("got %v, want %v", got, want)
	}
}

// TestGroups: rows that lie far from all others stand alone, like rows are one group, and rows that lie far from the
// others as a whole are a group of their own.
func TestGroups(t *testing.T) {
	for _, c := range []struct {
		name   string
		depths []float64
		want   []int8
	}{
		{"like rows", []float64{50, 50.8, 49.2, 50, 51.6, 49.2, 50.8, 50}, []int8{0, 0, 0, 0, 0, 0, 0, 0}},
		{"exactly alike", []float64{50, 50, 50, 50}, []int8{0, 0, 0, 0}},
		{"one off by half an inch", []float64{50, 50.8, 49.2, 37.3, 51.6, 49.2, 50.8, 50}, []int8{0, 0, 0, alone, 0, 0, 0, 0}},
		{"both ends off", []float64{36, 50.8, 49.2, 50, 51.6, 49.2, 50.8, 62}, []int8{alone, 0, 0, 0, 0, 0, 0, alone}},
		{"everywhere", []float64{36, 40, 45, 49, 53, 58, 62, 66}, []int8{0, 0, 0, 0, 0, 0, 0, 0}},
		{"four edge rows worn alike", []float64{42, 42.8, 50, 50.8, 49.2, 51.6, 50, 50.8, 49.2, 50, 42, 41.2}, []int8{1, 1, 0, 0, 0, 0, 0, 0, 0, 0, 1, 1}},
	} {
		var rows []Row
		for _, mm := range c.depths {
			rows = append(rows, Row{First: Depth{mm, 0.45}})
		}
		if got, _ := groupsOf(rows); !slices.Equal(got, c.want) {
			t.Errorf("%s: groups %v, want %v", c.name, got, c.want)
		}
	}
}

func TestNth(t *testing.T) {
	r := rand.New(rand.NewPCG(5, 6))
	for range 2000 {
		xs := make([]float64, 1+r.IntN(40))
		for i := range xs {
			xs[i] = float64(r.IntN(12))
		}
		sorted, n := slices.Sorted(slices.Values(xs)), r.IntN(len(xs))
		if got := nth(xs, n); got != sorted[n] {
			t.Fatalf("place %d of %v is %v, got %v", n, sorted, sorted[n], got)
		}
	}
}

// normalsBaseline is the time to draw as many pseudo-random Gaussians as a question of n rows has points, twice.
func normalsBaseline(n int) time.Duration {
	const rounds = 20
	r := rand.New(rand.NewPCG(9, 10))
	begin := time.Now()
	for range 2 * rounds * n * points {
		r.NormFloat64()
	}
	return time.Since(begin) / rounds
}

// BenchmarkWorth is as found and as planned, which is what a plan asks.
func BenchmarkWorth(b *testing.B) {
	for _, n := range []int{6, 24, 120} {
		r := rand.New(rand.NewPCG(7, 8))
		rows := make([]Row, n)
		for i := range rows {
			rows[i].First = Depth{50 + 2*r.NormFloat64(), 0.3}
			rows[i].Now, rows[i].CovarianceMm2 = rows[i].First, 0.3
		}
		b.Run(fmt.Sprintf("rows=%d", n), func(b *testing.B) {
			base := normalsBaseline(n)
			b.ResetTimer()
			for b.Loop() {
				p := NewPopulation(rows)
				p.Of(rows, Target{DatumMm: 50, ToleranceMm: 3, Matched: -1})
				p.Of(rows, Target{DatumMm: 50, ToleranceMm: 3, Matched: -1})
			}
			b.ReportMetric(float64(b.Elapsed())/float64(b.N)/float64(base), "x-normals")
		})
	}
}
