package main

import (
	"fmt"
	"io"
	"net/http"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"google.golang.org/grpc/codes"

	pb "rowdatum/proto/gen/rowdatum/v1"
)

// TestFullJobIsOpened: a job takes so much and no more, warns before, and when it is full job, watch and sheet can still be
// opened, and it can be ended. The service is the program itself: with the race detector in it a sheet takes fifteen times as long.
func TestFullJobIsOpened(t *testing.T) {
	t.Parallel()
	service := launch(t, filepath.Join(t.TempDir(), "rowdatum.db"))
	jobs, name := service.ways[1].jobs(), setScene(t, service.ways[0]).open.Name
	note := strings.Repeat("🌽", 2000)
	warned, full := false, false
	var last *pb.Job
	for i := 0; i < 30 && !full; i++ {
		req := &pb.AddNotesRequest{Name: name, RequestId: newRequestID(), Person: "Ada"}
		for range 60 {
			req.Notes = append(req.Notes, &pb.Note{Text: note})
		}
		done, err := jobs.AddNotes(t.Context(), req)
		if err != nil {
			wantReason(t, "notes that no longer fit", err, codes.FailedPrecondition, "JOB_FULL")
			full = true
			break
		}
		last = done.GetJob()
		warned = strings.Contains(fmt.Sprint(last.GetState().GetWarnings()), "nine tenths")
	}
	if !full || !warned {
		t.Fatalf("after %d entries: full %t, warned %t", last.GetRevision(), full, warned)
	}
	get := func(path string) []byte {
		t.Helper()
		client := http.Client{Timeout: time.Minute}
		answer := must[*http.Response](t)(client.Get("http://" + service.addresses.HTTP + "/v1/" + name + path))
		defer answer.Body.Close()
		text := must[[]byte](t)(io.ReadAll(answer.Body))
		if answer.StatusCode != http.StatusOK {
			t.Errorf("%q of a full job: %s, %.300s", path, answer.Status, text)
		}
		return text
	}
	for _, path := range []string{"", ":sheet", ":sheet?format=CSV", ":sheet?format=PDF"} {
		began := time.Now()
		t.Logf("%q: %d bytes in %v", path, len(get(path)), time.Since(began))
	}
	watch := watchAsBrowser(t, service.addresses, name, "")
	late := time.After(time.Minute)
	for seen := int32(0); seen < last.GetRevision(); {
		select {
		case <-watch.news:
			watch.mu.Lock()
			seen = watch.last.GetRevision()
			watch.mu.Unlock()
		case <-watch.ended:
			t.Fatalf("the watch of a full job ended at %d: %v", seen, watch.err)
		case <-late:
			t.Fatalf("the watch of a full job stands at %d of %d", seen, last.GetRevision())
		}
	}
	if _, err := jobs.VoidJob(t.Context(), &pb.VoidJobRequest{Name: name, Person: "Ada", Reason: "full", RequestId: newRequestID()}); err != nil {
		t.Errorf("a full job cannot be ended: %v", err)
	}
}
