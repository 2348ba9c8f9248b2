package main

import (
	"os"
	"regexp"
	"strings"
	"testing"
)

// TestInchPlanterIsToldInches walks what the command line shows of planters whose files are in inches, as the scripts
// hold it, and finds mm in brackets only; and of planters in mm, and finds no inch.
func TestInchPlanterIsToldInches(t *testing.T) {
	t.Parallel()
	mm, inch := regexp.MustCompile(`[0-9±] ?mm\b|\bmm(,|\.| per| long)`), regexp.MustCompile(`[0-9] in\b|\binch`)
	for script, bare := range map[string]*regexp.Regexp{
		"plan-depot-sixteen": mm, "plan-creek-six": mm, "job-sixteen": mm, "history": mm,
		"plan-ridge-twelve": inch, "plan-yard-twenty-four": mm,
	} {
		text, err := os.ReadFile("../../testdata/scripts/" + script + ".txtar")
		if err != nil {
			t.Fatal(err)
		}
		_, shown, found := strings.Cut(string(text), "\n-- ")
		if !found {
			t.Fatalf("%s shows nothing", script)
		}
		shown = regexp.MustCompile(`\([^()]*\)`).ReplaceAllString(shown, "")
		if at := bare.FindStringIndex(shown); at != nil {
			t.Errorf("%s: a length in the other unit: …%s…", script, shown[max(0, at[0]-60):min(len(shown), at[1]+40)])
		}
	}
}
