package main

import (
	"fmt"
	"math/rand/v2"
	"testing"

	"rowdatum/adjusters/adjuster"
	"rowdatum/adjusters/adjustertest"
	adjusterv1 "rowdatum/proto/gen/rowdatum/adjuster/v1"
)

func server(tb testing.TB) adjusterv1.AdjusterServer {
	tb.Helper()
	s, err := adjuster.New(style(), handle{})
	if err != nil {
		tb.Fatal(err)
	}
	return s
}

// effectOf is the effect of the option with this count.
func effectOf(t *testing.T, row *adjusterv1.RowOptions, count float64) float64 {
	t.Helper()
	for _, o := range row.GetOptions() {
		if o.GetCount() == count {
			return o.GetEffectMm()
		}
	}
	t.Fatalf("no option of %v turns among %d, %v", count, len(row.GetOptions()), row.GetViolations())
	return 0
}

// TestThreads checks travel = turns times lead. Leads: ISO 261 coarse and fine, ASME B1.1 UNC and UNF
// (25.4 mm over threads per inch), as public charts of those standards give them.
func TestThreads(t *testing.T) {
	s := server(t)
	for _, c := range []struct {
		thread string
		leadMm float64
		step   float64
		turns  float64
		wantMm float64
	}{
		{"M12", 1.75, 0.25, 2, 3.5},
		{"M16, a correction of 1.6 mm", 2, 0.1, 0.8, 1.6},
		{"M20", 2.5, 0.25, 1.25, 3.125},
		{"M24", 3, 0.25, -0.75, -2.25},
		{"M16x1.5", 1.5, 0.5, -2.5, -3.75},
		{"1/2-13 UNC", 25.4 / 13, 1, 1, 1.953846154},
		{"3/4-10 UNC, a sixteenth of an inch", 2.54, 0.125, 0.625, 1.5875},
		{"1-8 UNC, half an inch", 3.175, 0.25, 4, 12.7},
		{"1-1/4-7 UNC", 25.4 / 7, 0.5, -1, -3.628571429},
		{"3/4-16 UNF", 1.5875, 0.25, 1, 1.5875},
		{"a quarter inch a turn, half an inch (common practice, no source)", 6.35, 0.25, 2, 12.7},
	} {
		figures := fmt.Sprintf(`{"mmPerTurn": %v, "smallestTurn": %v, "totalTurns": 16}`, c.leadMm, c.step)
		got := effectOf(t, adjustertest.Ask(t, s, figures, `{"turns": 8}`), c.turns)
		const printed = 1e-9 // the charts' last digit
		if d := got - c.wantMm; d > printed || d < -printed {
			t.Errorf("%s: %v turns give %v mm, want %v", c.thread, c.turns, got, c.wantMm)
		}
	}
}

// TestAgainstPlainTwin compares random handles with a twin that counts in whole thousandths.
func TestAgainstPlainTwin(t *testing.T) {
	const thousandths = 1000
	s, r := server(t), rand.New(rand.NewPCG(1, 2))
	for range 500 {
		step, total := 50+r.IntN(950), 1+r.IntN(16*thousandths)
		lead, at := 500+r.IntN(10000), 0
		at = r.IntN(total + 1)
		in := func(n int) float64 { return float64(n) / thousandths }
		figures := fmt.Sprintf(`{"mmPerTurn": %v, "smallestTurn": %v, "totalTurns": %v}`, in(lead), in(step), in(total))
		row := adjustertest.Ask(t, s, figures, fmt.Sprintf(`{"turns": %v}`, in(at)))
		i := 0
		for to := at % step; to <= total; to += step {
			if i == len(row.GetOptions()) {
				t.Fatalf("%s at %v: only %d options, %v", figures, in(at), i, row.GetViolations())
			}
			o := row.GetOptions()[i]
			if want := float64(lead*(to-at)) / (thousandths * thousandths); o.GetEffectMm() != want {
				t.Fatalf("%s at %v: option %d is %v mm, want %v", figures, in(at), i, o.GetEffectMm(), want)
			}
			if want := fmt.Sprintf(`{"turns":%v}`, in(to)); o.GetSettingAfter() != want {
				t.Fatalf("%s at %v: option %d leads to %s, want %s", figures, in(at), i, o.GetSettingAfter(), want)
			}
			if want := float64(lead*to) / (thousandths * thousandths); o.GetShallowerLeftMm() != want {
				t.Fatalf("%s at %v: option %d leaves %v mm shallower, want %v", figures, in(at), i, o.GetShallowerLeftMm(), want)
			}
			i++
		}
		if i != len(row.GetOptions()) {
			t.Fatalf("%s at %v: %d options, want %d", figures, in(at), len(row.GetOptions()), i)
		}
	}
}

// TestThereAndBack goes to every option and home again: both moves add up to exactly nothing.
func TestThereAndBack(t *testing.T) {
	s := server(t)
	const figures = `{"mmPerTurn": 1.953846154, "smallestTurn": 0.1, "totalTurns": 7.3}`
	for _, o := range adjustertest.Ask(t, s, figures, `{"turns": 3.7}`).GetOptions() {
		if back := effectOf(t, adjustertest.Ask(t, s, figures, o.GetSettingAfter()), -o.GetCount()+0); back+o.GetEffectMm() != 0 {
			t.Errorf("there %v, back %v", o.GetEffectMm(), back)
		}
	}
}

func FuzzOptions(f *testing.F) {
	f.Add(`{"mmPerTurn": 6.35, "smallestTurn": 0.25, "totalTurns": 16}`, `{"turns": 8}`)
	f.Add(`{"mmPerTurn": 0.1, "smallestTurn": 10, "totalTurns": 1e-300}`, `{"turns": 0}`)
	f.Add(`{"mmPerTurn": 50, "smallestTurn": 0.01, "totalTurns": 200}`, ``)
	s := server(f)
	f.Fuzz(func(t *testing.T, figures, setting string) {
		row := adjustertest.Ask(t, s, figures, setting)
		if (len(row.GetOptions()) == 0) == (len(row.GetViolations()) == 0) {
			t.Fatalf("%s at %s: %v", figures, setting, row)
		}
	})
}
