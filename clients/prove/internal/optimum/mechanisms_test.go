package optimum

import (
	"slices"
	"testing"
)

func TestPlaces(t *testing.T) {
	for name, c := range map[string]struct {
		mechanism mechanism
		setting   map[string]any
		want      travel
	}{
		"a handle between its steps": {threaded(2, 0.5, 2), map[string]any{"turns": 0.75},
			travel{1.5, 0, 4, []float64{0.5, 1.5, 2.5, 3.5}}},
		"a handle that nobody counted": {threaded(2, 0.5, 1), nil,
			travel{0, -2, 2, []float64{-2, -1, 0, 1, 2}}},
		"a stop": {notched(4, 3), map[string]any{"notch": 2},
			travel{8, 4, 12, []float64{4, 8, 12}}},
		"a stop that nobody counted": {notched(4, 2), nil,
			travel{0, -4, 4, []float64{-4, 0, 4}}},
		"an uneven stop": {uneven([]float64{30, 33, 38}), map[string]any{"notch": 3},
			travel{38, 30, 38, []float64{30, 33, 38}}},
		"shims that make shallower": {shimmed(-2, []float64{1, 2.5}, 4), map[string]any{"shimsMm": []any{1.0}},
			travel{-2, 0, 0, []float64{-8, -7, -6, -5, -4, -2, 0}}},
		"a stack over the maximum": {shimmed(2, []float64{2}, 4), map[string]any{"shimsMm": []any{5.0}},
			travel{10, 0, 0, []float64{0, 4, 8, 10}}},
	} {
		got := c.mechanism.travel(c.setting)
		places := slices.Sorted(slices.Values(got.places))
		if got.here != c.want.here || !c.mechanism.trims && (got.shallowest != c.want.shallowest || got.deepest != c.want.deepest) || !slices.Equal(places, c.want.places) {
			t.Errorf("%s: %v, want %v", name, got, c.want)
		}
	}
}
