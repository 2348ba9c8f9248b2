package flow_test

import (
	"context"
	"errors"
	"fmt"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"rowdatum/server/internal/flow"
	"rowdatum/server/leveling"
	"rowdatum/server/leveling/job"
)

// noted is an open job with so many notes of so many characters.
func noted(t *testing.T, notes, characters int) (*flow.Flow, flow.JobKey) {
	t.Helper()
	f, kept, _ := onStore(t)
	key := flow.JobKey{Shop: "north", Planter: "p", Job: "j"}
	events := []job.Event{{Revision: 1, Opened: &job.Opened{}}}
	for i := range notes {
		events = append(events, job.Event{Revision: 2 + i, Note: &job.Note{Text: strings.Repeat("x", characters)}})
	}
	if err := kept.Write(t.Context(), func(tx flow.Tx) error {
		return errors.Join(tx.PutPlanter("north", leveling.Planter{ID: "p", Revision: 1}),
			tx.PutJob(flow.JobHead{JobKey: key, Stage: job.StageOpen, Revision: len(events), CreateTime: noon, UpdateTime: noon}, events))
	}); err != nil {
		t.Fatal(err)
	}
	return f, key
}

func never() <-chan time.Time { return nil }

var errEnough = errors.New("enough")

// TestMissedEventsComeInPages: of whatever is missed, a message has as much as one has room for, each with the job as it is,
// and nothing is left out or comes twice.
func TestMissedEventsComeInPages(t *testing.T) {
	for _, c := range []struct{ notes, characters, after, pages int }{
		{0, 0, 0, 1}, {249, 10, 0, 1}, {250, 10, 0, 2}, {999, 10, 0, 4}, {999, 10, 900, 1}, {600, 8000, 0, 5},
	} {
		f, key := noted(t, c.notes, c.characters)
		seen, pages, last := c.after, 0, c.notes+1
		err := f.WatchJob(t.Context(), key, c.after, never, func(news flow.Appended) error {
			bytes := 0
			for _, e := range news.Events {
				if seen++; e.Revision != seen {
					t.Fatalf("%v: event %d where %d comes next", c, e.Revision, seen)
				}
				bytes += e.Size()
			}
			if n := len(news.Events); n > 250 || bytes > 1<<20 {
				t.Errorf("%v: a message of %d events, %d bytes", c, n, bytes)
			}
			if news.State.Revision != last || news.Head.Revision != last || len(news.State.Notes) != last-1 || news.More != (seen < last) {
				t.Errorf("%v: after event %d the job is at %d with %d notes, more: %v", c, seen, news.State.Revision, len(news.State.Notes), news.More)
			}
			if pages++; seen == last {
				return errEnough
			}
			return nil
		}, func() error { return fmt.Errorf("a heartbeat instead of news") })
		if !errors.Is(err, errEnough) || pages != c.pages {
			t.Errorf("%v: %d messages, %v", c, pages, err)
		}
	}
}

// TestFewCatchUpAtOnce: readers who take what they missed slowly wait for each other, and one who leaves makes room.
func TestFewCatchUpAtOnce(t *testing.T) {
	f, key := noted(t, 300, 10)
	ctx, cancel := context.WithCancel(t.Context())
	defer cancel()
	var sending, most, served, beats atomic.Int32
	var watches sync.WaitGroup
	for range 100 {
		watches.Go(func() {
			_ = f.WatchJob(ctx, key, 0, never, func(news flow.Appended) error {
				now := sending.Add(1)
				defer sending.Add(-1)
				for old := most.Load(); now > old && !most.CompareAndSwap(old, now); old = most.Load() {
				}
				time.Sleep(5 * time.Millisecond)
				if news.More {
					return nil
				}
				if served.Add(1) == 100 {
					cancel()
				}
				return nil
			}, func() error { beats.Add(1); return nil })
		})
	}
	late := time.AfterFunc(time.Minute, cancel)
	defer late.Stop()
	watches.Wait()
	if most.Load() > 32 || beats.Load() == 0 || served.Load() != 100 {
		t.Errorf("%d were sent what they missed at once, %d of 100 in the end; who waited heard %d beats", most.Load(), served.Load(), beats.Load())
	}
}
