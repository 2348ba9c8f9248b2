package leveling

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"
)

func TestChecksRefuseWhatIsNotFinite(t *testing.T) {
	for _, x := range []float64{math.NaN(), math.Inf(1), math.Inf(-1)} {
		var v Violations
		Fixture{x, x, x}.Check("fixture.", &v)
		Aim{ToleranceMm: x, Confidence: x, MissSeconds: x, ZeroUncertaintyMm: x, DatumMm: &x}.Check("aim", nil, &v)
		Reach{x, x}.Check("reach", &v)
		if len(v) != 10 {
			t.Errorf("%v: %d violations, want 10: %v", x, len(v), v)
		}
	}
}

func TestDefaultsAreAccepted(t *testing.T) {
	var v Violations
	DefaultFixture().Check("fixture.", &v)
	DefaultAim().Check("aim", nil, &v)
	Reach{}.Check("reach", &v)
	if err := v.Err(); err != nil {
		t.Error(err)
	}
}

// Who sends half a megabyte of nonsense is not sent back a multiple of it.
func TestViolationsAreBounded(t *testing.T) {
	long := strings.Repeat("é", 200_000)
	p := Planter{DisplayName: "p", ReferenceRows: make([]int, 400_000), Mechanisms: make([]Mechanism, 400_000)}
	for i := range MaxRows {
		p.Rows = append(p.Rows, PlanterRow{Number: i + 1, Mechanism: long})
	}
	var v Violations
	p.Check("", &v)
	for range 10 * mostTold {
		v.Add("a", "b")
	}
	size := 0
	told := AsError(v.Err()).Violations
	for _, one := range told {
		size += len(one.Field) + len(one.Say(Voice{})) + len(one.Say(Voice{Language: Spanish}))
	}
	if len(told) != mostTold || size > 1<<20 || len(v) > 11*mostTold {
		t.Errorf("%d of %d violations told, of %d bytes", len(told), len(v), size)
	}
	if !slices.ContainsFunc(v, func(one Violation) bool { return one.Field == "referenceRows" }) || !slices.ContainsFunc(v, func(one Violation) bool { return one.Field == "mechanisms" }) {
		t.Error("too many of a kind are not told")
	}
}

func TestAsError(t *testing.T) {
	mine := &Error{Kind: Stale, Reason: "STALE_ETAG"}
	if got := AsError(fmt.Errorf("planning: %w", mine)); got != mine {
		t.Errorf("got %v", got)
	}
	secret := errors.New("disk at 0x17 on fire")
	got := AsError(secret)
	if got.Kind != Internal || !errors.Is(got, secret) || got.Message == "" || got.Message == secret.Error() {
		t.Errorf("an unknown error became %#v", got)
	}
}

func TestCountUnitFor(t *testing.T) {
	turns := CountUnit{One: "turn", Other: "turns"}
	for count, want := range map[float64]string{0: "turns", 0.75: "turn", 1: "turn", -1: "turn", -0.25: "turn", 1.25: "turns", -2: "turns"} {
		if got := turns.For(count); got != want {
			t.Errorf("%v %s, want %s", count, got, want)
		}
	}
}

func TestFigure(t *testing.T) {
	for _, c := range []struct {
		x    float64
		want string
	}{{0, "0"}, {math.Copysign(0, -1), "0"}, {3.175, "3.175"}, {-20, "-20"}, {1e20, "1e+20"}, {math.NaN(), "not a number"}, {math.Inf(-1), "infinite"}} {
		if got := Figure(c.x); got != c.want {
			t.Errorf("Figure(%v) = %q, want %q", c.x, got, c.want)
		}
	}
}
