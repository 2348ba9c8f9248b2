package main

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"rowdatum/adjusters/adjuster"
	"rowdatum/adjusters/adjustertest"
	adjusterv1 "rowdatum/proto/gen/rowdatum/adjuster/v1"
)

func server(tb testing.TB) adjusterv1.AdjusterServer {
	tb.Helper()
	s, err := adjuster.New(style(), cam{})
	if err != nil {
		tb.Fatal(err)
	}
	return s
}

// TestCosines: travel of an eccentric is throw times (1 - cos angle). Cosines: 0, 45, 60, 90, 120 and 180
// degrees exact; 15 degrees is (sqrt 6 + sqrt 2)/4.
func TestCosines(t *testing.T) {
	s := server(t)
	row := adjustertest.Ask(t, s, `{"throwMm": 10, "clickDegrees": 15}`, `{"degrees": 0}`)
	if len(row.GetOptions()) != 13 {
		t.Fatalf("%d options, %v", len(row.GetOptions()), row.GetViolations())
	}
	for click, cos := range map[int]float64{0: 1, 1: (math.Sqrt(6) + math.Sqrt2) / 4, 3: math.Sqrt2 / 2, 4: 0.5, 6: 0, 8: -0.5, 12: -1} {
		o := row.GetOptions()[click]
		if want := 10 * (1 - cos); math.Abs(o.GetEffectMm()-want) > 1e-9 || o.GetCount() != float64(click) {
			t.Errorf("click %d is %v, want %v mm", click, o, want)
		}
	}
}

// TestAgainstPlainTwin compares random cams with the formula as it stands.
func TestAgainstPlainTwin(t *testing.T) {
	s, r := server(t), rand.New(rand.NewPCG(5, 6))
	for range 200 {
		throw, clicks := 1+r.Float64()*50, 1+r.IntN(60)
		click := 180 / float64(clicks)
		at := float64(r.IntN(clicks+1)) * click
		depth := func(degrees float64) float64 { return throw * (1 - math.Cos(degrees*math.Pi/180)) }
		row := adjustertest.Ask(t, s, fmt.Sprintf(`{"throwMm": %v, "clickDegrees": %v}`, throw, click), fmt.Sprintf(`{"degrees": %v}`, math.Min(at, 180)))
		if len(row.GetOptions()) != clicks+1 {
			t.Fatalf("%v degrees a click, at %v: %d options, %v", click, at, len(row.GetOptions()), row.GetViolations())
		}
		for k, o := range row.GetOptions() {
			if want := depth(float64(k)*click) - depth(at); math.Abs(o.GetEffectMm()-want) > 1e-8 {
				t.Fatalf("throw %v from %v degrees, click %d: %v, want %v mm", throw, at, k, o, want)
			}
		}
	}
}

func FuzzOptions(f *testing.F) {
	f.Add(`{"throwMm": 12, "clickDegrees": 15}`, `{"degrees": 90}`)
	f.Add(`{"throwMm": 200, "clickDegrees": 0.2}`, `{"degrees": 179.99}`)
	s := server(f)
	f.Fuzz(func(t *testing.T, figures, setting string) {
		row := adjustertest.Ask(t, s, figures, setting)
		if (len(row.GetOptions()) == 0) == (len(row.GetViolations()) == 0) {
			t.Fatalf("%s at %s: %v", figures, setting, row)
		}
	})
}
