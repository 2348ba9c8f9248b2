package adjuster

import (
	"testing"

	adjusterv1 "rowdatum/proto/gen/rowdatum/adjuster/v1"
)

func TestCounted(t *testing.T) {
	turns := CountUnit{"turn", "turns"}
	for count, want := range map[float64]string{
		1: "1 turn", -1: "1 turn", 2: "2 turns", 0.25: "1/4 turn", -0.75: "3/4 turn", 0.5: "1/2 turn",
		1.25: "1 and 1/4 turns", 3.5: "3 and 1/2 turns", 0.625: "5/8 turn", 0.0625: "1/16 turn",
		0.1: "0.1 turns", 1.3: "1.3 turns", 1.0 / 3: "0.3333 turns", 120: "120 turns",
	} {
		if got := english.counted(count, turns); got != want {
			t.Errorf("%v is said as %q, want %q", count, got, want)
		}
	}
}

func TestNumber(t *testing.T) {
	for x, want := range map[float64]string{0: "0", 6.35: "6.35", 0.1: "0.1", 1e9: "1000000000", -2.5: "-2.5", 1e300: "1e+300", 0.000001: "0.000001"} {
		if got := Number(x); got != want {
			t.Errorf("%v is written %q, want %q", x, got, want)
		}
	}
}

func TestFinish(t *testing.T) {
	const pinch = " Keep hands clear of pinch points while anything moves."
	handle := Style{SlackMm: 0.6, Approach: ApproachDeeper, CountStep: 0.25}
	clicks := Style{SlackMm: 0.3, Approach: ApproachShallower}
	mm := func(x float64) *float64 { return &x }
	for _, c := range []struct {
		name   string
		style  Style
		effect float64
		count  float64
		left   *float64
		want   string
	}{
		{"with the approach", handle, 6.35, 1, mm(10), "Do it." + pinch},
		{"against it", handle, -6.35, -1, mm(10), "Do it. Go at least 1/4 turn past it and come back, so that the move ends going deeper." + pinch},
		{"against it, travel not known", handle, -1, -1, nil, "Do it. Go at least 3/4 turn past it and come back, so that the move ends going deeper." + pinch},
		{"against it at the end", handle, -6.35, -1, mm(0.5), "Do it. The travel ends here, so it cannot go past it and back to take up the slack; read this row with care afterwards." + pinch},
		{"whole counts", clicks, 0.2, 1, mm(10), "Do it. Go at least 2 turns past it and come back, so that the move ends going shallower." + pinch},
		{"no slack", Style{}, -6.35, -1, nil, "Do it." + pinch},
		{"hands stay out", Style{HandsStayOut: true}, -6.35, -1, nil, "Do it."},
	} {
		o := &adjusterv1.Option{EffectMm: c.effect, Count: c.count, ShallowerLeftMm: c.left, DeeperLeftMm: c.left}
		got := c.style.finish(Words{Say: "Do it."}, o, &voice{language: english, text: Text{CountUnit: CountUnit{"turn", "turns"}}})
		if got != c.want {
			t.Errorf("%s: got %q, want %q", c.name, got, c.want)
		}
	}
}

// TestFinishOfTwoControls: only the control that has the slack is taken past it and back.
func TestFinishOfTwoControls(t *testing.T) {
	screw := Style{SlackMm: 0.6, Approach: ApproachDeeper, HandsStayOut: true}
	const past = " Go at least 1 click past it and come back, so that the move ends going deeper."
	const noPast = " The travel ends here, so it cannot go past it and back to take up the slack; read this row with care afterwards."
	for _, c := range []struct {
		name   string
		effect float64 // of the whole move
		part   Part
		want   string
	}{
		{"the pin alone, shallower", -12, Part{}, ""},
		{"pin shallower, screw deeper", -9, Part{EffectMm: 3, Count: 2, LeftMm: 30}, ""},
		{"pin deeper, screw shallower", 9, Part{EffectMm: -3, Count: -2, LeftMm: 30}, past},
		{"the screw alone, shallower", -3, Part{EffectMm: -3, Count: -2, LeftMm: 30}, past},
		{"the screw alone, to its end", -3, Part{EffectMm: -3, Count: -2, LeftMm: 0}, noPast},
	} {
		o := &adjusterv1.Option{EffectMm: c.effect, Count: c.effect / 1.5}
		got := screw.finish(Words{Say: "Do it.", SlackPart: &c.part}, o, &voice{language: english, text: Text{CountUnit: CountUnit{"click", "clicks"}}})
		if want := "Do it." + c.want; got != want {
			t.Errorf("%s: got %q, want %q", c.name, got, want)
		}
	}
}
