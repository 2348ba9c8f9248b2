package optimum

import "slices"

// mechanism is a style with its figures.
type mechanism struct {
	style   string
	figures map[string]any
	travel  func(setting map[string]any) travel
	trims   bool    // does not set planting depth
	scaleSd float64 // what the style says of itself, from here on
	seating float64 // mm
	touch   float64 // seconds
}

// travel is where a row can be brought to, as nominal depths, mm.
type travel struct {
	here, shallowest, deepest float64
	places                    []float64 // here among them
}

// threaded is a handle on a thread. Where nobody knows how far it is turned, it may have its whole travel both ways.
func threaded(mmPerTurn, smallest, total float64) mechanism {
	reached := func(setting map[string]any) travel {
		from, least := 0.0, -total
		if setting != nil {
			from, least = setting["turns"].(float64), 0
		}
		const rounding = 1e-9
		t := travel{here: mmPerTurn * from, shallowest: mmPerTurn * least, deepest: mmPerTurn * total, places: []float64{mmPerTurn * from}}
		for k := 1.0; from+k*smallest <= total+rounding; k++ {
			t.places = append(t.places, mmPerTurn*(from+k*smallest))
		}
		for k := 1.0; from-k*smallest >= least-rounding; k++ {
			t.places = append(t.places, mmPerTurn*(from-k*smallest))
		}
		return t
	}
	return mechanism{style: "threaded-handle", travel: reached,
		figures: map[string]any{"mmPerTurn": mmPerTurn, "smallestTurn": smallest, "totalTurns": total}}
}

// notched is a stop in notches that lie evenly. Where nobody knows its notch, it may have its whole travel both ways.
func notched(mmPerNotch float64, notches int) mechanism {
	reached := func(setting map[string]any) travel {
		at, first, last := 0, 1-notches, notches-1
		if setting != nil {
			at, first, last = setting["notch"].(int), 1, notches
		}
		t := travel{here: mmPerNotch * float64(at), shallowest: mmPerNotch * float64(first), deepest: mmPerNotch * float64(last)}
		for n := first; n <= last; n++ {
			t.places = append(t.places, mmPerNotch*float64(n))
		}
		return t
	}
	return mechanism{style: "notched-stop", travel: reached, figures: map[string]any{"mmPerNotch": mmPerNotch, "notches": notches}}
}

// uneven is a stop in notches each of which has its own depth, rising.
func uneven(depths []float64) mechanism {
	reached := func(setting map[string]any) travel {
		return travel{here: depths[setting["notch"].(int)-1], shallowest: depths[0], deepest: depths[len(depths)-1], places: depths}
	}
	return mechanism{style: "notched-stop", travel: reached, figures: map[string]any{"depthsMm": list(depths), "notches": len(depths)}}
}

// shimmed is an arm with a stack of shims: any number of each of a kit, up to the largest stack. A stack found otherwise may
// stay. mmPerMm is below 0 where a shim makes the row shallower.
func shimmed(mmPerMm float64, kit []float64, largest float64) mechanism {
	makes, ratio := "DEEPER", mmPerMm
	if mmPerMm < 0 {
		makes, ratio = "SHALLOWER", -mmPerMm
	}
	reached := func(setting map[string]any) travel {
		here := 0.0
		for _, shim := range setting["shimsMm"].([]any) {
			here += shim.(float64)
		}
		totals := stacks(kit, largest)
		if !slices.Contains(totals, here) {
			totals = append(totals, here)
		}
		t := travel{here: mmPerMm * here}
		for _, total := range totals {
			t.places = append(t.places, mmPerMm*total)
		}
		return t
	}
	return mechanism{style: "shimmed-arm", travel: reached, trims: true,
		figures: map[string]any{"leverRatio": ratio, "kitMm": list(kit), "stackMaxMm": largest, "shimMakes": makes}}
}

// stacks are the totals that shims of a kit add up to. Shims come in whole quarters of a millimetre here: their sums are exact.
func stacks(kit []float64, largest float64) []float64 {
	totals := []float64{0}
	for i := 0; i < len(totals); i++ {
		for _, shim := range kit {
			if total := totals[i] + shim; total <= largest && !slices.Contains(totals, total) {
				totals = append(totals, total)
			}
		}
	}
	return totals
}

func list(values []float64) []any {
	out := make([]any, len(values))
	for i, v := range values {
		out[i] = v
	}
	return out
}
