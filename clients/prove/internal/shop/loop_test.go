package shop

import (
	"slices"
	"testing"

	rowdatumv1 "rowdatum/proto/gen/rowdatum/v1"
)

// What is done at each row is what the service says, but for what a person doubts, and for what a careful caller adds.
func TestNext(t *testing.T) {
	inch := inchMm
	rows := []*rowdatumv1.RowState{
		{Row: 1, Next: rowdatumv1.NextStep_READ},
		{Row: 2, Next: rowdatumv1.NextStep_READ_AGAIN},
		{Row: 3, Next: rowdatumv1.NextStep_READ_AFTER_MOVE},
		{Row: 4, Next: rowdatumv1.NextStep_DONE, Readings: 1},
		{Row: 5, Next: rowdatumv1.NextStep_PLAN, Readings: 1, FromOthersMm: &inch},
		{Row: 6, Next: rowdatumv1.NextStep_MOVE, Readings: 2, FromOthersMm: &inch, Verdict: rowdatumv1.Verdict_OFF},
		{Row: 7, Next: rowdatumv1.NextStep_MOVE, Readings: 1, Verdict: rowdatumv1.Verdict_UNSURE},
		{Row: 8, Next: rowdatumv1.NextStep_MOVE, Readings: unsureReadings, Verdict: rowdatumv1.Verdict_UNSURE},
		{Row: 9, Next: rowdatumv1.NextStep_EXCEPT, Readings: 1},
	}
	for _, c := range []struct {
		name                  string
		trusting, unsureFirst bool
		read, move            []int32
		plan                  bool
	}{
		{"as told", true, false, []int32{1, 2, 3}, []int32{6, 7, 8}, true},
		{"by who doubts", false, false, []int32{1, 2, 3, 5}, []int32{6, 7, 8}, false}, // row 5 is read before it is planned for
		{"unsure rows first", false, true, []int32{1, 2, 3, 5, 7}, []int32{6, 8}, true},
	} {
		v := &visit{
			planter: &planter{scene: scene{trusting: c.trusting}}, settings: settings{unsureFirst: c.unsureFirst},
			job: &rowdatumv1.Job{State: &rowdatumv1.JobState{Rows: rows}},
		}
		read, move, plan := v.next()
		if got := numbers(read); !slices.Equal(got, c.read) {
			t.Errorf("%s: reads %v, want %v", c.name, got, c.read)
		}
		if got := numbers(move); !slices.Equal(got, c.move) {
			t.Errorf("%s: moves %v, want %v", c.name, got, c.move)
		}
		if plan != c.plan {
			t.Errorf("%s: asks for a plan: %v, want %v", c.name, plan, c.plan)
		}
	}
}

func numbers(rows []*rowdatumv1.RowState) (out []int32) {
	for _, r := range rows {
		out = append(out, r.GetRow())
	}
	return out
}
