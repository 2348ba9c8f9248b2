package dig_test

import (
	"encoding/csv"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"strconv"
	"testing"

	"rowdatum/server/leveling/dig"
)

func relative(t *testing.T, what string, got, want, within float64) {
	t.Helper()
	if !(math.Abs(got-want) <= within*math.Abs(want)) {
		t.Errorf("%s is %.15g, want %.15g within %g of it", what, got, want, within)
	}
}

// groups reads a file of two columns, group and value.
func groups(t *testing.T, name string) [][]float64 {
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
	var out [][]float64
	last := ""
	for _, line := range lines[1:] {
		if line[0] != last {
			out, last = append(out, nil), line[0]
		}
		y, err := strconv.ParseFloat(line[len(line)-1], 64)
		if err != nil {
			t.Fatal(err)
		}
		out[len(out)-1] = append(out[len(out)-1], y)
	}
	return out
}

// simonLesage makes the sets of Simon & Lesage (Comput. Stat. & Data Anal. 8, 1989) by the rule that those of
// 21 values a group show: the first value is the group's own, the others alternate 0.1 below and above it.
func simonLesage(base float64, size int) [][]float64 {
	out := make([][]float64, 9)
	for i, tenths := range []int{4, 3, 5, 3, 5, 3, 5, 3, 5} {
		for j := range size {
			d := tenths
			if j > 0 {
				d += 1 - 2*(j%2)
			}
			// Decimal text, as a reader of the file would meet it.
			y, _ := strconv.ParseFloat(fmt.Sprintf("%.0f.%d", base, d), 64)
			out[i] = append(out[i], y)
		}
	}
	return out
}

// Certified values: NIST Statistical Reference Datasets, analysis of variance. Those of the sets of 201 and
// 2001 values a group (02, 03, 05, 06, 08, 09) follow from their rule by arithmetic: between 0.08 a value of
// a group, within 0.01 a value but one. The digits asked for are what doubles allow: of thirteen leading
// digits that all values share, reading the file alone loses all but some four.
func TestNIST(t *testing.T) {
	for _, c := range []struct {
		name                             string
		groups                           [][]float64
		between, within, f, rSquared, sd float64
		digits                           float64
	}{
		{"SiRstv", groups(t, "SiRstv.csv"), 5.11462616e-02, 2.1663656e-01, 1.18046237440255, 1.90999039051129e-01, 1.04076068334656e-01, 12.5},
		{"AtmWtAg", groups(t, "AtmWtAg.csv"), 3.638341875e-09, 1.04951729166667e-08, 1.59467335677930e+01, 2.57426544538321e-01, 1.51048314446410e-05, 9.5},
		{"SmLs01", groups(t, "SmLs01.csv"), 1.68, 1.80, 21, 4.82758620689655e-01, 0.1, 14},
		{"SmLs02", simonLesage(1, 201), 16.08, 18, 201, 16.08 / 34.08, 0.1, 14},
		{"SmLs03", simonLesage(1, 2001), 160.08, 180, 2001, 160.08 / 340.08, 0.1, 13.5},
		{"SmLs04", groups(t, "SmLs04.csv"), 1.68, 1.80, 21, 4.82758620689655e-01, 0.1, 9.5},
		{"SmLs05", simonLesage(1e6, 201), 16.08, 18, 201, 16.08 / 34.08, 0.1, 9.5},
		{"SmLs06", simonLesage(1e6, 2001), 160.08, 180, 2001, 160.08 / 340.08, 0.1, 9.5},
		{"SmLs07", groups(t, "SmLs07.csv"), 1.68, 1.80, 21, 4.82758620689655e-01, 0.1, 3.3},
		{"SmLs08", simonLesage(1e12, 201), 16.08, 18, 201, 16.08 / 34.08, 0.1, 3.3},
		{"SmLs09", simonLesage(1e12, 2001), 160.08, 180, 2001, 160.08 / 340.08, 0.1, 3.3},
	} {
		a := dig.OneWay(c.groups)
		least := 16.0
		for _, x := range [][2]float64{
			{a.BetweenSquares, c.between}, {a.WithinSquares, c.within}, {a.F, c.f},
			{a.RSquared(), c.rSquared}, {math.Sqrt(a.WithinMean()), c.sd},
		} {
			if x[0] != x[1] {
				least = min(least, -math.Log10(math.Abs(x[0]-x[1])/x[1]))
			}
		}
		t.Logf("%s: log relative error %.1f", c.name, least)
		if least < c.digits {
			t.Errorf("%s: %.1f digits are right of %v: %+v", c.name, least, c.digits, a)
		}
	}
}

// The made sets are the published ones where both are at hand.
func TestSimonLesageRule(t *testing.T) {
	for name, base := range map[string]float64{"SmLs01.csv": 1, "SmLs04.csv": 1e6, "SmLs07.csv": 1e12} {
		if got, want := fmt.Sprint(simonLesage(base, 21)), fmt.Sprint(groups(t, name)); got != want {
			t.Errorf("%s differs from its rule", name)
		}
	}
}

// The textbook's sums of squares lose these sets: what the two passes are for.
func TestTextbookFails(t *testing.T) {
	textbook := func(groups [][]float64) float64 {
		var n, total, squares, means float64
		for _, g := range groups {
			var s float64
			for _, y := range g {
				s, squares, n = s+y, squares+y*y, n+1
			}
			total, means = total+s, means+s*s/float64(len(g))
		}
		m := float64(len(groups))
		return (means - total*total/n) / (m - 1) / ((squares - means) / (n - m))
	}
	for name, want := range map[string]float64{"AtmWtAg.csv": 15.9467335677930, "SmLs04.csv": 21, "SmLs07.csv": 21} {
		if f := textbook(groups(t, name)); math.Abs(f-want) < 1e-3*want {
			t.Errorf("%s: the textbook's F is %v after all", name, f)
		}
	}
}
