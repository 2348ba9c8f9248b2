package plan_test

import (
	"math/rand/v2"
	"testing"

	"rowdatum/server/leveling"
	"rowdatum/server/leveling/estimate"
	"rowdatum/server/leveling/plan"
)

// randomWindow is near the rows, sometimes one datum wide, sometimes with ends on predictions.
func randomWindow(rng *rand.Rand, p plan.Problem) *plan.Window {
	at := func() int64 {
		if rng.IntN(2) == 0 {
			return pico(50 + 8*(rng.Float64()*2-1))
		}
		r := p.Rows[rng.IntN(len(p.Rows))]
		return pico(r.Estimate.DepthMm + float64(r.Estimate.Scale*r.Options[rng.IntN(len(r.Options))].EffectMm))
	}
	a, b := at(), at()
	if rng.IntN(6) == 0 {
		b = a
	}
	return &plan.Window{FromPm: min(a, b), ToPm: max(a, b)}
}

func TestWindowEqualsTwin(t *testing.T) {
	rng := rand.New(rand.NewPCG(21, 22))
	held := 0
	for i := range 6000 {
		p := randomProblem(rng)
		free := plan.Solve(p).DatumMm
		p.Window = randomWindow(rng, p)
		got := plan.Compute(p)
		if d := differs(p, got); d != "" {
			t.Fatalf("case %d, %v in %+v: %s\n%+v", i, p.Aim.Kind, *p.Window, d, p)
		}
		if got.DatumMm != free {
			held++
		}
	}
	if held < 1000 {
		t.Errorf("the window mattered in %d cases only", held)
	}
}

// A window that already holds the free datum changes nothing: datum and choices are the same.
func TestWideWindowChangesNothing(t *testing.T) {
	rng := rand.New(rand.NewPCG(23, 24))
	for i := range 1500 {
		p := randomProblem(rng)
		want := plan.Compute(p).Describe()
		p.Window = &plan.Window{FromPm: -1e12, ToPm: 1e12}
		if got := plan.Compute(p).Describe(); got != want {
			t.Fatalf("case %d:\n%s\nfreely\n%s", i, got, want)
		}
	}
}

// At every datum of Holding the numbered rows are left as even, and just outside one of them is not.
func TestHolding(t *testing.T) {
	rng := rand.New(rand.NewPCG(25, 26))
	none, some := 0, 0
	for i := range 1500 {
		p := randomProblem(rng)
		p.Aim.Kind, p.Aim.ZeroUncertaintyMm = leveling.SetDepth, 0
		p.Reach = leveling.Reach{}
		numbers := []int{p.Rows[0].Number, p.Rows[len(p.Rows)-1].Number}
		left := func(at int64) bool {
			datum := float64(at) / 1e9
			p.Aim.DatumMm = &datum
			for _, r := range plan.Solve(p).Rows {
				if (r.Row == numbers[0] || r.Row == numbers[1]) && r.Part != plan.Left {
					return false
				}
			}
			return true
		}
		w := p.Holding(numbers)
		if w == nil {
			none++
			middle := (pico(p.Rows[0].Estimate.DepthMm) + pico(p.Rows[len(p.Rows)-1].Estimate.DepthMm)) / 2
			if left(middle) {
				t.Fatalf("case %d: no window, but both rows are even at %d", i, middle)
			}
			continue
		}
		some++
		if !left(w.FromPm) || !left(w.ToPm) || left(w.FromPm-1) || left(w.ToPm+1) {
			t.Fatalf("case %d: %+v is not where rows %v are even", i, *w, numbers)
		}
	}
	if none < 100 || some < 100 {
		t.Errorf("%d without a window, %d with one", none, some)
	}
	if (plan.Problem{Rows: []plan.Row{{Estimate: estimate.Estimate{DepthMm: 50}}}}).Holding(nil) != nil {
		t.Error("no rows hold nothing")
	}
}
