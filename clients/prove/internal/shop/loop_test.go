package shop

import (
	"testing"

	"rowdatum/clients/prove/internal/visit"
	rowdatumv1 "rowdatum/proto/gen/rowdatum/v1"
)

// A person doubts a first number that is far from the others', and a careful caller a move of a row that may be even.
func TestDoubt(t *testing.T) {
	inch := inchMm
	far := &rowdatumv1.RowState{Next: rowdatumv1.NextStep_PLAN, Readings: 1, FromOthersMm: &inch}
	farTwice := &rowdatumv1.RowState{Next: rowdatumv1.NextStep_MOVE, Readings: 2, FromOthersMm: &inch, Verdict: rowdatumv1.Verdict_OFF}
	farMoved := &rowdatumv1.RowState{Next: rowdatumv1.NextStep_DONE, Readings: 1, FromOthersMm: &inch, LastMove: 3}
	near := &rowdatumv1.RowState{Next: rowdatumv1.NextStep_DONE, Readings: 1}
	unsure := &rowdatumv1.RowState{Next: rowdatumv1.NextStep_MOVE, Readings: 1, Verdict: rowdatumv1.Verdict_UNSURE}
	stillUnsure := &rowdatumv1.RowState{Next: rowdatumv1.NextStep_MOVE, Readings: unsureReadings, Verdict: rowdatumv1.Verdict_UNSURE}
	for _, c := range []struct {
		name                  string
		row                   *rowdatumv1.RowState
		trusting, unsureFirst bool
		want                  visit.Doubt
	}{
		{"far", far, false, false, visit.Number},
		{"far, and believed", far, true, false, visit.None},
		{"far in two readings", farTwice, false, false, visit.None},
		{"far after a move", farMoved, false, false, visit.None},
		{"near", near, false, true, visit.None},
		{"unsure", unsure, false, true, visit.Verdict},
		{"unsure, and moved all the same", unsure, false, false, visit.None},
		{"still unsure", stillUnsure, false, true, visit.None},
	} {
		p := &planter{scene: scene{trusting: c.trusting}}
		if got := p.doubt(c.row, settings{unsureFirst: c.unsureFirst}); got != c.want {
			t.Errorf("%s: %v, want %v", c.name, got, c.want)
		}
	}
}
