package estimate_test

import (
	"encoding/csv"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strconv"
	"testing"

	"rowdatum/server/leveling"
	"rowdatum/server/leveling/estimate"
)

func near(t *testing.T, what string, got, want, within float64) {
	t.Helper()
	if !(math.Abs(got-want) <= within) {
		t.Errorf("%s is %.15g, want %.15g within %g", what, got, want, within)
	}
}

func relative(t *testing.T, what string, got, want, within float64) {
	t.Helper()
	near(t, what, got, want, within*math.Abs(want))
}

// Certified values: NIST Statistical Reference Datasets, univariate summary statistics. How closely each
// set can be met follows from its figures not being exact in binary.
func TestMeanAndSDOnNIST(t *testing.T) {
	alternating := func(first, low, high float64) []float64 { // NumAcc2 to 4 by their rule, 1001 values
		out := []float64{first}
		for range 500 {
			out = append(out, low, high)
		}
		return out
	}
	for _, c := range []struct {
		name           string
		xs             []float64
		mean, sd       float64
		within, sdOnly float64
	}{
		{"Lew", column(t, "Lew.csv"), -177.435, 277.332168044316, 1e-12, 1e-12},
		{"Mavro", column(t, "Mavro.csv"), 2.001856, 0.000429123454003053, 1e-12, 1e-12},
		{"Michelso", column(t, "Michelso.csv"), 299.8524, 0.0790105478190518, 1e-12, 1e-12},
		{"NumAcc1", []float64{10000001, 10000003, 10000002}, 10000002, 1, 1e-12, 1e-12},
		{"NumAcc2", alternating(1.2, 1.1, 1.3), 1.2, 0.1, 1e-12, 1e-12},
		{"NumAcc3", alternating(1000000.2, 1000000.1, 1000000.3), 1000000.2, 0.1, 1e-12, 1e-8},
		{"NumAcc4", alternating(10000000.2, 10000000.1, 10000000.3), 10000000.2, 0.1, 1e-12, 1e-7},
	} {
		relative(t, c.name+" mean", estimate.Mean(c.xs), c.mean, c.within)
		relative(t, c.name+" SD", estimate.SD(c.xs), c.sd, c.sdOnly)
	}
}

func column(t *testing.T, name string) []float64 {
	t.Helper()
	f, err := os.Open(filepath.Join("testdata", name))
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	r := csv.NewReader(f)
	r.Comment = '#'
	lines, err := r.ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	var out []float64
	for _, line := range lines[1:] {
		x, err := strconv.ParseFloat(line[0], 64)
		if err != nil {
			t.Fatal(err)
		}
		out = append(out, x)
	}
	return out
}

// JCGM 100:2008 (GUM), 4.4.3 and table 1: twenty readings of a temperature, °C.
func TestTypeA(t *testing.T) {
	xs := []float64{
		96.9, 98.18, 98.25, 98.61, 99.03, 99.49, 99.56, 99.74, 99.89, 100.07,
		100.33, 100.42, 100.68, 100.95, 101.11, 101.2, 101.57, 101.84, 102.36, 102.72,
	}
	near(t, "mean", estimate.Mean(xs), 100.145, 1e-9)
	near(t, "s", estimate.SD(xs), 1.48884448306, 1e-9)
	near(t, "u of the mean", estimate.SD(xs)/math.Sqrt(20), 0.332915747205, 1e-9)
	near(t, "printed s", estimate.SD(xs), 1.489, 0.0005)
	near(t, "printed u", estimate.SD(xs)/math.Sqrt(20), 0.333, 0.0005)
	// A fixture that scatters so and has no ruling gives the same u.
	u := estimate.Uncertainty(leveling.Fixture{RepeatabilityMm: 1.48884448306}, 20)
	near(t, "u of a fixture", u, 0.332915747205, 1e-9)
}

// A ruling is a uniform distribution: half-width over √3 (GUM 4.3.7), 0.29 of the ruling (F.2.2.1). A
// fixture that does not scatter leaves all of it, however often the row is read. The tape cases are our
// own arithmetic.
func TestRulingIsUniform(t *testing.T) {
	for _, c := range []struct{ resolutionMm, u float64 }{
		{0.01, 0.00288675134594813},
		{25.4 / 16, 0.458271776169},
		{25.4 / 32, 0.229135888085},
		{0.5, 0.144337567297},
	} {
		for _, k := range []int{1, 2, 100} {
			relative(t, "u of a ruling", estimate.Uncertainty(leveling.Fixture{ResolutionMm: c.resolutionMm}, k), c.u, 1e-11)
		}
	}
}

// The closed form for little scatter and the sum for more must meet, and both equal the sum taken far.
func TestLastingPartOfRuling(t *testing.T) {
	const many = 1e18 // readings: nothing but the lasting part is left
	for _, rho := range []float64{0.01, 0.03, 0.07, 0.0795, 0.0797, 0.1, 0.2, 0.31, 0.5, 1} {
		want := 0.0
		for m := 1.0; m < 2000; m++ {
			want += math.Exp(-4*math.Pi*math.Pi*m*m*rho*rho) / (m * m)
		}
		want = math.Sqrt(want / 2 / math.Pi / math.Pi)
		near(t, "lasting u", estimate.Uncertainty(leveling.Fixture{ResolutionMm: 1, RepeatabilityMm: rho}, many), want, 1e-9*want+2e-9)
	}
	f := leveling.Fixture{ResolutionMm: 3.175, RepeatabilityMm: 0.5} // 1/8 inch: figures of the description
	near(t, "provable by one reading", estimate.ProvableTolerance(estimate.Uncertainty(f, 1), 0.9), 1.72, 0.005)
	near(t, "provable by two", estimate.ProvableTolerance(estimate.Uncertainty(f, 2), 0.9), 1.32, 0.005)
	near(t, "provable by any number", estimate.ProvableTolerance(estimate.Uncertainty(f, many), 0.9), 0.73, 0.005)
}

func TestStay(t *testing.T) {
	f := leveling.Fixture{ResolutionMm: 25.4 / 16, RepeatabilityMm: 0.5, FloorMm: 1}
	e := estimate.Stay(f, []float64{50.8, 52.3875})
	near(t, "depth", e.DepthMm, 51.59375, 1e-12)
	near(t, "u", e.UncertaintyMm, math.Sqrt(0.48091*0.48091+1), 1e-5)
	near(t, "scale", e.Scale, 1, 0)
	for n := range 5 {
		near(t, "u after more", e.UncertaintyAfter(n), estimate.Uncertainty(f, 2+n), 1e-15)
	}
	near(t, "least u", e.Least(), estimate.Uncertainty(f, 1e18), 1e-12)
	e.Budget.Prior = 4 // known to 0.5 mm from before
	v := 1 / (4 + 1/(e.Budget.PerReadingMm2/3+e.Budget.LastingMm2))
	near(t, "u after one more, with a prior", e.UncertaintyAfter(1), math.Sqrt(v+1), 1e-12)
	near(t, "u of an estimate from elsewhere", estimate.Estimate{UncertaintyMm: 0.7}.UncertaintyAfter(5), 0.7, 0)
}

// JCGM 106:2012, 7.4 (viscosity, two limits) and 7.3.3 (one limit, here a tolerance whose other end is
// far; the inputs are from memory, so they count as arithmetic only).
func TestChanceOfConformity(t *testing.T) {
	near(t, "7.4", estimate.Chance(13.6-(12.5+16.3)/2, 1.8, (16.3-12.5)/2), 0.6626297865, 1e-9)
	near(t, "7.3.3 example 1", estimate.Chance(1000-0.07, 0.05, 1000), 0.9192433408, 1e-9)
	near(t, "7.3.3 example 2", estimate.Chance(1000-19.7, 8.6, 1000), 0.9890095474, 1e-9)
	for _, c := range [][3]float64{ // own arithmetic, ± 1.6 mm: deviation, u, chance
		{-1.6, 0.2, 0.5}, {-1.6, 0.8, 0.4999683288}, {-1.2, 0.2, 0.9772498681}, {-1.2, 0.8, 0.6912298322},
		{-0.8, 0.4, 0.9772498671}, {0, 0.4, 0.9999366575}, {0, 0.8, 0.9544997361}, {0.8, 0.8, 0.839994848},
		{1.2, 0.4, 0.8413447461}, {2, 0.2, 0.02275013195}, {2, 0.4, 0.1586552539}, {2, 0.8, 0.3085341411},
	} {
		near(t, "own table", estimate.Chance(c[0], c[1], 1.6), c[2], 1e-9)
	}
	near(t, "certain, at the edge", estimate.Chance(1.6, 0, 1.6), 1, 0)
	near(t, "certain, beyond it", estimate.Chance(1.7, 0, 1.6), 0, 0)
	// JCGM 106:2012, 8.3.3 (from memory): a speed of u 2 % is above 100 km/h at 99.9 % from 106.6 on.
	near(t, "8.3.3", 100/(1-0.02*estimate.NormalQuantile(0.999)), 106.58761, 1e-5)
}

// The half-width and the off-distance are where the chance is c and 1 - c: held against bisection of the
// chance itself.
func TestHalfWidth(t *testing.T) {
	bisect := func(u, tol, p float64) float64 {
		lo, hi := 0.0, tol+50*u
		for range 200 {
			if mid := (lo + hi) / 2; estimate.Chance(mid, u, tol) >= p {
				lo = mid
			} else {
				hi = mid
			}
		}
		return lo
	}
	rng := rand.New(rand.NewPCG(1, 2))
	for range 20000 {
		tol, c := 0.2+4*rng.Float64(), 0.5+0.49999*rng.Float64()
		u := tol * 1.5 * rng.Float64() * rng.Float64()
		h, ok := estimate.HalfWidth(u, tol, c)
		if provable := estimate.ProvableTolerance(u, c) <= tol; ok != provable {
			t.Fatalf("u %v, tol %v, c %v: half-width %v, provable %v", u, tol, c, ok, provable)
		}
		// Where the chance is flat in the distance its last digits leave the distance open.
		slack := func(d float64) float64 {
			slope := math.Abs(estimate.Chance(d+1e-4*tol, u, tol)-estimate.Chance(d, u, tol)) / (1e-4 * tol)
			return 1e-12 + 1e-15/max(slope, 1e-8)
		}
		if ok {
			near(t, "half-width", h, bisect(u, tol, c), slack(h))
			if !estimate.Accept(-h, u, tol, c) || estimate.Accept(h+1e-9, u, tol, c) {
				t.Errorf("u %v, tol %v, c %v: the end is not closed", u, tol, c)
			}
		}
		g := estimate.OffDistance(u, tol, c)
		if estimate.Chance(0, u, tol) <= 1-c {
			near(t, "off-distance where all is off", g, 0, 0)
		} else {
			near(t, "off-distance", g, bisect(u, tol, 1-c), slack(g))
		}
		if ok && g < h-1e-12 {
			t.Errorf("u %v, tol %v, c %v: even to %v, off from %v", u, tol, c, h, g)
		}
		if t.Failed() {
			t.Fatalf("at u %v, tol %v, c %v", u, tol, c)
		}
	}
	h, ok := estimate.HalfWidth(0, 3.175, 0.9)
	near(t, "half-width of a certain row", h, 3.175, 0)
	if !ok {
		t.Error("a certain row must be acceptable")
	}
}

// Normal cdf and quantiles: own computation with mpmath, 30 digits.
func TestNormal(t *testing.T) {
	for x, p := range map[float64]float64{
		-6: 9.8658764503769814e-10, -3: 0.0013498980316300945, -1.96: 0.024997895148220434, -1: 0.15865525393145705, 0: 0.5,
		0.5: 0.6914624612740131, 1: 0.84134474606854295, 1.4: 0.91924334076622895, 2: 0.97724986805182079, 3: 0.99865010196836991, 6: 0.99999999901341235,
	} {
		near(t, "cdf", estimate.NormalCDF(x), p, min(1e-12, 1e-6*p))
		near(t, "quantile of the cdf", estimate.NormalQuantile(p), x, 2e-8)
	}
	for p, x := range map[float64]float64{0.90: 1.2815515655446, 0.95: 1.6448536269515, 0.975: 1.9599639845401, 0.99: 2.3263478740408, 0.995: 2.5758293035489} {
		near(t, "quantile", estimate.NormalQuantile(p), x, 5e-13)
	}
}

// Student's t: own computation with mpmath, 30 digits, agreed with R to 5e-12.
func TestStudent(t *testing.T) {
	for _, c := range []struct{ nu, p975, p995 float64 }{
		{1, 12.7062047361747, 63.6567411628716}, {2, 4.30265272974946, 9.92484320091829}, {3, 3.18244630528371, 5.84090930973336},
		{4, 2.77644510519779, 4.60409487134999}, {5, 2.57058183563632, 4.03214298355523}, {6, 2.44691185114497, 3.70742802132478},
		{7, 2.36462425159279, 3.49948329735049}, {8, 2.30600413520417, 3.3553873313334}, {9, 2.26215716279821, 3.24983554159213},
		{10, 2.22813885198627, 3.16927267261695}, {15, 2.13144954555978, 2.94671288347524}, {20, 2.08596344726586, 2.84533970978611},
		{30, 2.04227245630124, 2.74999565356723}, {60, 2.00029782201426, 2.66028302885504}, {120, 1.97993040508244, 2.61742114510687},
	} {
		relative(t, "t 0.975", estimate.StudentQuantile(0.975, c.nu), c.p975, 1e-12)
		relative(t, "t 0.995", estimate.StudentQuantile(0.995, c.nu), c.p995, 1e-12)
	}
	near(t, "median", estimate.StudentQuantile(0.5, 4), 0, 1e-12)
	relative(t, "lower tail", estimate.StudentQuantile(0.025, 4), -2.77644510519779, 1e-8)
	near(t, "t without end of degrees", estimate.StudentQuantile(0.975, math.Inf(1)), estimate.NormalQuantile(0.975), 0)
	relative(t, "inflated", estimate.Inflated(0.5, 10, 0.95), 0.5*2.22813885198627/1.9599639845401, 1e-8)
	near(t, "inflated by nothing", estimate.Inflated(0.5, math.Inf(1), 0.95), 0.5, 1e-15)
}

// JCGM 100:2008 (GUM), G.4.1: three inputs of 0.25 %, 0.57 % and 0.82 % from 10, 5 and 15 observations.
// The printed 19.0 is 18.9987 unrounded.
func TestWelchSatterthwaite(t *testing.T) {
	near(t, "degrees", estimate.EffectiveDegrees([]float64{0.25, 0.57, 0.82}, []float64{9, 4, 14}), 18.998742, 1e-6)
	if nu := estimate.EffectiveDegrees([]float64{0.5, 0}, []float64{math.Inf(1), 5}); !math.IsInf(nu, 1) {
		t.Errorf("degrees of what is known are %v", nu)
	}
}

// The coverage that the description claims: 90 % intervals cover 90 to 94 % for rulings of 1 to 3.2 mm
// and scatter of 0.2 to 0.8 mm, k = 1 to 5; u_rep²/k + q²/12 covers up to 99.7 %; all of the ruling taken
// as independent covers as little as 52 %. The true depth lies anywhere between two rulings.
func TestCoverage(t *testing.T) {
	const trials = 40000
	rng := rand.New(rand.NewPCG(11, 12))
	z := estimate.NormalQuantile(0.95)
	common, naive := 0.0, 1.0
	for _, q := range []float64{1, 25.4 / 16, 2, 3.175} {
		for _, scatter := range []float64{0.2, 0.4, 0.5, 0.8} {
			f := leveling.Fixture{ResolutionMm: q, RepeatabilityMm: scatter}
			for k := 1; k <= 5; k++ {
				ours := z * estimate.Uncertainty(f, k)
				lasting := z * math.Sqrt(scatter*scatter/float64(k)+q*q/12)
				independent := z * math.Sqrt((scatter*scatter+q*q/12)/float64(k))
				var hits [3]float64
				for range trials {
					depth, sum := q*rng.Float64(), 0.0
					for range k {
						sum += math.Round((depth+scatter*rng.NormFloat64())/q) * q
					}
					for i, width := range []float64{ours, lasting, independent} {
						if math.Abs(sum/float64(k)-depth) <= width {
							hits[i] += 1.0 / trials
						}
					}
				}
				if hits[0] < 0.895 || hits[0] > 0.945 {
					t.Errorf("q %v, u_rep %v, k %d: covers %.3f", q, scatter, k, hits[0])
				}
				common, naive = max(common, hits[1]), min(naive, hits[2])
			}
		}
	}
	near(t, "most that the common formula covers", common, 0.997, 0.003)
	near(t, "least that independence covers", naive, 0.52, 0.02)
}

func TestSurprises(t *testing.T) {
	f := leveling.DefaultFixture()
	rows := func(rs ...[]float64) [][]float64 { return rs }
	for _, c := range []struct {
		name         string
		rows         [][]float64
		row, reading int // -1: none
		lonely       bool
	}{
		{"agreeing", rows([]float64{50.8, 50.8}, []float64{50.8, 52.3875}), -1, -1, false},
		{"one ruling apart", rows([]float64{49.2125, 50.8, 50.8}), -1, -1, false},
		{"slip of a digit", rows([]float64{50.8, 50.8}, []float64{50.8, 58.8, 50.8}), 1, 1, false},
		{"two that disagree: the later", rows([]float64{50.8, 60}), 0, 1, false},
		{"far from the rows", rows([]float64{50.8}, []float64{52.4}, []float64{49.2}, []float64{50.8}, []float64{70}), 4, 0, true},
		{"too few rows to say", rows([]float64{50.8}, []float64{52.4}, []float64{49.2}, []float64{70}), -1, -1, false},
		{"far, but read twice", rows([]float64{50.8}, []float64{52.4}, []float64{49.2}, []float64{50.8}, []float64{70, 70}), -1, -1, false},
	} {
		got := estimate.Surprises(f, c.rows)
		switch {
		case c.row < 0 && len(got) != 0:
			t.Errorf("%s: %+v", c.name, got)
		case c.row >= 0 && (len(got) != 1 || got[0].Row != c.row || got[0].Reading != c.reading || got[0].Lonely != c.lonely):
			t.Errorf("%s: %+v", c.name, got)
		}
	}
}

func FuzzEstimate(f *testing.F) {
	f.Add(1.5875, 0.5, 0.0, 50.8, 52.4, 3.175, 0.9)
	f.Add(0.0, 0.0, 0.0, 0.0, 0.0, 1e-9, 0.5)
	f.Add(300.0, 1e-9, 1.0, -20.0, 300.0, 300.0, 0.9999999)
	f.Fuzz(func(t *testing.T, q, rep, floor, a, b, tol, c float64) {
		for _, x := range []float64{q, rep, floor} {
			if !(x >= 0 && x <= 300) {
				return
			}
		}
		if !(a >= -20 && a <= 300 && b >= -20 && b <= 300 && tol > 0 && tol <= 300 && c >= 0.5 && c < 1) {
			return
		}
		fixture := leveling.Fixture{ResolutionMm: q, RepeatabilityMm: rep, FloorMm: floor}
		e := estimate.Stay(fixture, []float64{a, b})
		h, _ := estimate.HalfWidth(e.UncertaintyMm, tol, c)
		for _, x := range []float64{
			e.DepthMm, e.UncertaintyMm, e.UncertaintyAfter(7), e.Least(), h, estimate.OffDistance(e.UncertaintyMm, tol, c),
			estimate.Chance(a-b, e.UncertaintyMm, tol), estimate.ProvableTolerance(e.UncertaintyMm, c),
		} {
			if math.IsNaN(x) || math.IsInf(x, 0) {
				t.Fatalf("not finite: %v of %+v", x, e)
			}
		}
		if p := estimate.Chance(a-b, e.UncertaintyMm, tol); p < -1e-15 || p > 1 {
			t.Fatalf("chance %v", p)
		}
		estimate.Surprises(fixture, [][]float64{{a}, {b}, {a, b}, {a, a}, {b, a}})
	})
}

func ExampleStay() {
	window := leveling.DefaultFixture() // a tape ruled in 1/16 inch, seen through a window
	e := estimate.Stay(window, []float64{50.8, 50.8})
	fmt.Printf("%.1f mm, u %.3f mm; u %.3f mm after one more\n", e.DepthMm, e.UncertaintyMm, e.UncertaintyAfter(1))
	fmt.Printf("%.1f %% sure to be within 1/16 inch of 50 mm\n", 100*estimate.Chance(e.DepthMm-50, e.UncertaintyMm, 25.4/16))
	// Output:
	// 50.8 mm, u 0.481 mm; u 0.394 mm after one more
	// 94.9 % sure to be within 1/16 inch of 50 mm
}
