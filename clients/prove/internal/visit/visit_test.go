package visit

import (
	"slices"
	"testing"

	rowdatumv1 "rowdatum/proto/gen/rowdatum/v1"
)

// What is done at each row is what the service says, but for what is doubted.
func TestNext(t *testing.T) {
	rows := []*rowdatumv1.RowState{
		{Row: 1, Next: rowdatumv1.NextStep_READ},
		{Row: 2, Next: rowdatumv1.NextStep_READ_AGAIN},
		{Row: 3, Next: rowdatumv1.NextStep_READ_AFTER_MOVE},
		{Row: 4, Next: rowdatumv1.NextStep_DONE},
		{Row: 5, Next: rowdatumv1.NextStep_PLAN},
		{Row: 6, Next: rowdatumv1.NextStep_MOVE},
		{Row: 7, Next: rowdatumv1.NextStep_MOVE},
		{Row: 8, Next: rowdatumv1.NextStep_EXCEPT},
	}
	doubts := func(row int32, d Doubt) func(*rowdatumv1.RowState) Doubt {
		return func(r *rowdatumv1.RowState) Doubt {
			if r.GetRow() == row {
				return d
			}
			return None
		}
	}
	for _, c := range []struct {
		name       string
		doubt      func(*rowdatumv1.RowState) Doubt
		read, move []int32
		plan, anew bool
	}{
		{"as told", nil, []int32{1, 2, 3}, []int32{6, 7}, true, false},
		{"a number is doubted", doubts(5, Number), []int32{1, 2, 3, 5}, []int32{6, 7}, false, false}, // read before it is planned for
		{"a verdict is doubted", doubts(7, Verdict), []int32{1, 2, 3, 7}, []int32{6}, true, true},
	} {
		v := &Visit{Job: &rowdatumv1.Job{State: &rowdatumv1.JobState{Rows: rows}}, Doubt: c.doubt}
		got := v.next()
		if !slices.Equal(numbers(got.read), c.read) || !slices.Equal(numbers(got.move), c.move) || got.plan != c.plan || got.anew != c.anew {
			t.Errorf("%s: reads %v, moves %v, plan %v, anew %v; want %v, %v, %v, %v", c.name, numbers(got.read), numbers(got.move), got.plan, got.anew, c.read, c.move, c.plan, c.anew)
		}
	}
}

func numbers(rows []*rowdatumv1.RowState) (out []int32) {
	for _, r := range rows {
		out = append(out, r.GetRow())
	}
	return out
}
