package study_test

import (
	"encoding/csv"
	"flag"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"reflect"
	"strconv"
	"strings"
	"testing"

	"rowdatum/server/leveling"
	"rowdatum/server/leveling/estimate"
	"rowdatum/server/leveling/study"
)

// With -update the stories are recorded again. Read the difference before keeping it.
var update = flag.Bool("update", false, "record the stories again")

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

// readings reads a file of part, appraiser, trial, value.
func readings(t *testing.T, name string) []study.Reading {
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
	var out []study.Reading
	for _, line := range lines[1:] {
		row, err := strconv.Atoi(line[0])
		if err != nil {
			t.Fatal(err)
		}
		y, err := strconv.ParseFloat(line[3], 64)
		if err != nil {
			t.Fatal(err)
		}
		out = append(out, study.Reading{Row: row, Person: line[1], ValueMm: y})
	}
	return out
}

func analyzed(t *testing.T, name string) study.Study {
	t.Helper()
	r := readings(t, name)
	var v leveling.Violations
	if study.Check("readings", r, &v); len(v) > 0 {
		t.Fatal(v)
	}
	return study.Analyze(study.Problem{Readings: r, ToleranceMm: 3.175, Confidence: 0.9})
}

// The worked example of AIAG, Measurement Systems Analysis, 4th ed. 2010, ch. III, by analysis of variance: the
// published figures (as quoted in public files) to their digits, and our own recomputation (numpy and R aov).
func TestPublishedGaugeStudy(t *testing.T) {
	s := analyzed(t, "gauge_rr_aiag.csv")
	for _, c := range []struct {
		what           string
		got, published float64
	}{
		{"rows' squares", s.Anova.Rows.Squares, 88.3619}, {"people's squares", s.Anova.People.Squares, 3.1673},
		{"interaction's squares", s.Anova.Interaction.Squares, 0.3590}, {"error's squares", s.Anova.Error.Squares, 2.7589},
		{"repeatability", s.Components.Repeatability, 0.03997}, {"reproducibility", s.Components.People, 0.05146},
		{"gauge", s.Components.Repeatability + s.Components.People, 0.09143}, {"part", s.Components.Rows, 1.08647},
	} {
		near(t, c.what+", published", c.got, c.published, 5e-5)
	}
	near(t, "interaction's F, published", s.Anova.InteractionF, 0.434, 5e-4)
	near(t, "interaction's p, published", s.Anova.InteractionP, 0.974, 5e-4)
	for _, c := range []struct {
		what      string
		got, want float64
	}{
		{"rows' squares", s.Anova.Rows.Squares, 88.36193444}, {"people's squares", s.Anova.People.Squares, 3.167262222},
		{"interaction's squares", s.Anova.Interaction.Squares, 0.3589822222}, {"error's squares", s.Anova.Error.Squares, 2.758933333},
		{"interaction's F", s.Anova.InteractionF, 0.4337210301}, {"interaction's p", s.Anova.InteractionP, 0.9741064043},
		{"repeatability", s.Components.Repeatability, 0.03997327635}, {"people", s.Components.People, 0.05145526116},
		{"rows", s.Components.Rows, 1.086446604},
	} {
		relative(t, c.what, c.got, c.want, 1e-9)
	}
	if !s.Pooled || s.Degrees != 78 || s.Components.Interaction != 0 {
		t.Errorf("pooled %v with %v degrees", s.Pooled, s.Degrees)
	}
}

// Exact by hand (own construction): p of the interaction is 0.0498, so it stays a component.
func TestExactDesign(t *testing.T) {
	s := analyzed(t, "gauge_rr_exact_design.csv")
	want := study.Components{Repeatability: 2, Interaction: 2, People: 8.25, Rows: 497.0 / 3}
	near(t, "repeatability", s.Components.Repeatability, want.Repeatability, 1e-12)
	near(t, "interaction", s.Components.Interaction, want.Interaction, 1e-12)
	near(t, "people", s.Components.People, want.People, 1e-12)
	near(t, "rows", s.Components.Rows, want.Rows, 1e-10)
	near(t, "p", s.Anova.InteractionP, 0.04980736, 1e-8)
	if s.Pooled || s.Degrees != 12 {
		t.Errorf("pooled %v with %v degrees", s.Pooled, s.Degrees)
	}
}

// Two pieces, five operators: data of Vardeman & VanValkenburg, Technometrics 41(3), 1999; results our own
// (numpy and R aov).
func TestTwoPieces(t *testing.T) {
	s := analyzed(t, "gauge_rr_2x5x3.csv")
	relative(t, "rows' squares", s.Anova.Rows.Squares, 0.3718533333, 1e-9)
	relative(t, "people's squares", s.Anova.People.Squares, 0.0005016666667, 1e-9)
	relative(t, "interaction's squares", s.Anova.Interaction.Squares, 0.0001763333333, 1e-9)
	relative(t, "error's squares", s.Anova.Error.Squares, 0.001023333333, 1e-9)
	relative(t, "p", s.Anova.InteractionP, 0.5037746939, 1e-8)
	relative(t, "repeatability", s.Components.Repeatability, 4.998611111e-05, 1e-9)
	relative(t, "people", s.Components.People, 1.257175926e-05, 1e-9)
	relative(t, "rows", s.Components.Rows, 0.02478688981, 1e-9)
}

// What cancels and what does not: a fixture with known scatter, people and ruling, studied 400 times.
func TestRecoversWhatItWasMadeWith(t *testing.T) {
	rng := rand.New(rand.NewPCG(8, 8))
	var repeat, people, rows, scatter float64
	const runs = 400
	const q = 1.0
	for range runs {
		var r []study.Reading
		person := [3]float64{0.7 * rng.NormFloat64(), 0.7 * rng.NormFloat64(), 0.7 * rng.NormFloat64()}
		for row := range 8 {
			depth := 50 + 2*rng.NormFloat64()
			for j, name := range []string{"a", "b", "c"} {
				for range 3 {
					r = append(r, study.Reading{Row: row + 1, Person: name, ValueMm: q * math.Round((depth+person[j]+0.6*rng.NormFloat64())/q)})
				}
			}
		}
		s := study.Analyze(study.Problem{Readings: r, Fixture: leveling.Fixture{ResolutionMm: q}, ToleranceMm: 3.175, Confidence: 0.9})
		repeat += s.Components.Repeatability / runs
		people += s.Components.People / runs
		rows += s.Components.Rows / runs
		scatter += s.ScatterMm / runs
	}
	// Pooling by a test takes the smaller interactions in and leaves the larger ones out: some percent low.
	near(t, "ruled repeatability", repeat, 0.36+q*q/12, 0.02)
	near(t, "people", people, 0.49, 0.08)
	near(t, "rows", rows, 4, 0.3)
	near(t, "scatter before the ruling", scatter, 0.6, 0.02)
}

// The published sum: four nested components, their mean squares, the total and its degrees of freedom, as printed in an
// example of the R package VCA (anovaVCA, 500,000 values; read, not from memory).
func TestSatterthwaiteAsPublished(t *testing.T) {
	terms := []float64{572180.750759 / 1e5, 11070.722478 * (1.0/2000 - 1.0/1e5), 4705.576452 * (1.0/1000 - 1.0/2000), 2.24364 * (1 - 1.0/1000)}
	near(t, "total", terms[0]+terms[1]+terms[2]+terms[3], 15.740646, 1e-6)
	near(t, "its degrees of freedom", estimate.SumDegrees(terms, []float64{4, 245, 250, 499500}), 29.754649, 1e-5)
}

// By hand: the exact design keeps its interaction; mean squares 72, 6 and 2 with 2, 6 and 12 degrees of freedom, 4 rows,
// 3 people, 2 trials.
func TestProvable(t *testing.T) {
	s := study.Analyze(study.Problem{Readings: readings(t, "gauge_rr_exact_design.csv"), ToleranceMm: 9, Confidence: 0.9})
	tau := func(terms, degrees []float64) float64 {
		var v, w float64
		for i, x := range terms {
			v, w = v+x, w+x*x/degrees[i]
		}
		return estimate.StudentQuantile(0.95, v*v/w) * math.Sqrt(v)
	}
	one, several := math.Inf(1), math.Inf(1)
	for i, got := range s.Provable {
		k := float64(i + 1)
		one = min(one, tau([]float64{2/k - 1, 3}, []float64{12, 6}))
		several = min(several, tau([]float64{2/k - 1, 3 - 6.0/8, 72.0 / 8}, []float64{12, 6, 2}))
		near(t, "by one person", got.ToleranceMm, one, 1e-9)
		near(t, "by several", *got.SeveralMm, several, 1e-9)
	}
	p := study.Problem{Readings: readings(t, "gauge_rr_aiag.csv"), Fixture: leveling.Fixture{ResolutionMm: 0.1, FloorMm: 0.2}, ToleranceMm: 0.5, Confidence: 0.9}
	s = study.Analyze(p)
	if k := s.ReadingsNeeded; k < 1 || s.Provable[k-1].ToleranceMm > 0.5 || k > 1 && s.Provable[k-2].ToleranceMm <= 0.5 {
		t.Errorf("%d readings are needed\n%s", k, s.Describe())
	}
}

// What a study says holds: of new readings by people who were not in it, nine in ten are off by no more. Two people
// say nothing of several.
func TestBoundsHold(t *testing.T) {
	const scatter, runs = 0.6, 600
	rng := rand.New(rand.NewPCG(18, 2))
	for _, people := range []int{2, 3, 4, 6} {
		for _, differ := range []float64{0.2, 0.7, 2} {
			one, several := 0.0, 0.0
			for range runs {
				var r []study.Reading
				each := make([]float64, people)
				for j := range each {
					each[j] = differ * rng.NormFloat64()
				}
				for row := range 6 {
					depth := 50 + 2*rng.NormFloat64()
					for j, of := range each {
						for range 3 {
							r = append(r, study.Reading{Row: row + 1, Person: fmt.Sprint(j), ValueMm: depth + of + scatter*rng.NormFloat64()})
						}
					}
				}
				p := study.Analyze(study.Problem{Readings: r, ToleranceMm: 3.175, Confidence: 0.9}).Provable[0]
				one += 2*estimate.NormalCDF(p.ToleranceMm/scatter) - 1
				if (p.SeveralMm == nil) != (people < study.FewestPeople) {
					t.Fatalf("%d people: several prove %v", people, p.SeveralMm)
				}
				if p.SeveralMm != nil {
					several += 2*estimate.NormalCDF(*p.SeveralMm/math.Hypot(scatter, differ)) - 1
				}
			}
			one, several = 100*one/runs, 100*several/runs
			t.Logf("%d people who differ by %v mm: one %.1f %%, several %.1f %%", people, differ, one, several)
			if !(one >= 86 && one <= 94) || people >= study.FewestPeople && !(several >= 86 && several <= 94) {
				t.Errorf("%d people who differ by %v mm: holds in %.1f %%, by several in %.1f %%", people, differ, one, several)
			}
		}
	}
}

// Where the ruling hides the scatter, the fixture keeps what it has, and what is kept is never 0.
func TestKeptIsNeverZero(t *testing.T) {
	var same []study.Reading
	for row := range 3 {
		for range 3 {
			same = append(same, study.Reading{Row: row, ValueMm: 50})
		}
	}
	for _, c := range []struct{ present, kept float64 }{{0.8, 0.8}, {0, 0.5}} {
		s := study.Analyze(study.Problem{Readings: same, Fixture: leveling.Fixture{ResolutionMm: 3.175, RepeatabilityMm: c.present}, ToleranceMm: 3, Confidence: 0.9})
		if s.ScatterMm != 0 || s.KeptMm != c.kept {
			t.Errorf("scatter %v, kept %v, want %v", s.ScatterMm, s.KeptMm, c.kept)
		}
	}
}

func TestCheck(t *testing.T) {
	whole := readings(t, "gauge_rr_aiag.csv")
	one := []study.Reading{{Row: 1, ValueMm: 50}, {Row: 1, ValueMm: 51}}
	for name, c := range map[string]struct {
		readings []study.Reading
		part     string
	}{
		"a reading missing": {whole[1:], "has 2 readings of row 1 by \"A\", must have 3"},
		"one row":           {one, "has 1 rows"},
		"none":              {nil, "has 0 rows"},
		"read once":         {[]study.Reading{{Row: 1}, {Row: 2}}, "must have 2"},
		"too many":          {make([]study.Reading, 2001), "at most 2000"},
	} {
		var v leveling.Violations
		if study.Check("readings", c.readings, &v); !strings.Contains(fmt.Sprint(v), c.part) {
			t.Errorf("%s: %v", name, v)
		}
	}
}

func TestOrderDoesNotMatter(t *testing.T) {
	rng := rand.New(rand.NewPCG(4, 4))
	r := readings(t, "gauge_rr_aiag.csv")
	p := study.Problem{Readings: r, Fixture: leveling.DefaultFixture(), ToleranceMm: 3.175, Confidence: 0.9}
	want := study.Analyze(p)
	for range 20 {
		rng.Shuffle(len(r), func(i, j int) { r[i], r[j] = r[j], r[i] })
		if got := study.Analyze(p); !reflect.DeepEqual(got, want) {
			t.Fatalf("another order, another answer:\n%s", got.Describe())
		}
	}
}

func TestStories(t *testing.T) {
	rng := rand.New(rand.NewPCG(12, 12))
	made := func(q, scatter, between float64, people ...string) []study.Reading {
		var out []study.Reading
		for row := range 5 {
			depth := 50 + 2*rng.NormFloat64()
			for j, person := range people {
				for range 3 {
					out = append(out, study.Reading{Row: row + 1, Person: person, ValueMm: q * math.Round((depth+between*float64(j)+scatter*rng.NormFloat64())/q)})
				}
			}
		}
		return out
	}
	tape := leveling.Fixture{ResolutionMm: 25.4 / 8}
	var b strings.Builder
	for _, s := range []struct {
		name string
		p    study.Problem
	}{
		{"two people with a fine pointer, one reads deeper", study.Problem{Readings: made(0.1, 0.4, 1.5, "Ada", "Tam"), Fixture: leveling.Fixture{ResolutionMm: 0.1}, ToleranceMm: 1.5875, Confidence: 0.9}},
		{"one person with a coarse tape", study.Problem{Readings: made(25.4/8, 0.3, 0, ""), Fixture: tape, ToleranceMm: 3.175, Confidence: 0.9, Voice: leveling.Voice{PerInch: 8}}},
		{"a coarse tape for a fine tolerance, in Spanish", study.Problem{Readings: made(25.4/8, 0.9, 0, "Ada", "Tam"), Fixture: tape, ToleranceMm: 0.5, Confidence: 0.9, Voice: leveling.Voice{Language: leveling.Spanish}}},
	} {
		fmt.Fprintf(&b, "== %s\n%s", s.name, study.Analyze(s.p).Describe())
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
