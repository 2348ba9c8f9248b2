package shop

import (
	"math"
	"testing"
)

func TestCurve(t *testing.T) {
	c := curve{
		{2, figures{p95: 4, moves: 12, wrong: 0.05}},
		{3, figures{p95: 5, moves: 8, wrong: 0.01}},
		{4, figures{p95: 7, moves: 4}},
	}
	for _, x := range []struct{ p95, moves, tolerance float64 }{
		{4, 12, 2}, {4.5, 10, 2.5}, {6, 6, 3.5}, {7, 4, 4},
		{9, 4, 4}, // none of them leaves as much
	} {
		got := c.at(x.p95)
		near(t, "moves", got.moves, x.moves, 1e-12)
		near(t, "tolerance", got.toleranceMm, x.tolerance, 1e-12)
	}
	if got := c.at(3.9); !math.IsNaN(got.moves) || !math.IsNaN(got.p95) {
		t.Errorf("where nothing keeps within: got %+v", got)
	}
	near(t, "moves at a tolerance", c.with(3.5).moves, 6, 1e-12)
	near(t, "worst", c.worst(), 0.05, 0)
}

// A wider tolerance that happens to leave less spread counts, not the narrower one before it.
func TestCurveThatTurnsBack(t *testing.T) {
	c := curve{{2, figures{p95: 4, moves: 12}}, {3, figures{p95: 6, moves: 8}}, {4, figures{p95: 5, moves: 6}}, {5, figures{p95: 7, moves: 2}}}
	near(t, "moves", c.at(6).moves, 4, 1e-12)
}

func TestQuantile(t *testing.T) {
	sorted := []float64{1, 2, 4, 8, 16}
	for share, want := range map[float64]float64{0: 1, 0.5: 4, 0.95: 14.4, 1: 16} {
		near(t, "quantile", quantile(sorted, share), want, 1e-12)
	}
}

func TestFigures(t *testing.T) {
	s := scene{kind: threads(), rows: 4}
	s.touchSeconds = 60
	f := s.sum([]worked{
		{readings: 7, moves: 3, touched: 2, spreadMm: 4, even: 4, wrong: 1},
		{readings: 5, moves: 1, touched: 1, spreadMm: 6, even: 2},
	})
	near(t, "readings", f.readings, 6, 0)
	near(t, "moves", f.moves, 2, 0)
	near(t, "minutes", f.minutes, (6*20+2*40)/60.0, 1e-12)
	near(t, "median", f.median, 5, 1e-12)
	near(t, "even", f.even, 0.75, 1e-12)
	near(t, "wrong", f.wrong, 1.0/6, 1e-12)
}
