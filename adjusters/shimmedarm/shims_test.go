package main

import (
	"encoding/json"
	"fmt"
	"math/rand/v2"
	"slices"
	"testing"
	"time"

	"google.golang.org/protobuf/proto"

	"rowdatum/adjusters/adjuster"
	"rowdatum/adjusters/adjustertest"
	adjusterv1 "rowdatum/proto/gen/rowdatum/adjuster/v1"
)

func server(tb testing.TB) adjusterv1.AdjusterServer {
	tb.Helper()
	s, err := adjuster.New(style(), arm{})
	if err != nil {
		tb.Fatal(err)
	}
	return s
}

func text(tb testing.TB, v any) string {
	tb.Helper()
	out, err := json.Marshal(v)
	if err != nil {
		tb.Fatal(err)
	}
	return string(out)
}

// effort is what the options are chosen by.
type effort struct{ changed, shims int }

// twin goes through every stack of a kit within the largest and keeps the least effort for each total.
func twin(kit []nm, most nm, now []nm) map[nm]effort {
	best := map[nm]effort{}
	var try func(kit, stack []nm)
	try = func(kit, stack []nm) {
		if len(kit) == 0 {
			e := effort{len(without(now, stack)) + len(without(stack, now)), len(stack)}
			old, seen := best[sum(stack)]
			if !seen || e.changed < old.changed || e.changed == old.changed && e.shims < old.shims {
				best[sum(stack)] = e
			}
			return
		}
		for sum(stack) <= most {
			try(kit[1:], stack)
			stack = append(stack[:len(stack):len(stack)], kit[0])
		}
	}
	try(kit, nil)
	return best
}

func TestAgainstPlainTwin(t *testing.T) {
	s, r := server(t), rand.New(rand.NewPCG(5, 6))
	for range 1500 {
		f := figures{LeverRatio: 1, StackMaxMm: float64(1+r.IntN(30)) / 10, ShimMakes: "DEEPER"}
		var kit []nm
		for _, size := range r.Perm(12)[:1+r.IntN(4)] {
			f.KitMm = append(f.KitMm, float64(3+size)/10) // 0.3 to 1.4 mm
			kit = append(kit, nm(3+size)*100_000)
		}
		now := setting{ShimsMm: []float64{}}
		for range r.IntN(5) {
			if r.IntN(8) == 0 {
				now.ShimsMm = append(now.ShimsMm, 0.77) // an odd one
				continue
			}
			now.ShimsMm = append(now.ShimsMm, f.KitMm[r.IntN(len(f.KitMm))])
		}
		compare(t, s, f, kit, now)
	}
}

func compare(t *testing.T, s adjusterv1.AdjusterServer, f figures, kit []nm, now setting) {
	t.Helper()
	where := text(t, f) + " at " + text(t, now)
	shims := inNm(now.ShimsMm)
	want := twin(kit, toNm(f.StackMaxMm), shims)
	delete(want, sum(shims))
	for _, o := range adjustertest.Ask(t, s, text(t, f), text(t, now)).GetOptions() {
		if o.GetLeave() {
			continue
		}
		var after setting
		if err := json.Unmarshal([]byte(o.GetSettingAfter()), &after); err != nil {
			t.Fatal(err)
		}
		stack := inNm(after.ShimsMm)
		e, ok := want[sum(stack)]
		got := effort{len(without(shims, stack)) + len(without(stack, shims)), len(stack)}
		if !ok || got != e {
			t.Fatalf("%s: %s costs %+v, want %+v (%v)", where, o.GetSettingAfter(), got, e, ok)
		}
		if o.GetCount() != float64(len(stack)-len(shims)) || toNm(o.GetEffectMm()) != sum(stack)-sum(shims) {
			t.Fatalf("%s: %v does not fit its stack", where, o)
		}
		delete(want, sum(stack))
	}
	if len(want) > 0 {
		t.Fatalf("%s: totals without an option: %v", where, want)
	}
}

// TestLeverAndSign: depth changes by the lever ratio, in the direction that the figures say.
func TestLeverAndSign(t *testing.T) {
	s := server(t)
	for makes, want := range map[string]float64{"DEEPER": 1.8, "SHALLOWER": -1.8} {
		f := figures{LeverRatio: 1.8, KitMm: []float64{1}, StackMaxMm: 2, ShimMakes: makes}
		for _, o := range adjustertest.Ask(t, s, text(t, f), `{"shimsMm": [1]}`).GetOptions() {
			if o.GetEffectMm() != want*o.GetCount() {
				t.Errorf("%s: %v shims more are %v mm", makes, o.GetCount(), o.GetEffectMm())
			}
		}
	}
}

// TestLargeKit asks for rows of the largest kit with well-filled stacks; the service waits a few seconds
// for 120 rows.
func TestLargeKit(t *testing.T) {
	f := figures{LeverRatio: 1, StackMaxMm: 35, ShimMakes: "DEEPER"}
	for i := range maxKit {
		f.KitMm = append(f.KitMm, 0.05*float64(i+1))
	}
	now := setting{ShimsMm: f.KitMm[10:30]}
	r := &adjusterv1.OptionsRequest{Mechanisms: []*adjusterv1.MechanismFigures{{Figures: text(t, f)}}}
	const rows = 10
	for range rows {
		r.Rows = append(r.Rows, &adjusterv1.RowSetting{Setting: text(t, now)})
	}
	start := time.Now()
	out, err := server(t).Options(t.Context(), r)
	if err != nil {
		t.Fatal(err)
	}
	if d := time.Since(start); d > 5*time.Second {
		t.Errorf("%d rows took %v", rows, d)
	}
	// 0, 0.05 … 35 mm; the 20.5 mm found are one of them.
	if n := len(out.GetRows()[0].GetOptions()); n != 701 {
		t.Errorf("%d options, want 701: %v", n, out.GetRows()[0].GetViolations())
	}
}

func TestNamed(t *testing.T) {
	for want, shims := range map[string][]float64{
		"one 2 mm shim":    {2},
		"two 0.5 mm shims": {0.5, 0.5},
		"three 3 mm shims, one 1 mm shim and two 0.1 mm shims": {0.1, 3, 1, 3, 0.1, 3},
		"13 0.3 mm shims": {0.3, 0.3, 0.3, 0.3, 0.3, 0.3, 0.3, 0.3, 0.3, 0.3, 0.3, 0.3, 0.3},
	} {
		if got := named(move{}, inNm(shims)); got != want {
			t.Errorf("%v are named %q, want %q", shims, got, want)
		}
	}
}

func FuzzOptions(f *testing.F) {
	f.Add(`{"leverRatio": 1.8, "kitMm": [0.5, 1, 2, 3], "stackMaxMm": 12, "shimMakes": "SHALLOWER"}`, `{"shimsMm": [2, 1]}`)
	f.Add(`{"leverRatio": 20, "kitMm": [0.05, 0.0500000001], "stackMaxMm": 100, "shimMakes": "DEEPER"}`, `{"shimsMm": [100, 0.001]}`)
	s := server(f)
	f.Fuzz(func(t *testing.T, figures, setting string) {
		row := adjustertest.Ask(t, s, figures, setting)
		if (len(row.GetOptions()) == 0) == (len(row.GetViolations()) == 0) {
			t.Fatalf("%s at %s: %v", figures, setting, row)
		}
	})
}

func BenchmarkOptions(b *testing.B) {
	s := server(b)
	figures := text(b, figures{LeverRatio: 1.8, KitMm: []float64{0.5, 1, 2, 3}, StackMaxMm: 12, ShimMakes: "SHALLOWER"})
	for n := range 3 {
		setting := text(b, setting{ShimsMm: []float64{1, 2, 0.5}[:n+1]})
		b.Run(fmt.Sprintf("%d-shims", n+1), func(b *testing.B) {
			base := encoding(b, adjustertest.Ask(b, s, figures, setting))
			b.ResetTimer()
			for b.Loop() {
				adjustertest.Ask(b, s, figures, setting)
			}
			b.ReportMetric(float64(b.Elapsed())/float64(b.N)/base, "x-encoding")
		})
	}
}

// encoding is the time in ns that it takes to write an answer for the wire.
func encoding(b *testing.B, answer proto.Message) float64 {
	const rounds = 1000
	begun := time.Now()
	for range rounds {
		if _, err := proto.Marshal(answer); err != nil {
			b.Fatal(err)
		}
	}
	return float64(time.Since(begun)) / rounds
}

// TestSpanish: every word of a move and of its cautions is Spanish, one and several told apart.
func TestSpanish(t *testing.T) {
	m := move{Language: spanish, Figures: figures{KitMm: []float64{0.5, 1, 2}, StackMaxMm: 3}, From: &setting{ShimsMm: []float64{2, 0.7, 0.7}}, To: &setting{ShimsMm: []float64{1, 0.5}}}
	words := arm{}.Say(m)
	got := append([]string{words.Say}, words.Cautions...)
	want := []string{
		"Saque un suplemento de 2 mm y dos suplementos de 0.7 mm. Ponga un suplemento de 1 mm y un suplemento de 0.5 mm. La pila queda en 1.5 mm, y el surco va " + m.Direction() + ".",
		"La pila se encontró en 3.4 mm, sobre su máximo de 3 mm; se tomó como se encontró, haga revisar el brazo y sus pernos.",
		"La pila se encontró con dos suplementos de 0.7 mm fuera del juego; mida antes de confiar.",
	}
	if !slices.Equal(got, want) {
		t.Errorf("said %q\nwant %q", got, want)
	}
}
