package visit

import (
	"context"
	"slices"
	"strings"
	"testing"

	"google.golang.org/grpc"

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
	doubts := func(row int32) func(*rowdatumv1.RowState) bool {
		return func(r *rowdatumv1.RowState) bool { return r.GetRow() == row }
	}
	for _, c := range []struct {
		name       string
		doubts     func(*rowdatumv1.RowState) bool
		read, move []int32
		plan       bool
	}{
		{"as told", nil, []int32{1, 2, 3}, []int32{6, 7}, true},
		{"a row that is to be planned for is doubted", doubts(5), []int32{1, 2, 3, 5}, []int32{6, 7}, false},
		{"a row that is to be moved is doubted", doubts(7), []int32{1, 2, 3, 7}, []int32{6}, true},
	} {
		v := &Visit{Job: &rowdatumv1.Job{State: &rowdatumv1.JobState{Rows: rows}}, Doubts: c.doubts}
		got := v.next()
		if !slices.Equal(numbers(got.read), c.read) || !slices.Equal(numbers(got.move), c.move) || got.plan != c.plan {
			t.Errorf("%s: reads %v, moves %v, plan %v; want %v, %v, %v", c.name, numbers(got.read), numbers(got.move), got.plan, c.read, c.move, c.plan)
		}
	}
}

// endless is a service that asks for one more reading whatever it is told.
type endless struct {
	rowdatumv1.JobServiceClient
	rounds int
}

func (e *endless) job() *rowdatumv1.AppendResponse {
	return &rowdatumv1.AppendResponse{Job: &rowdatumv1.Job{Name: "planters/p/jobs/j", State: &rowdatumv1.JobState{Rows: []*rowdatumv1.RowState{
		{Row: 1, Next: rowdatumv1.NextStep_DONE}, {Row: 2, Next: rowdatumv1.NextStep_READ_AGAIN},
	}}}}
}

func (e *endless) TickCautions(context.Context, *rowdatumv1.TickCautionsRequest, ...grpc.CallOption) (*rowdatumv1.AppendResponse, error) {
	return e.job(), nil
}

func (e *endless) AddReadings(context.Context, *rowdatumv1.AddReadingsRequest, ...grpc.CallOption) (*rowdatumv1.AppendResponse, error) {
	e.rounds++
	return e.job(), nil
}

// still is a planter on which every row reads alike.
type still struct{}

func (still) Read(int32) float64  { return 50.8 }
func (still) Move(int32, float64) {}

// A visit that does not end is an error, and says what was still asked for.
func TestVisitWithoutEnd(t *testing.T) {
	service := new(endless)
	v := &Visit{Job: service.job().GetJob(), jobs: service, hands: still{}}
	err := v.Work(t.Context())
	if err == nil || !strings.Contains(err.Error(), "does not end") || !strings.Contains(err.Error(), "row 2 is to be READ_AGAIN") {
		t.Errorf("after %d rounds: %v", service.rounds, err)
	}
}

func numbers(rows []*rowdatumv1.RowState) (out []int32) {
	for _, r := range rows {
		out = append(out, r.GetRow())
	}
	return out
}
