package main

import (
	"context"
	"fmt"
	"sync"
	"testing"
	"time"

	pb "rowdatum/proto/gen/rowdatum/v1"
)

// seenWithin is how soon whoever watches a job sees what another wrote to it.
const seenWithin = time.Second

// TestTwoServicesOnOneDatabase loads two services on one PostgreSQL and kills one hard: nothing that
// either acknowledged is lost, and who watches through the survivor sees what came through the other, and
// goes on after.
func TestTwoServicesOnOneDatabase(t *testing.T) {
	t.Parallel()
	onPostgres(t, func(t *testing.T, store string) {
		struck, survivor := launch(t, store), launch(t, store)
		job := openJob(t, struck.ways[0], "p", handles(crashWriters*rowsAWriter)).Name
		l := newLedger()
		watched := watchFrom(t, survivor.ways[0], job, 0)

		ctx, cancel := context.WithCancel(t.Context())
		var wait sync.WaitGroup
		var writers []*writer
		left := make([]*entry, crashWriters)
		for n := range crashWriters {
			w := newWriter(l, 7, n, job)
			writers = append(writers, w)
			through := []*process{struck, survivor}[n*2/crashWriters].ways[n%2]
			wait.Go(func() { left[n] = w.run(ctx, t, through) })
		}
		waitWrote(t, writers, 10)
		struck.kill()
		waitWrote(t, writers[crashWriters/2:], 20)
		cancel()
		wait.Wait()
		for n, e := range left {
			if died := n < crashWriters/2; died != (e != nil) {
				t.Errorf("writer %d, on the service that was killed: %v, was cut off: %v", n, died, e != nil)
			}
		}

		l.verify(t, survivor.ways[0], job)
		l.repeat(t, survivor.ways, l.of(job, l.size()-20))
		for _, e := range left {
			if e != nil {
				l.repeat(t, survivor.ways, []*entry{e})
			}
		}
		events := l.verify(t, survivor.ways[1], job)
		verifyState(t, survivor.ways[0], job, events, writers)
		watched.waitFor(t, len(events))
		if got := watched.all(); !sameEvents(got, events) {
			t.Errorf("watched %d events, the log has %d others", len(got), len(events))
		}

		back := launch(t, store)
		for i := range 10 {
			through := []way{back.ways[0], survivor.ways[1], back.ways[1]}[i%3]
			must[*pb.AppendResponse](t)(through.jobs().AddNotes(t.Context(), &pb.AddNotesRequest{Name: job, Notes: []*pb.Note{{Text: fmt.Sprint("note ", i)}}}))
			watched.waitFor(t, len(events)+i+1)
		}
	})
}

// waitWrote waits until each writer has written so often.
func waitWrote(t *testing.T, writers []*writer, times int32) {
	t.Helper()
	deadline := time.Now().Add(20 * time.Second)
	for _, w := range writers {
		for w.wrote.Load() < times {
			if time.Now().After(deadline) {
				t.Fatalf("%s wrote %d times only", w.person, w.wrote.Load())
			}
			time.Sleep(5 * time.Millisecond)
		}
	}
}
