package proof_test

import (
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"rowdatum/clients/prove/internal/proof"
)

func TestGoals(t *testing.T) {
	for _, c := range []struct {
		ratio  float64
		goal   proof.Goal
		missed bool
	}{
		{0.6, proof.AtLeast(0.6), false}, {0.5999, proof.AtLeast(0.6), true}, {math.NaN(), proof.AtLeast(0.6), true},
		{0.85, proof.AtMost(0.85), false}, {0.8501, proof.AtMost(0.85), true}, {math.NaN(), proof.AtMost(0.85), true},
		{0.86, proof.Between(0.86, 0.94), false}, {0.8599, proof.Between(0.86, 0.94), true}, {0.9401, proof.Between(0.86, 0.94), true}, {math.NaN(), proof.Between(0.86, 0.94), true},
		{7, proof.Goal{}, false},
	} {
		if got := (proof.Row{Ratio: c.ratio, Goal: c.goal}).Missed(); got != c.missed {
			t.Errorf("%v for %v is missed: %v", c.ratio, c.goal, got)
		}
	}
	table := proof.Table{Rows: []proof.Row{{Ratio: 1, Goal: proof.AtLeast(2)}, {Ratio: 1, Goal: proof.AtLeast(2).Because("rain")}, {Ratio: 3, Goal: proof.AtLeast(2)}}}
	if got := table.Unexplained(); len(got) != 1 {
		t.Errorf("unexplained: %v", got)
	}
}

func TestPicture(t *testing.T) {
	folder := t.TempDir()
	p := proof.Picture{File: "p.svg", Title: "Growth", X: "rows", Y: "ms", Log: true, Lines: []proof.Line{{Name: "planning", Points: []proof.Point{{6, 0.1}, {10000, 40}}}}}
	if err := p.Draw(folder); err != nil {
		t.Fatal(err)
	}
	drawn, err := os.ReadFile(filepath.Join(folder, "p.svg"))
	if err != nil {
		t.Fatal(err)
	}
	for _, want := range []string{"<svg", "Growth", "planning", "rows"} {
		if !strings.Contains(string(drawn), want) {
			t.Errorf("the picture lacks %q", want)
		}
	}
}
