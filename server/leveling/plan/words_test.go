package plan_test

import (
	"regexp"
	"strings"
	"testing"

	"rowdatum/server/leveling"
	"rowdatum/server/leveling/estimate"
	"rowdatum/server/leveling/plan"
)

func TestSurpriseCaution(t *testing.T) {
	for want, s := range map[string]estimate.Surprise{
		"Row 4: its only reading, 70.0 mm, is far from the other rows (their middle is 50.8 mm)": {Lonely: true, ReadingMm: 70, OthersMm: 50.8},
		"Row 4: reading 2, 57.2 mm, does not agree with its others (50.8 mm)":                    {Reading: 1, ReadingMm: 57.15, OthersMm: 50.8},
	} {
		if got := plan.SurpriseCaution(leveling.Voice{}, 4, s); !strings.HasPrefix(got, want) {
			t.Errorf("%q, want %q…", got, want)
		}
	}
}

// With no row in reach the datum is the mean of all, no spread is claimed, and the plan says why.
func TestAllStuck(t *testing.T) {
	p := workedExample()
	p.Rows = p.Rows[:2]
	p.Reach = leveling.Reach{ShallowerMm: 200}
	got := plan.Compute(p)
	if got.DatumMm != 47.65 || got.SpreadBeforeMm != 0 || got.SpreadAfterMm != 0 || got.TouchedRows != 0 || got.ProvableToleranceMm != 0 {
		t.Errorf("%s", got.Describe())
	}
	for _, r := range got.Rows {
		if r.Verdict != leveling.Stuck || !strings.HasPrefix(r.Why, "stuck: ") {
			t.Errorf("row %d: %v, %s", r.Row, r.Verdict, r.Why)
		}
	}
	if !strings.HasPrefix(got.Cautions[0], "No row can be brought to a setting that leaves 200 mm") {
		t.Errorf("cautions %q", got.Cautions)
	}
}

// A row that these readings could not prove even anywhere is not sent for worn parts.
func TestHopelessReadingsAreNoWornParts(t *testing.T) {
	p := workedExample()
	p.Rows = p.Rows[:1]
	p.Aim.ToleranceMm = 0.05
	got := plan.Compute(p)
	if why := got.Rows[0].Why; got.Rows[0].Part == plan.Nearest && !strings.Contains(why, "finer fixture") || strings.Contains(why, "worn") {
		t.Errorf("%v: %s", got.Rows[0].Part, why)
	}
	if c := strings.Join(got.Cautions, "\n"); strings.Contains(c, "worn") || !strings.Contains(c, "finer fixture") {
		t.Errorf("cautions %q", c)
	}
}

// What is said of a plan from dug seeds is of seeds, whatever the rows' parts: nobody reads a fixture there.
func TestWordsOfSeeds(t *testing.T) {
	parts := map[plan.Part]bool{}
	for _, c := range []struct {
		language leveling.Language
		unfit    *regexp.Regexp
	}{
		{leveling.English, regexp.MustCompile(`(?i)\bread|fixture|[Mm]easure`)},
		{leveling.Spanish, regexp.MustCompile(`(?i)calibre|lectura|léa|[Mm]ida`)},
	} {
		for _, tolerance := range []float64{0.05, 0.5, 1, 1.6, 2, 3.175} {
			for _, reach := range []float64{0, 20, 200} {
				p := workedExample()
				p.Seeds, p.Voice.Language = true, c.language
				p.Aim.ToleranceMm, p.Reach.ShallowerMm = tolerance, reach
				got := plan.Compute(p)
				for _, r := range got.Rows {
					parts[r.Part] = true
					if c.unfit.MatchString(r.Why) {
						t.Errorf("row %d: %s", r.Row, r.Why)
					}
				}
				for _, caution := range got.Cautions {
					if c.unfit.MatchString(caution) {
						t.Error(caution)
					}
				}
			}
		}
	}
	for part := plan.Left; part <= plan.NoReach; part++ {
		if !parts[part] {
			t.Errorf("no row's part was %d", part)
		}
	}
}
