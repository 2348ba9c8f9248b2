package alike

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"rowdatum/server/leveling"
)

// fold is the sections of a frame of n rows that folds in so many equal parts.
func fold(n, parts int) (out []leveling.Section) {
	for i := range parts {
		out = append(out, leveling.Section{FirstRow: i*n/parts + 1, LastRow: (i + 1) * n / parts})
	}
	return out
}

// readRows are rows 1 mm apart (sd) read once by a fixture with a scatter of 0.5 mm and a ruling, those of shifted
// read by so much too deep.
func readRows(random *rand.Rand, n int, ruling, shift float64, shifted func(row int) bool) Problem {
	p := Problem{RulingMm: ruling}
	for row := 1; row <= n; row++ {
		depth := 50 + random.NormFloat64() + 0.5*random.NormFloat64()
		if shifted(row) {
			depth += shift
		}
		p.Rows = append(p.Rows, Row{Number: row, DepthMm: math.Round(depth/ruling) * ruling})
	}
	return p
}

// TestSections: sections that read 3 mm off are found, and named; equal rows are left in peace. The
// bounds are our own.
func TestSections(t *testing.T) {
	t.Parallel()
	const trials = 1000
	random := rand.New(rand.NewPCG(18, 1))
	share := func(n, parts int, shift float64, shifted func(int) bool) float64 {
		found := 0
		for range trials {
			p := readRows(random, n, 25.4/16, shift, shifted)
			p.Sections = fold(n, parts)
			if f := Find(p); f != nil {
				found++
			}
		}
		return float64(found) / trials
	}
	for _, c := range []struct {
		name           string
		rows, sections int
		shift          float64
		shifted        func(int) bool
		least, most    float64
	}{
		{"one outer section of 24 rows", 24, 3, 3, func(r int) bool { return r <= 8 }, 0.9, 1},
		{"both outer sections of 24 rows", 24, 3, 3, func(r int) bool { return r <= 8 || r > 16 }, 0.9, 1},
		{"both outer sections of 24 rows, 1.5 mm", 24, 3, 1.5, func(r int) bool { return r <= 8 || r > 16 }, 0, 1},
		{"an outer section of 12 rows", 12, 3, 3, func(r int) bool { return r <= 4 }, 0.6, 1},
		{"both outer sections of 12 rows", 12, 3, 3, func(r int) bool { return r <= 4 || r > 8 }, 0.6, 1},
		{"equal, 6 rows", 6, 0, 0, func(int) bool { return false }, 0, 0.05},
		{"equal, 12 rows", 12, 3, 0, func(int) bool { return false }, 0, 0.06},
		{"equal, 24 rows", 24, 3, 0, func(int) bool { return false }, 0, 0.06},
	} {
		got := share(c.rows, c.sections, c.shift, c.shifted)
		t.Logf("%s: %.3f", c.name, got)
		if got < c.least || got > c.most {
			t.Errorf("%s: found in %.3f, want %.2f to %.2f", c.name, got, c.least, c.most)
		}
	}
}

// TestFindNames: the rows that are off are the ones named, by how much and which way.
func TestFindNames(t *testing.T) {
	t.Parallel()
	random := rand.New(rand.NewPCG(18, 2))
	for name, c := range map[string]struct {
		sections []leveling.Section
		rear     func(int) bool
		shifted  func(int) bool
		want     []int
	}{
		"a section":      {sections: fold(24, 3), shifted: func(r int) bool { return r > 16 }, want: []int{17, 18, 19, 20, 21, 22, 23, 24}},
		"a third":        {shifted: func(r int) bool { return r > 16 }, want: []int{17, 18, 19, 20, 21, 22, 23, 24}},
		"the left wing":  {shifted: func(r int) bool { return r <= 12 }, want: []int{1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11, 12}},
		"the rear rank":  {rear: func(r int) bool { return r%2 == 0 }, shifted: func(r int) bool { return r%2 == 0 }, want: []int{2, 4, 6, 8, 10, 12, 14, 16, 18, 20, 22, 24}},
		"the edge rows":  {shifted: func(r int) bool { return r <= 4 || r > 20 }, want: []int{1, 2, 3, 4, 21, 22, 23, 24}},
		"a section of 2": {sections: []leveling.Section{{FirstRow: 1, LastRow: 2}, {FirstRow: 3, LastRow: 24}}, shifted: func(r int) bool { return r <= 2 }, want: []int{1, 2}},
	} {
		p := readRows(random, 24, 25.4/16, -6, c.shifted)
		p.Sections = c.sections
		for i := range p.Rows {
			if c.rear != nil && c.rear(p.Rows[i].Number) {
				p.Rows[i].Rank = leveling.RearRank
			}
		}
		got := Find(p)
		if got == nil || !slices.Equal(got.Rows, c.want) || math.Abs(got.ApartMm+6) > 2.5 {
			t.Errorf("%s: found %+v, want rows %v some 6 mm shallower", name, got, c.want)
		}
	}
}

// TestNoFinding: too few rows, no difference at all, and one within the ruling.
func TestNoFinding(t *testing.T) {
	t.Parallel()
	level := func(n int, mm func(i int) float64) Problem {
		p := Problem{RulingMm: 2}
		for i := range n {
			p.Rows = append(p.Rows, Row{Number: i + 1, DepthMm: mm(i)})
		}
		return p
	}
	for name, p := range map[string]Problem{
		"no rows":           level(0, nil),
		"three rows":        level(3, func(i int) float64 { return float64(10 * i) }),
		"all alike":         level(24, func(int) float64 { return 50 }),
		"within the ruling": level(24, func(i int) float64 { return 50 + 2*math.Floor(float64(i)/12) }),
	} {
		if got := Find(p); got != nil {
			t.Errorf("%s: found %+v", name, got)
		}
	}
}

// TestChanceAgreesWithAllOrders compares P with the share over every deal of the depths to the rows, a plain twin
// without random orders: for two groups of 4 in 8 rows there are 40,320.
func TestChanceAgreesWithAllOrders(t *testing.T) {
	t.Parallel()
	random := rand.New(rand.NewPCG(18, 3))
	for range 20 {
		p := readRows(random, 8, 25.4/64, 2.5, func(r int) bool { return r <= 4 })
		found := newTrial(p)
		_, largest := found.largest(found.depths)
		all, asLarge := 0, 0
		everyOrder(slices.Clone(found.depths), func(depths []float64) {
			all++
			if _, b := found.largest(depths); b >= largest*(1-1e-9) {
				asLarge++
			}
		})
		want := float64(asLarge) / float64(all)
		if want > 0.04 {
			continue // counted only as far as it matters
		}
		got := float64(found.asLarge(largest)) / (orders + 1)
		if sd := math.Sqrt(want * (1 - want) / orders); math.Abs(got-want) > 4*sd+1.0/orders {
			t.Errorf("P is %.4f, over all orders %.4f", got, want)
		}
	}
}

// everyOrder calls use with each order of xs (Heap's algorithm).
func everyOrder(xs []float64, use func([]float64)) {
	var permute func(k int)
	permute = func(k int) {
		if k <= 1 {
			use(xs)
			return
		}
		for i := range k {
			permute(k - 1)
			if k%2 == 0 {
				xs[i], xs[k-1] = xs[k-1], xs[i]
			} else {
				xs[0], xs[k-1] = xs[k-1], xs[0]
			}
		}
	}
	permute(len(xs))
}
