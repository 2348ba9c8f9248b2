package shop

import (
	"testing"

	rowdatumv1 "rowdatum/proto/gen/rowdatum/v1"
)

// A person doubts a first number that is far from the others'.
func TestDoubts(t *testing.T) {
	inch := inchMm
	far := &rowdatumv1.RowState{Next: rowdatumv1.NextStep_PLAN, Readings: 1, FromOthersMm: &inch}
	for _, c := range []struct {
		name     string
		row      *rowdatumv1.RowState
		trusting bool
		want     bool
	}{
		{"far", far, false, true},
		{"far, and believed", far, true, false},
		{"far in two readings", &rowdatumv1.RowState{Next: rowdatumv1.NextStep_MOVE, Readings: 2, FromOthersMm: &inch}, false, false},
		{"far after a move", &rowdatumv1.RowState{Next: rowdatumv1.NextStep_DONE, Readings: 1, FromOthersMm: &inch, LastMove: 3}, false, false},
		{"near", &rowdatumv1.RowState{Next: rowdatumv1.NextStep_DONE, Readings: 1}, false, false},
	} {
		p := &planter{scene: scene{trusting: c.trusting}}
		if got := p.doubts(c.row); got != c.want {
			t.Errorf("%s: %v, want %v", c.name, got, c.want)
		}
	}
}
