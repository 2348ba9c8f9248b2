package dig_test

import (
	"encoding/json"
	"flag"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"reflect"
	"slices"
	"strings"
	"testing"

	"rowdatum/server/leveling"
	"rowdatum/server/leveling/dig"
	"rowdatum/server/leveling/plan"
)

// With -update the stories are recorded again. Read the difference before keeping it.
var update = flag.Bool("update", false, "record the stories again")

func near(t *testing.T, what string, got, want, within float64) {
	t.Helper()
	if !(math.Abs(got-want) <= within) {
		t.Errorf("%s is %.15g, want %.15g within %g", what, got, want, within)
	}
}

// synthetic are twelve made-up rows; drop names (row, reading) that are left out, from 1.
func synthetic(t *testing.T, drop ...[2]int) []leveling.RowSeeds {
	t.Helper()
	var out []leveling.RowSeeds
	for i, g := range groups(t, "synthetic.csv") {
		r := leveling.RowSeeds{Row: i + 1}
		for j, mm := range g {
			if !slices.Contains(drop, [2]int{i + 1, j + 1}) {
				r.DepthsMm = append(r.DepthsMm, mm)
			}
		}
		out = append(out, r)
	}
	return out
}

// Independent results: own computation with R 4.2.2 (aov, the ANOVA method's components) and scipy. R takes all rows to
// scatter alike; the components are held against it where no row is set apart.
func TestSynthetic(t *testing.T) {
	target := 50.8
	a := dig.Analyze(dig.Problem{Rows: synthetic(t), Aim: dig.DefaultAim(), TargetMm: &target})
	relative(t, "between squares", a.Anova.BetweenSquares, 52.45638888889, 1e-11)
	relative(t, "within squares", a.Anova.WithinSquares, 1.85333333333, 1e-11)
	relative(t, "F", a.Anova.F, 61.7537606279, 1e-11)
	relative(t, "p", a.Anova.P, 7.37629612154e-15, 1e-8)
	relative(t, "mean of row 10", a.Rows[9].MeanMm, 53.6, 1e-13)
	alike := dig.ComponentsOf(synthetic(t))
	relative(t, "between", alike.BetweenMm2, 1.56384680135, 1e-11)
	relative(t, "within", alike.WithinMm2, 0.0772222222222, 1e-11)
	relative(t, "rows' mean", alike.RowsMeanMm, 51.0527777778, 1e-11)
	relative(t, "its uncertainty", alike.RowsMeanSdMm, 0.363958287204, 1e-7)

	some := synthetic(t, [2]int{4, 3}, [2]int{9, 2}, [2]int{9, 3}, [2]int{12, 1})
	u := dig.Analyze(dig.Problem{Rows: some, Aim: dig.DefaultAim()})
	relative(t, "unbalanced between squares", u.Anova.BetweenSquares, 49.80708333333, 1e-11)
	relative(t, "unbalanced within squares", u.Anova.WithinSquares, 1.75166666667, 1e-11)
	relative(t, "unbalanced F", u.Anova.F, 51.6983824929, 1e-11)
	relative(t, "unbalanced p", u.Anova.P, 3.13634120054e-12, 1e-8)
	alike = dig.ComponentsOf(some)
	relative(t, "unbalanced between", alike.BetweenMm2, 1.67344468237, 1e-11)
	relative(t, "unbalanced within", alike.WithinMm2, 0.0875833333333, 1e-11)
	if u.WithinShare != nil || !strings.Contains(fmt.Sprint(u.Cautions), "Row 9: one seed only") {
		t.Errorf("share %v, cautions %q", u.WithinShare, u.Cautions)
	}
}

// CV of 40, 50, 60 mm is 20 % (sd 10, mean 50); the band is closed.
func TestShareAndCV(t *testing.T) {
	rows := []leveling.RowSeeds{{Row: 1, DepthsMm: []float64{40, 60}}, {Row: 2, DepthsMm: []float64{50}}}
	target, aim := 50.0, dig.DefaultAim()
	for within, share := range map[float64]float64{10: 1, 9.99: 1.0 / 3} {
		aim.WithinMm = within
		a := dig.Analyze(dig.Problem{Rows: rows, TargetMm: &target, Aim: aim})
		near(t, "share", *a.WithinShare, share, 1e-15)
		near(t, "cv", *a.CVPercent, 20, 1e-12)
		near(t, "sd", a.SdMm, 10, 1e-12)
	}
	a := dig.Analyze(dig.Problem{Rows: []leveling.RowSeeds{{Row: 1, DepthsMm: []float64{0, 0}}, {Row: 2, DepthsMm: []float64{0}}}, Aim: aim})
	if a.CVPercent != nil || a.Anova.F != 0 || a.Anova.P != 1 || a.Rows[0].Verdict != leveling.Even {
		t.Errorf("seeds on the surface: %s", a.Describe())
	}
}

// Rows that differ less than seeds of one row: the component comes out negative, every effect is 0, and no
// row is certain.
func TestNegativeComponent(t *testing.T) {
	var rows []leveling.RowSeeds
	for r := range 8 {
		rows = append(rows, leveling.RowSeeds{Row: r + 1, DepthsMm: []float64{45, 50 + float64(r%2)*0.1, 55}})
	}
	a := dig.Analyze(dig.Problem{Rows: rows, Aim: dig.DefaultAim()})
	if a.BetweenMm2 >= 0 || a.RowsDiffer {
		t.Fatalf("between is %v", a.BetweenMm2)
	}
	for _, r := range a.Rows {
		if r.EffectMm != 0 || !(r.UncertaintyMm > 0.5) || !r.Noise {
			t.Errorf("row %d: effect %v, uncertainty %v", r.Row, r.EffectMm, r.UncertaintyMm)
		}
	}
}

// What a plan foretells of further seeds is what the analysis does.
func TestBudgetOfPlan(t *testing.T) {
	a := dig.Analyze(dig.Problem{Rows: synthetic(t), Aim: dig.DefaultAim()})
	for _, r := range a.Rows {
		relative(t, "uncertainty by the plan", r.Estimate.UncertaintyAfter(0), r.UncertaintyMm, 1e-12)
		near(t, "depth", r.Estimate.DepthMm, a.RowsMeanMm+r.EffectMm, 1e-12)
		b := r.Estimate.Budget
		v := 1/(b.Prior+float64(r.Seeds)/b.PerReadingMm2) + b.FloorMm2
		relative(t, "uncertainty by the budget", math.Sqrt(v), r.UncertaintyMm, 1e-12)
		if after := r.Estimate.UncertaintyAfter(5); !(after < r.UncertaintyMm) {
			t.Errorf("five more seeds leave %v of %v", after, r.UncertaintyMm)
		}
	}
}

// The dig's estimates go into a plan unchanged: rows that are off are corrected by whole notches, noise is
// left alone.
func TestPlanFromDig(t *testing.T) {
	a := dig.Analyze(dig.Problem{Rows: synthetic(t), Aim: dig.Aim{ToleranceMm: 1.5875, Confidence: 0.9, WithinMm: 6.35}})
	style := &leveling.Style{ID: "stop", SetsPlantingDepth: true, TouchSeconds: 60, CountUnit: leveling.CountUnit{One: "notch", Other: "notches"}}
	p := plan.Problem{Aim: leveling.Aim{ToleranceMm: 1.5875, Confidence: 0.9, MissSeconds: 900}}
	for _, r := range a.Rows {
		row := plan.Row{Number: r.Row, Estimate: r.Estimate, Style: style, Setting: "5"}
		for c := -5.0; c <= 5; c++ {
			row.Options = append(row.Options, leveling.Option{Leave: c == 0, Count: c, EffectMm: 1.5 * c})
		}
		p.Rows = append(p.Rows, row)
	}
	out := plan.Compute(p)
	var moved []int
	for _, r := range out.Rows {
		if r.Part == plan.Moved {
			moved = append(moved, r.Row)
		}
	}
	if !slices.Equal(moved, []int{6, 10}) {
		t.Errorf("moved %v\n%s", moved, out.Describe())
	}
}

func TestOrderDoesNotMatter(t *testing.T) {
	rng := rand.New(rand.NewPCG(4, 2))
	rows := synthetic(t, [2]int{9, 2})
	want := dig.Analyze(dig.Problem{Rows: rows, Aim: dig.DefaultAim()})
	for range 50 {
		rng.Shuffle(len(rows), func(i, j int) { rows[i], rows[j] = rows[j], rows[i] })
		for _, r := range rows {
			rng.Shuffle(len(r.DepthsMm), func(i, j int) { r.DepthsMm[i], r.DepthsMm[j] = r.DepthsMm[j], r.DepthsMm[i] })
		}
		if got := dig.Analyze(dig.Problem{Rows: rows, Aim: dig.DefaultAim()}); !reflect.DeepEqual(got, want) {
			t.Fatalf("another order, another answer:\n%s", got.Describe())
		}
	}
}

func TestStories(t *testing.T) {
	target := 50.8
	worn := []leveling.RowSeeds{
		{Row: 1, DepthsMm: []float64{38, 41, 35, 40}}, {Row: 2, DepthsMm: []float64{49, 53, 51, 47}}, {Row: 3, DepthsMm: []float64{52, 50, 46, 51}},
		{Row: 4, DepthsMm: []float64{50, 54, 49}}, {Row: 5, DepthsMm: []float64{48, 52, 55, 50}}, {Row: 6, DepthsMm: []float64{44}},
		{Row: 7, DepthsMm: []float64{51, 49, 53, 52}}, {Row: 8, DepthsMm: []float64{57, 55, 58, 53}},
	}
	bouncing := []leveling.RowSeeds{
		{Row: 1, DepthsMm: []float64{50, 52, 49, 51, 50, 48, 51, 53}}, {Row: 2, DepthsMm: []float64{50, 62, 41, 55, 38, 50, 64, 44}}, {Row: 3, DepthsMm: []float64{51, 49, 50, 52, 48, 51, 50, 50}},
		{Row: 4, DepthsMm: []float64{49, 51, 50, 53, 50, 48, 51, 50}}, {Row: 5, DepthsMm: []float64{52, 50, 51, 49, 50, 52, 51, 48}}, {Row: 6, DepthsMm: []float64{70, 57, 79, 61, 75, 60, 81, 66}},
		{Row: 7, DepthsMm: []float64{50, 48, 52, 51, 49, 50, 51, 52}}, {Row: 8, DepthsMm: []float64{50, 45, 54, 53, 46, 51, 47, 53}},
	}
	even := []leveling.RowSeeds{{Row: 1, DepthsMm: []float64{45, 50, 56}}, {Row: 2, DepthsMm: []float64{46, 51, 54}}, {Row: 3, DepthsMm: []float64{44, 49, 57}}}
	var b strings.Builder
	for _, s := range []struct {
		name string
		p    dig.Problem
	}{
		{"one row worn, one row deep", dig.Problem{Rows: worn, Aim: dig.DefaultAim(), TargetMm: &target}},
		{"three rows scatter more than the others, one of them deep", dig.Problem{Rows: bouncing, Aim: dig.DefaultAim()}},
		{"the same in Spanish and inches", dig.Problem{Rows: bouncing, Aim: dig.DefaultAim(), Voice: leveling.Voice{Language: leveling.Spanish, PerInch: 16}}},
		{"three rows alike, in Spanish and inches", dig.Problem{Rows: even, Aim: dig.DefaultAim(), Voice: leveling.Voice{Language: leveling.Spanish, PerInch: 16}}},
	} {
		fmt.Fprintf(&b, "== %s\n%s", s.name, dig.Analyze(s.p).Describe())
	}
	steady := dig.Analyze(dig.Problem{Rows: slices.Delete(slices.Clone(bouncing), 5, 6), Aim: dig.DefaultAim()})
	whole := dig.Analyze(dig.Problem{Rows: bouncing, Aim: dig.DefaultAim()})
	near(t, "the spread between the others, with and without a row far off", whole.BetweenMm2, steady.BetweenMm2, 2)
	golden(t, "testdata/stories.txt", b.String())
}

func golden(t *testing.T, file, got string) {
	t.Helper()
	if *update {
		if err := os.WriteFile(file, []byte(got), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	want, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	if got != string(want) {
		t.Errorf("the stories are now\n%s", got)
	}
}

// Every figure of every analysis can be written down, and no row comes out of nothing.
func FuzzAnalyze(f *testing.F) {
	f.Add([]byte{1, 50, 2, 50}, 0.9, 3.0)
	f.Add([]byte{1, 0, 1, 0, 2, 0}, 0.5, 0.001)
	f.Add([]byte{1, 10, 1, 10, 2, 200, 2, 200, 3, 30}, 0.999, 300.0)
	f.Fuzz(func(t *testing.T, seeds []byte, confidence, tolerance float64) {
		p := dig.Problem{Aim: dig.Aim{ToleranceMm: tolerance, Confidence: confidence, WithinMm: 5}}
		rows := map[int]int{}
		for i := 0; i+1 < len(seeds); i += 2 {
			row := int(seeds[i])%40 + 1
			if _, known := rows[row]; !known {
				rows[row] = len(p.Rows)
				p.Rows = append(p.Rows, leveling.RowSeeds{Row: row})
			}
			at := &p.Rows[rows[row]].DepthsMm
			*at = append(*at, float64(seeds[i+1]))
		}
		var v leveling.Violations
		leveling.CheckSeeds("rows", p.Rows, &v)
		p.Aim.Check("aim", &v)
		if len(v) > 0 {
			return
		}
		a := dig.Analyze(p)
		if _, err := json.Marshal(a); err != nil {
			t.Errorf("%v: %+v", err, a)
		}
		for _, r := range a.Rows {
			if math.IsNaN(r.Estimate.UncertaintyMm) || math.Abs(r.EffectMm) > 300 || r.Verdict == 0 || r.Why == "" {
				t.Errorf("row %d: %+v", r.Row, r)
			}
		}
	})
}
