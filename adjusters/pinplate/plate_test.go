package main

import (
	"fmt"
	"math/rand/v2"
	"strings"
	"testing"

	"rowdatum/adjusters/adjuster"
	"rowdatum/adjusters/adjustertest"
	adjusterv1 "rowdatum/proto/gen/rowdatum/adjuster/v1"
)

func server(tb testing.TB) adjusterv1.AdjusterServer {
	tb.Helper()
	s, err := adjuster.New(style(), plate{})
	if err != nil {
		tb.Fatal(err)
	}
	return s
}

// TestAgainstPlainTwin compares random plates with a twin that counts in whole thousandths of a mm.
func TestAgainstPlainTwin(t *testing.T) {
	s, r := server(t), rand.New(rand.NewPCG(7, 8))
	for range 200 {
		um := []int{r.IntN(50_000)}
		for range 1 + r.IntN(20) {
			um = append(um, um[len(um)-1]+1+r.IntN(9999))
		}
		holes := make([]string, len(um))
		for i := range um {
			holes[i] = fmt.Sprint(float64(um[i]) / 1000)
		}
		at := r.IntN(len(um))
		row := adjustertest.Ask(t, s, fmt.Sprintf(`{"holesMm": [%s]}`, strings.Join(holes, ",")), fmt.Sprintf(`{"hole": %d}`, at+1))
		if len(row.GetOptions()) != len(um) {
			t.Fatalf("%v: %d options, %v", holes, len(row.GetOptions()), row.GetViolations())
		}
		for to, o := range row.GetOptions() {
			if o.GetEffectMm() != float64(um[to]-um[at])/1000 || o.GetCount() != float64(to-at) || o.GetSettingAfter() != fmt.Sprintf(`{"hole":%d}`, to+1) {
				t.Fatalf("%v from hole %d to %d: %v", holes, at+1, to+1, o)
			}
		}
	}
}

func FuzzOptions(f *testing.F) {
	f.Add(`{"holesMm": [20, 27, 33]}`, `{"hole": 2}`)
	s := server(f)
	f.Fuzz(func(t *testing.T, figures, setting string) {
		row := adjustertest.Ask(t, s, figures, setting)
		if (len(row.GetOptions()) == 0) == (len(row.GetViolations()) == 0) {
			t.Fatalf("%s at %s: %v", figures, setting, row)
		}
	})
}
