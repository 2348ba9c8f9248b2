package api

import (
	"bytes"
	"context"
	"errors"
	"path/filepath"
	"strings"
	"testing"
	"time"

	pb "rowdatum/proto/gen/rowdatum/v1"
	"rowdatum/server/internal/flow"
	"rowdatum/server/internal/sheet"
	"rowdatum/server/internal/store"
	"rowdatum/server/leveling"
	"rowdatum/server/leveling/job"
)

// TestSheetsEndWithTheirRequests: what is written for nobody stops, and nobody who has left keeps a slot.
func TestSheetsEndWithTheirRequests(t *testing.T) {
	kept, err := store.Open(t.Context(), filepath.Join(t.TempDir(), "rowdatum.db"), nil)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = kept.Close() })
	key := flow.JobKey{Shop: flow.LocalShop, Planter: "p", Job: "j"}
	events := []job.Event{{Revision: 1, Opened: &job.Opened{Planter: leveling.Planter{ID: "p"}}}}
	for len(events) < 2000 {
		events = append(events, job.Event{Revision: len(events) + 1, Note: &job.Note{Text: strings.Repeat("left gang ", 200)}})
	}
	if err := kept.Write(t.Context(), func(tx flow.Tx) error {
		return errors.Join(tx.PutPlanter(key.Shop, leveling.Planter{ID: "p", Revision: 1}),
			tx.PutJob(flow.JobHead{JobKey: key, Stage: job.StageOpen, Revision: len(events), CreateTime: 1, UpdateTime: 1}, events))
	}); err != nil {
		t.Fatal(err)
	}
	jobs := &Jobs{Flow: &flow.Flow{Store: kept, Now: func() leveling.Micros { return 1e15 }}, sheets: make(chan struct{}, sheetsAtOnce)}
	ask := func(ctx context.Context, format pb.GetJobSheetRequest_Format) error {
		_, err := jobs.GetJobSheet(withKey(ctx, flow.LocalKey()), &pb.GetJobSheetRequest{Name: "planters/p/jobs/j", Format: format})
		return err
	}
	for range sheetsAtOnce {
		jobs.sheets <- struct{}{}
	}
	ctx, cancel := context.WithTimeout(t.Context(), 20*time.Millisecond)
	defer cancel()
	if err := ask(ctx, pb.GetJobSheetRequest_PDF); !errors.Is(err, context.DeadlineExceeded) {
		t.Errorf("while all slots are taken: %v", err)
	}
	for range sheetsAtOnce {
		<-jobs.sheets
	}
	for format, form := range sheetForms {
		left, leave := context.WithCancel(t.Context())
		view, _, err := jobs.Flow.JobAndLog(t.Context(), key)
		if err != nil {
			t.Fatal(err)
		}
		leave()
		var text bytes.Buffer
		began := time.Now()
		if err := form.write(left, sheet.New(view.Head, view.State, sheet.Options{}), whileWanted{left, &text}, 0); !errors.Is(err, context.Canceled) || text.Len() > 0 {
			t.Errorf("%v for somebody who has left: %v, %d bytes", format, err, text.Len())
		}
		t.Logf("%v: given up after %v", format, time.Since(began))
	}
	if n := len(jobs.sheets); n != 0 {
		t.Errorf("%d slots are taken by nobody", n)
	}
}
