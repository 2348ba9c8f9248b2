package main

import (
	"encoding/json"
	"fmt"
	"math/rand/v2"
	"testing"

	"rowdatum/adjusters/adjuster"
	"rowdatum/adjusters/adjustertest"
	adjusterv1 "rowdatum/proto/gen/rowdatum/adjuster/v1"
)

func server(tb testing.TB) adjusterv1.AdjusterServer {
	tb.Helper()
	s, err := adjuster.New(style(), stop{})
	if err != nil {
		tb.Fatal(err)
	}
	return s
}

// TestAgainstPlainTwin compares random stops, even and uneven, with a twin that counts in whole
// thousandths of a millimetre.
func TestAgainstPlainTwin(t *testing.T) {
	const um = 1000
	s, r := server(t), rand.New(rand.NewPCG(3, 4))
	for i := range 500 {
		notches := 2 + r.IntN(40)
		f := map[string]any{"notches": notches}
		depths := make([]int, notches)
		pitch := 100 + r.IntN(9900)
		depthsMm := make([]float64, notches)
		for n := range depths {
			depths[n] = n * pitch
			if i%2 == 1 {
				depths[n] += r.IntN(pitch)
			}
			depthsMm[n] = float64(depths[n]) / um
		}
		if i%2 == 1 {
			f["depthsMm"] = depthsMm
		} else {
			f["mmPerNotch"] = float64(pitch) / um
		}
		figures, err := json.Marshal(f)
		if err != nil {
			t.Fatal(err)
		}
		at := r.IntN(notches)
		row := adjustertest.Ask(t, s, string(figures), fmt.Sprintf(`{"notch": %d}`, at+1))
		if len(row.GetOptions()) != notches {
			t.Fatalf("%s: %d options, %v", figures, len(row.GetOptions()), row.GetViolations())
		}
		for to, o := range row.GetOptions() {
			want := &adjusterv1.Option{
				Leave: to == at, EffectMm: float64(depths[to]-depths[at]) / um, Count: float64(to - at),
				SettingAfter: fmt.Sprintf(`{"notch":%d}`, to+1),
			}
			left := [2]float64{float64(depths[to]-depths[0]) / um, float64(depths[notches-1]-depths[to]) / um}
			if o.GetLeave() != want.Leave || o.GetEffectMm() != want.EffectMm || o.GetCount() != want.Count || o.GetSettingAfter() != want.SettingAfter ||
				o.GetShallowerLeftMm() != left[0] || o.GetDeeperLeftMm() != left[1] {
				t.Fatalf("%s from notch %d: got %v, want %v with travel %v", figures, at+1, o, want, left)
			}
		}
	}
}

// TestQuarterInchNotches: four notches of a quarter inch are an inch (common practice, no source).
func TestQuarterInchNotches(t *testing.T) {
	row := adjustertest.Ask(t, server(t), `{"notches": 12, "mmPerNotch": 6.35}`, `{"notch": 5}`)
	if o := row.GetOptions()[8]; o.GetCount() != 4 || o.GetEffectMm() != 25.4 {
		t.Errorf("four notches are %v", o)
	}
}

func FuzzOptions(f *testing.F) {
	f.Add(`{"notches": 20, "mmPerNotch": 4}`, `{"notch": 9}`)
	f.Add(`{"notches": 3, "depthsMm": [1, 2, 3.5]}`, `{"notch": 3}`)
	f.Add(`{"notches": 500, "mmPerNotch": 100}`, ``)
	s := server(f)
	f.Fuzz(func(t *testing.T, figures, setting string) {
		row := adjustertest.Ask(t, s, figures, setting)
		if (len(row.GetOptions()) == 0) == (len(row.GetViolations()) == 0) {
			t.Fatalf("%s at %s: %v", figures, setting, row)
		}
	})
}
