package dig_test

import (
	"math"
	"math/rand/v2"
	"testing"

	"rowdatum/server/leveling"
	"rowdatum/server/leveling/dig"
	"rowdatum/server/leveling/estimate"
)

// bounced is what became of one row whose seeds scatter times as much as those of the others, in percent.
type bounced struct{ apart, told, bouncing, others, means, othersMeans, someApart, someTold, offRight, off float64 }

// bounce digs runs fields of m rows with from to to seeds each; row 1 scatters times as much as the others.
func bounce(seed uint64, runs, m, from, to int, times, spread float64) bounced {
	rng := rand.New(rand.NewPCG(seed, 9))
	z := estimate.NormalQuantile(0.95)
	var b bounced
	rows := 0.0
	for range runs {
		const scatter = 4.0 // of seeds of one row, mm
		k := from + rng.IntN(to-from+1)
		p := dig.Problem{Aim: dig.DefaultAim()}
		truth := make([]float64, m)
		for r := range m {
			truth[r] = 50 + spread*rng.NormFloat64()
			s, own := leveling.RowSeeds{Row: r + 1}, scatter
			if r == 0 {
				own *= times
			}
			for range k {
				s.DepthsMm = append(s.DepthsMm, truth[r]+own*rng.NormFloat64())
			}
			p.Rows = append(p.Rows, s)
		}
		mean := estimate.Mean(truth)
		someApart, someTold := 0.0, 0.0
		for r, row := range dig.Analyze(p).Rows {
			in, meanIn := 0.0, 0.0
			if math.Abs(row.EffectMm-(truth[r]-mean)) <= z*row.UncertaintyMm {
				in = 1
			}
			if row.MeanFromMm <= truth[r] && truth[r] <= row.MeanToMm {
				meanIn = 1
			}
			if row.SetApart {
				someApart = 1
			}
			if row.Bounces {
				someTold = 1
			}
			if r > 0 {
				b.others, b.othersMeans, rows = b.others+in, b.othersMeans+meanIn, rows+1
				continue
			}
			b.bouncing, b.means = b.bouncing+in, b.means+meanIn
			if row.Verdict == leveling.Off {
				b.off++
				if math.Abs(truth[r]-mean) > p.Aim.ToleranceMm {
					b.offRight++
				}
			}
			if row.SetApart {
				b.apart++
			}
			if row.Bounces {
				b.told++
			}
		}
		b.someApart, b.someTold = b.someApart+someApart, b.someTold+someTold
	}
	b.offRight *= 100 / max(1, b.off)
	for _, share := range []*float64{&b.apart, &b.told, &b.bouncing, &b.means, &b.someApart, &b.someTold, &b.off} {
		*share *= 100 / float64(runs)
	}
	b.others *= 100 / rows
	b.othersMeans *= 100 / rows
	return b
}

// One row bounces: it is noticed, is not sent to its handle, and every row's interval holds the truth as often as it
// says. (By the scatter of all rows together its interval held 57 to 65 in 100.)
func TestBouncingRow(t *testing.T) {
	within := func(what string, percent, from, to float64) {
		if !(from <= percent && percent <= to) {
			t.Errorf("%s: %.1f %%, want %v to %v", what, percent, from, to)
		}
	}
	for _, m := range []int{6, 12, 16} {
		b := bounce(uint64(m), 1000, m, 5, 10, 2.45, 2)
		t.Logf("%d rows, 5 to 10 seeds: %+.1f", m, b)
		within("its interval of the mean", b.means, 85, 94)
		within("its interval", b.bouncing, 85, 94.5)
		within("the others' of the mean", b.othersMeans, 85, 94)
		within("the others'", b.others, 85, 94.5)
		within("called off", b.off, 0, 3)
		eight := bounce(uint64(m), 1000, m, 8, 8, 2.45, 2)
		t.Logf("%d rows, 8 seeds: %+.1f", m, eight)
		within("noticed with 8 seeds", eight.apart, 85, 100)
		within("told where to look with 8 seeds", eight.told, 78, 100)
	}
}

// Where all rows scatter alike, one dig in ten is told to look at a row's scatter, and the intervals hold.
func TestNoRowBounces(t *testing.T) {
	for _, m := range []int{6, 16} {
		b := bounce(uint64(m), 1000, m, 5, 10, 1, 2)
		t.Logf("%d rows: %+.1f", m, b)
		if !(b.someTold <= 14) {
			t.Errorf("%d rows: %.1f %% of digs are told of scatter", m, b.someTold)
		}
		if !(b.others >= 87 && b.others <= 95 && b.othersMeans >= 86) {
			t.Errorf("%d rows: intervals cover %.1f and %.1f %%", m, b.others, b.othersMeans)
		}
	}
}

// gear are the diameters of ten batches of gears: NIST/SEMATECH e-Handbook of Statistical Methods, 1.3.5.10 (GEAR.DAT).
// Data and result were read in the tests of two open statistics libraries, which agree: not from memory.
var gear = [][]float64{
	{1.006, 0.996, 0.998, 1.000, 0.992, 0.993, 1.002, 0.999, 0.994, 1.000},
	{0.998, 1.006, 1.000, 1.002, 0.997, 0.998, 0.996, 1.000, 1.006, 0.988},
	{0.991, 0.987, 0.997, 0.999, 0.995, 0.994, 1.000, 0.999, 0.996, 0.996},
	{1.005, 1.002, 0.994, 1.000, 0.995, 0.994, 0.998, 0.996, 1.002, 0.996},
	{0.998, 0.998, 0.982, 0.990, 1.002, 0.984, 0.996, 0.993, 0.980, 0.996},
	{1.009, 1.013, 1.009, 0.997, 0.988, 1.002, 0.995, 0.998, 0.981, 0.996},
	{0.990, 1.004, 0.996, 1.001, 0.998, 1.000, 1.018, 1.010, 0.996, 1.002},
	{0.998, 1.000, 1.006, 1.000, 1.002, 0.996, 0.998, 0.996, 1.002, 1.006},
	{1.002, 0.998, 0.996, 0.995, 0.996, 1.004, 1.004, 0.998, 0.999, 0.991},
	{0.991, 0.995, 0.984, 0.994, 0.997, 0.997, 0.991, 0.998, 1.004, 0.997},
}

// The handbook's Levene test with medians: W = 1.705910 with 9 and 90 degrees of freedom; at 1.9855 the tail is 5 %.
func TestBrownForsytheOnNIST(t *testing.T) {
	a, ok := dig.BrownForsythe(gear)
	if !ok || a.BetweenDegrees != 9 || a.WithinDegrees != 90 {
		t.Fatalf("%v %+v", ok, a)
	}
	near(t, "W", a.F, 1.705910, 1e-5) // as printed, of single precision
	near(t, "its p", a.P, 0.0991, 5e-5)
	near(t, "the tail at the critical value", estimate.FisherTail(1.9855, 9, 90), 0.05, 2e-5)
}

// One seed a row says nothing of scatter, nor does one row of several.
func TestBrownForsytheNeedsTwoRows(t *testing.T) {
	if a, ok := dig.BrownForsythe([][]float64{{1}, {2, 3}, {4}}); ok {
		t.Errorf("tested: %+v", a)
	}
}
