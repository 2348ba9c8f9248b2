package main

import (
	"sync"
	"testing"

	"google.golang.org/grpc/codes"
	"google.golang.org/protobuf/proto"

	pb "rowdatum/proto/gen/rowdatum/v1"
)

// TestTwoTechnicians has Ada work on a job online while Ben's phone was offline from its beginning. What
// he queued comes in after her plan and move: his readings of the row that she moved belong before the
// move, his move of it and what he decided on an old state are refused, his move of another row stands.
func TestTwoTechnicians(t *testing.T) {
	t.Parallel()
	service := start(t, bundle())
	for i, ways := 0, waysTo(t, service.addresses); i < 2; i++ {
		t.Run("Ada by "+ways[i].name+", Ben by "+ways[1-i].name, func(t *testing.T) {
			twoTechnicians(t, ways[i], ways[1-i], []string{"planter-a", "planter-b"}[i])
		})
	}
}

var found = []float64{50.8, 41.275, 50.8, 52.3875, 50.8, 50.8} // by row, mm; row 2 is off

func twoTechnicians(t *testing.T, adas, bens way, planter string) {
	ctx := t.Context()
	appended := must[*pb.AppendResponse](t)
	job := openJob(t, adas, planter, handles(int32(len(found))))
	bensEtag := job.Etag // the last that Ben saw

	for row, depth := range found {
		appended(adas.jobs().AddReadings(ctx, &pb.AddReadingsRequest{Name: job.Name, Readings: inMM(int32(row+1), 0, depth, depth), Person: ada}))
	}
	before := must[*pb.Job](t)(adas.jobs().GetJob(ctx, &pb.GetJobRequest{Name: job.Name}))
	planned := appended(adas.jobs().PlanJob(ctx, &pb.PlanJobRequest{Name: job.Name, Etag: before.Etag, Person: ada})).Job
	move := planned.State.Rows[1].Move
	if move == nil {
		t.Fatalf("no move for row 2: %v", planned.State.Rows[1])
	}
	moved := appended(adas.jobs().AddMoves(ctx, &pb.AddMovesRequest{Name: job.Name, Person: ada, Moves: []*pb.MoveDone{{Row: 2, SettingBefore: turns(8), Count: &move.Count}}}))
	moveRevision := moved.Events[0].Revision
	after := appended(adas.jobs().AddReadings(ctx, &pb.AddReadingsRequest{Name: job.Name, Readings: inMM(2, moveRevision, 50.8), Person: ada})).Job

	t.Run("his readings are folded where they belong", func(t *testing.T) {
		answer := appended(bens.jobs().AddReadings(ctx, &pb.AddReadingsRequest{Name: job.Name, Person: ben,
			Readings: append(inMM(2, 0, 39.6875, 42.8625), inMM(5, 0, 50.8)...)}))
		row, was := answer.Job.State.Rows[1], after.State.Rows[1]
		if row.Readings != was.Readings || row.LastMove != moveRevision || !row.Measured {
			t.Errorf("his readings count after the move: %v", row)
		}
		if answer.Job.State.Rows[4].Readings != 3 {
			t.Errorf("row 5 has %d readings, want 3", answer.Job.State.Rows[4].Readings)
		}
		sameAsInOrder(t, adas, planter+"-in-order", answer.Job, move.Count)
	})
	t.Run("his move of a row that was moved is refused", func(t *testing.T) {
		was := must[*pb.Job](t)(bens.jobs().GetJob(ctx, &pb.GetJobRequest{Name: job.Name}))
		_, err := bens.jobs().AddMoves(ctx, &pb.AddMovesRequest{Name: job.Name, Person: ben,
			Moves: []*pb.MoveDone{{Row: 4, SettingBefore: turns(8), Count: with(0.5)}, {Row: 2, SettingBefore: turns(8), Count: with(0.5)}}})
		wantReason(t, "a move from where the row no longer stands", err, codes.Aborted, "STALE_SETTING")
		if now := must[*pb.Job](t)(adas.jobs().GetJob(ctx, &pb.GetJobRequest{Name: job.Name})); !proto.Equal(now, was) {
			t.Error("the refused moves left a trace")
		}
		answer := appended(bens.jobs().AddMoves(ctx, &pb.AddMovesRequest{Name: job.Name, Person: ben, Moves: []*pb.MoveDone{{Row: 4, SettingBefore: turns(8), Count: with(-0.25)}}}))
		if at := answer.Job.State.Rows[3].Setting; !proto.Equal(at, turns(7.75)) {
			t.Errorf("row 4 stands at %v", at)
		}
	})
	t.Run("what he decided on an old state is refused", func(t *testing.T) {
		was := must[*pb.Job](t)(bens.jobs().GetJob(ctx, &pb.GetJobRequest{Name: job.Name}))
		for _, w := range []way{adas, bens} {
			_, err := w.jobs().PlanJob(ctx, &pb.PlanJobRequest{Name: job.Name, Etag: bensEtag, Person: ben})
			wantReason(t, "a plan", err, codes.Aborted, "STALE_ETAG")
			_, err = w.jobs().PlanJob(ctx, &pb.PlanJobRequest{Name: job.Name, Etag: bensEtag, Person: ben, ValidateOnly: true})
			wantReason(t, "a plan to look at", err, codes.Aborted, "STALE_ETAG")
			_, err = w.jobs().SignJob(ctx, &pb.SignJobRequest{Name: job.Name, Etag: bensEtag, Person: ben})
			wantReason(t, "a signature", err, codes.Aborted, "STALE_ETAG")
		}
		if now := must[*pb.Job](t)(adas.jobs().GetJob(ctx, &pb.GetJobRequest{Name: job.Name})); !proto.Equal(now, was) {
			t.Error("what was refused left a trace")
		}
	})
	t.Run("of two moves at the same moment one is done", func(t *testing.T) {
		for row := int32(1); row <= 6; row++ {
			if row != 2 && row != 4 {
				raceToMove(t, adas, bens, job.Name, row)
			}
		}
	})
}

// sameAsInOrder does the same job in the order in which it happened, and compares what is known of each row.
func sameAsInOrder(t *testing.T, w way, planter string, got *pb.Job, count float64) {
	t.Helper()
	ctx := t.Context()
	appended := must[*pb.AppendResponse](t)
	job := openJob(t, w, planter, handles(int32(len(found)))).Name
	var all []*pb.Reading
	for i, depth := range found {
		all = append(all, inMM(int32(i+1), 0, depth, depth)...)
	}
	all = append(all, append(inMM(2, 0, 39.6875, 42.8625), inMM(5, 0, 50.8)...)...)
	appended(w.jobs().AddReadings(ctx, &pb.AddReadingsRequest{Name: job, Readings: all}))
	moved := appended(w.jobs().AddMoves(ctx, &pb.AddMovesRequest{Name: job, Moves: []*pb.MoveDone{{Row: 2, SettingBefore: turns(8), Count: &count}}}))
	want := appended(w.jobs().AddReadings(ctx, &pb.AddReadingsRequest{Name: job, Readings: inMM(2, moved.Events[0].Revision, 50.8)})).Job
	if got.State.RepeatabilityMm != want.State.RepeatabilityMm {
		t.Errorf("the scatter is %v, in order %v", got.State.RepeatabilityMm, want.State.RepeatabilityMm)
	}
	known := func(r *pb.RowState) [7]float64 {
		return [...]float64{r.GetEstimateMm(), r.GetUncertaintyMm(), r.GetAsFoundMm(), r.GetAsFoundUncertaintyMm(), r.Scale, r.ScaleSd, float64(r.Readings)}
	}
	for i, row := range got.State.Rows {
		if g, w := known(row), known(want.State.Rows[i]); g != w {
			t.Errorf("row %d: %v, in order %v", row.Row, g, w)
		}
	}
}

// raceToMove has both move a row from where both saw it.
func raceToMove(t *testing.T, adas, bens way, job string, row int32) {
	t.Helper()
	var wait sync.WaitGroup
	var errs [2]error
	for i, w := range []way{adas, bens} {
		wait.Go(func() {
			_, errs[i] = w.jobs().AddMoves(t.Context(), &pb.AddMovesRequest{Name: job, Moves: []*pb.MoveDone{{Row: row, SettingBefore: turns(8), Count: with(0.25 + 0.25*float64(i))}}})
		})
	}
	wait.Wait()
	if (errs[0] == nil) == (errs[1] == nil) {
		t.Fatalf("row %d: %v, %v", row, errs[0], errs[1])
	}
	first := 0
	if errs[0] != nil {
		first = 1
	}
	wantReason(t, "the second move", errs[1-first], codes.Aborted, "STALE_SETTING")
	now := must[*pb.Job](t)(adas.jobs().GetJob(t.Context(), &pb.GetJobRequest{Name: job}))
	if at := now.State.Rows[row-1].Setting; !proto.Equal(at, turns(8.25+0.25*float64(first))) {
		t.Errorf("row %d stands at %v", row, at)
	}
}
