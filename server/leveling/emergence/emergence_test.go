package emergence_test

import (
	"encoding/csv"
	"flag"
	"fmt"
	"math"
	"os"
	"strconv"
	"strings"
	"testing"

	"rowdatum/server/leveling"
	"rowdatum/server/leveling/emergence"
)

// With -update the stories are recorded again. Read the difference before keeping it.
var update = flag.Bool("update", false, "record the stories again")

func near(t *testing.T, what string, got, want, within float64) {
	t.Helper()
	if !(math.Abs(got-want) <= within) {
		t.Errorf("%s is %.15g, want %.15g within %g", what, got, want, within)
	}
}

// Worked examples in °F; each line of the file names its source.
func TestDegreeDays(t *testing.T) {
	f, err := os.Open("testdata/degree_days.csv")
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	r := csv.NewReader(f)
	r.Comment = '#'
	lines, err := r.ReadAll()
	if err != nil || len(lines) < 10 {
		t.Fatal(len(lines), err)
	}
	celsius := func(text string) float64 {
		x, err := strconv.ParseFloat(text, 64)
		if err != nil {
			t.Fatal(err)
		}
		return (x - 32) * 5 / 9
	}
	for _, line := range lines[1:] {
		want := celsius(line[2]) + 32.0*5/9 // a difference: no 32 to take off
		near(t, fmt.Sprint(line), emergence.DegreeDays(celsius(line[0]), celsius(line[1])), want, 1e-12)
	}
}

// J. Lauer, Time for Corn Emergence, Wisconsin Crop Manager 10(8), 2003: seed at 2.5 inches takes
// 125 + 7.5 = 132.5 degree days (°F); a quarter of an inch deeper at 10 a day is 0.375 day later.
func TestLauer(t *testing.T) {
	const inch = 25.4
	got, published := emergence.ToEmergence(2.5 * inch)
	if near(t, "to emergence", got*9/5, 132.5, 1e-9); !published {
		t.Error("2.5 inches are not published")
	}
	if _, published := emergence.ToEmergence(1.9 * inch); published {
		t.Error("1.9 inches are published")
	}
	daily := 10.0 * 5 / 9
	g := emergence.Of(emergence.Problem{ShallowestMm: 2.25 * inch, DeepestMm: 2.5 * inch, DailyDegreeDays: &daily})
	near(t, "days", *g.Days, 0.375, 1e-12)
	near(t, "a mm, °F", g.DegreeDaysPerMm*9/5, 0.590551, 1e-6)
	near(t, "a mm, °C", g.DegreeDaysPerMm, 0.328084, 1e-6)
}

// Shallower than 2 inches nothing was published, and no credit is made up.
func TestShallowSeedHasNoFigure(t *testing.T) {
	g := emergence.Of(emergence.Problem{ShallowestMm: 30, DeepestMm: 50})
	if g.DegreeDays != 0 || g.Days != nil || g.SpreadMm != 20 || len(g.Cautions) != 2 || len(g.Sources) == 0 {
		t.Errorf("%s", g.Describe())
	}
	g = emergence.Of(emergence.Problem{ShallowestMm: 45.8, DeepestMm: 60.8})
	near(t, "counted", g.CountedMm, 10, 1e-9)
}

func TestCheckDaily(t *testing.T) {
	for _, bad := range []float64{0, -1, 41, math.NaN(), math.Inf(1)} {
		var v leveling.Violations
		if emergence.CheckDaily("dailyDegreeDays", &bad, &v); len(v) != 1 {
			t.Errorf("%v: %v", bad, v)
		}
	}
	var v leveling.Violations
	good := 8.0
	emergence.CheckDaily("d", &good, &v)
	if emergence.CheckDaily("d", nil, &v); len(v) != 0 {
		t.Error(v)
	}
}

func TestStories(t *testing.T) {
	daily := 6.0
	var b strings.Builder
	for _, s := range []struct {
		name string
		p    emergence.Problem
	}{
		{"a half inch about 2 inches", emergence.Problem{ShallowestMm: 46, DeepestMm: 58.7, DailyDegreeDays: &daily}},
		{"shallow rows, in Spanish", emergence.Problem{ShallowestMm: 35, DeepestMm: 48, Voice: leveling.Voice{Language: leveling.Spanish}}},
	} {
		fmt.Fprintf(&b, "== %s\n%s", s.name, emergence.Of(s.p).Describe())
	}
	const file = "testdata/stories.txt"
	if *update {
		if err := os.WriteFile(file, []byte(b.String()), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	want, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	if b.String() != string(want) {
		t.Errorf("the stories are now\n%s", b.String())
	}
}
