package plan_test

import (
	"encoding/json"
	"fmt"
	"math"
	"slices"
	"testing"

	"rowdatum/server/leveling"
	"rowdatum/server/leveling/estimate"
	"rowdatum/server/leveling/plan"
)

// The three bundled styles with their constants (ours, no source).
var (
	threadedHandle = leveling.Style{
		ID: "threaded-handle", CountUnit: leveling.CountUnit{One: "turn", Other: "turns"},
		SetsPlantingDepth: true, ScaleSd: 0.08, SeatingMm: 0.3, SlackMm: 0.6, Approach: leveling.ApproachDeeper, TouchSeconds: 60,
	}
	notchedStop = leveling.Style{
		ID: "notched-stop", CountUnit: leveling.CountUnit{One: "notch", Other: "notches"},
		KeepsMarks: true, SetsPlantingDepth: true, ScaleSd: 0.05, SeatingMm: 0.3, TouchSeconds: 60,
	}
	shimmedArm = leveling.Style{
		ID: "shimmed-arm", CountUnit: leveling.CountUnit{One: "shim", Other: "shims"},
		ScaleSd: 0.03, SeatingMm: 0.2, TouchSeconds: 300,
	}
)

// handle lists the options of a threaded handle; turns below 0 are not known.
func handle(mmPerTurn, smallestTurn, totalTurns, turns float64) []leveling.Option {
	known := turns >= 0
	low, high := -math.Floor(turns/smallestTurn+1e-9), math.Floor((totalTurns-turns)/smallestTurn+1e-9)
	if !known {
		high = math.Floor(totalTurns/smallestTurn + 1e-9)
		low = -high
	}
	var out []leveling.Option
	for i := low; i <= high; i++ {
		o := leveling.Option{Leave: i == 0, Count: i * smallestTurn, EffectMm: mmPerTurn * i * smallestTurn}
		if known {
			after := turns + o.Count
			o.SettingAfter, o.TravelKnown = setting("turns", after), true
			o.ShallowerLeftMm, o.DeeperLeftMm = mmPerTurn*after, mmPerTurn*(totalTurns-after)
		}
		out = append(out, o)
	}
	return out
}

// stop lists the options of a notched stop with the depth of every notch; notch 0 is not known, and
// then the notches must be even.
func stop(depthsMm []float64, notch int) []leveling.Option {
	var out []leveling.Option
	n := len(depthsMm)
	if notch == 0 {
		for i := 1 - n; i < n; i++ {
			out = append(out, leveling.Option{Leave: i == 0, Count: float64(i), EffectMm: float64(i) * (depthsMm[1] - depthsMm[0])})
		}
		return out
	}
	for i := 1; i <= n; i++ {
		out = append(out, leveling.Option{
			Leave: i == notch, Count: float64(i - notch), EffectMm: depthsMm[i-1] - depthsMm[notch-1],
			SettingAfter: setting("notch", float64(i)), TravelKnown: true,
			ShallowerLeftMm: depthsMm[i-1] - depthsMm[0], DeeperLeftMm: depthsMm[n-1] - depthsMm[i-1],
		})
	}
	return out
}

// even lists the depths of n notches mmPerNotch apart.
func even(n int, mmPerNotch float64) []float64 {
	out := make([]float64, n)
	for i := range out {
		out[i] = float64(i) * mmPerNotch
	}
	return out
}

// shims lists the options of a shimmed arm whose shims make it shallower: every total that the kit adds
// up to, in the fewest shims.
func shims(leverRatio float64, kitMm []float64, stackMaxMm float64, now []float64) []leveling.Option {
	const tenths = 10
	most := int(math.Round(stackMaxMm * tenths))
	stacks := make([][]float64, most+1)
	stacks[0] = []float64{}
	for total := 1; total <= most; total++ {
		for _, k := range kitMm {
			rest := total - int(math.Round(k*tenths))
			if rest >= 0 && stacks[rest] != nil && (stacks[total] == nil || len(stacks[rest])+1 < len(stacks[total])) {
				stacks[total] = append(slices.Clone(stacks[rest]), k)
			}
		}
	}
	current := 0
	for _, k := range now {
		current += int(math.Round(k * tenths))
	}
	var out []leveling.Option
	for total := most; total >= 0; total-- {
		stack := stacks[total]
		if total == current {
			stack = now
		}
		if stack == nil {
			continue
		}
		text, _ := json.Marshal(map[string][]float64{"shimsMm": stack})
		out = append(out, leveling.Option{
			Leave: total == current, Count: float64(len(stack) - len(now)), EffectMm: -leverRatio * float64(total-current) / tenths,
			SettingAfter: leveling.JSON(text), TravelKnown: true,
			ShallowerLeftMm: leverRatio * float64(most-total) / tenths, DeeperLeftMm: leverRatio * float64(total) / tenths,
		})
	}
	return out
}

func setting(key string, value float64) leveling.JSON {
	return leveling.JSON(fmt.Sprintf(`{"%s":%s}`, key, leveling.Figure(value)))
}

// rowOf makes a row whose setting is what its options say of leave.
func rowOf(number, group int, style *leveling.Style, e estimate.Estimate, options []leveling.Option) plan.Row {
	r := plan.Row{Number: number, Mechanism: style.ID, Group: group, Style: style, Estimate: e, Options: options}
	for _, o := range options {
		if o.Leave {
			r.Setting = o.SettingAfter
		}
	}
	if e.ScaleSd == 0 {
		r.Estimate.ScaleSd = style.ScaleSd
	}
	return r
}

// workedExample is the example of the stateless call's description.
func workedExample() plan.Problem {
	f := leveling.DefaultFixture()
	return plan.Problem{
		Aim: leveling.DefaultAim(), Reach: leveling.Reach{ShallowerMm: 20, DeeperMm: 30},
		Rows: []plan.Row{
			rowOf(1, 0, &threadedHandle, estimate.Stay(f, []float64{50.8, 50.8}), handle(6.35, 0.25, 16, 8)),
			rowOf(2, 1, &notchedStop, estimate.Stay(f, []float64{44.5}), stop(even(20, 4), 9)),
			rowOf(3, 2, &shimmedArm, estimate.Stay(f, []float64{57.2}), shims(1.8, []float64{0.5, 1, 2, 3}, 12, []float64{2, 1})),
		},
	}
}

func TestWorkedExample(t *testing.T) {
	p := plan.Compute(workedExample())
	near := func(what string, got, want, within float64) {
		t.Helper()
		if !(math.Abs(got-want) <= within) {
			t.Errorf("%s is %v, want %v", what, got, want)
		}
	}
	near("datum", p.DatumMm, 56.95, 0)
	near("spread before", p.SpreadBeforeMm, 12.7, 0)
	near("spread after", p.SpreadAfterMm, 0.7, 0)
	near("work seconds", p.WorkSeconds, 120, 0)
	near("provable tolerance", p.ProvableToleranceMm, 1.1156, 5e-5)
	if p.TouchedRows != 2 || p.RereadRows != 0 {
		t.Errorf("touched %d, read again %d, want 2, 0", p.TouchedRows, p.RereadRows)
	}
	want := []struct {
		estimate, u                float64
		verdict                    leveling.Verdict
		chance                     float64
		effect, count              float64
		after                      leveling.JSON
		predicted, predictedChance float64
	}{
		{50.8, 0.48091, leveling.Off, 0, 6.35, 1, `{"turns":9}`, 57.15, 0.99995},
		{44.5, 0.67824, leveling.Off, 0, 12, 3, `{"notch":12}`, 56.5, 0.99779},
		{57.2, 0.67824, leveling.Even, 0.99999, 0, 0, `{"shimsMm":[2,1]}`, 57.2, 0.99999},
	}
	for i, w := range want {
		r := p.Rows[i]
		name := fmt.Sprintf("row %d ", i+1)
		near(name+"number", float64(r.Row), float64(i+1), 0)
		near(name+"estimate", r.EstimateMm, w.estimate, 0)
		near(name+"u", r.UncertaintyMm, w.u, 5e-6)
		near(name+"chance", r.Chance, w.chance, 5e-6)
		near(name+"effect", r.Option.EffectMm, w.effect, 1e-12)
		near(name+"count", r.Option.Count, w.count, 0)
		near(name+"predicted", r.PredictedMm, w.predicted, 0)
		near(name+"predicted chance", r.PredictedChance, w.predictedChance, 5e-6)
		near(name+"readings to settle", float64(r.ReadingsToSettle), 0, 0)
		if r.Verdict != w.verdict || r.Option.SettingAfter != w.after || r.Why == "" {
			t.Errorf("row %d: %v, setting %s, %q", i+1, r.Verdict, r.Option.SettingAfter, r.Why)
		}
	}
	tradeoff := []plan.TradeoffPoint{{0, 12.7}, {1, 6.3}, {2, 0.15}, {3, 0.15}}
	if !slices.Equal(p.Tradeoff, tradeoff) {
		t.Errorf("trade-off %v, want %v", p.Tradeoff, tradeoff)
	}
	if len(p.Marks) != 0 {
		t.Errorf("marks %v, want none", p.Marks)
	}
}
