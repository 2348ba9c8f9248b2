package storetest

import (
	"sync"
	"testing"
	"time"

	"rowdatum/server/internal/flow"
	"rowdatum/server/leveling/job"
)

func wait(t *testing.T, what string, changed <-chan int) {
	t.Helper()
	select {
	case <-changed:
	case <-time.After(patience):
		t.Fatalf("%s: not told", what)
	}
}

// drain takes the word that has come.
func drain(ears ...<-chan int) {
	for _, ear := range ears {
		select {
		case <-ear:
		default:
		}
	}
}

func testWatching(t *testing.T, p Place) {
	s := open(t, p)
	h, quiet := withJob(t, s, "j1"), withJob(t, s, "j2")
	changed, cancel := s.Subscribe(h.JobKey)
	also, alsoCancel := s.Subscribe(h.JobKey)
	defer alsoCancel()
	still, stillCancel := s.Subscribe(quiet.JobKey)
	defer stillCancel()
	// Word of the jobs' opening may still be on its way.
	time.Sleep(settle)
	drain(changed, also)

	write(t, s, appendOne(h.JobKey))
	wait(t, "after an append", changed)
	wait(t, "the second who watches", also)

	// A failed write tells nothing; several commits may become one word, and the last is never missed.
	_ = s.Write(t.Context(), func(tx flow.Tx) error {
		if err := appendOne(h.JobKey)(tx); err != nil {
			return err
		}
		return errOurs
	})
	select {
	case <-changed:
		t.Error("told of a write that failed")
	case <-time.After(settle):
	}
	const appends = 30
	seen := make(chan int, 1)
	go func() {
		last := 0
		for last < 2+appends {
			<-changed
			if err := s.Read(t.Context(), func(v flow.View) error { h, err := v.Job(h.JobKey); last = h.Revision; return err }); err != nil {
				t.Error(err)
				break
			}
		}
		seen <- last
	}()
	for range appends {
		write(t, s, appendOne(h.JobKey))
	}
	select {
	case <-seen:
	case <-time.After(patience):
		t.Fatal("the last append was not told")
	}

	cancel()
	cancel() // as often as one likes

	drain(changed, also, still) // word that was on its way: it comes in order, and all appends were told
	write(t, s, appendOne(h.JobKey))
	wait(t, "who still watches", also)
	select {
	case <-changed:
		t.Error("told after it had ended")
	case <-still:
		t.Error("told of another job")
	case <-time.After(settle):
	}
}

// testSeveral has two stores on one place, each like a process: they append to the same jobs, each sees the
// other's appends at once, and a request sent to both is answered once.
func testSeveral(t *testing.T, p Place) {
	if !p.Several {
		testOwned(t, p)
		return
	}
	a, b := open(t, p), open(t, p)
	h := withJob(t, a, "j1")
	changed, cancel := b.Subscribe(h.JobKey)
	defer cancel()
	time.Sleep(settle) // b may not be listening yet
	write(t, a, appendOne(h.JobKey))
	wait(t, "an append of the other process", changed)

	const writers, each = 6, 15
	answered := make([]int, 2*writers)
	var all sync.WaitGroup
	for w := range answered {
		s := []Store{a, b}[w%2]
		all.Go(func() {
			for i := range each {
				first := false
				err := s.Write(t.Context(), func(tx flow.Tx) error {
					first = false
					request := id("r", w/2*each+i) // the same on both
					if _, ok, err := tx.Answer(shop, request); ok || err != nil {
						return err
					}
					first = true
					if err := appendOne(h.JobKey)(tx); err != nil {
						return err
					}
					return tx.PutAnswer(shop, request, flow.Answer{Method: "AddReadings", Time: noon})
				})
				if err != nil {
					t.Error(err)
					return
				}
				if first {
					answered[w]++
				}
			}
		})
	}
	all.Wait()
	first := 0
	for _, n := range answered {
		first += n
	}
	wantEqual(t, "requests answered first", first, writers*each)
	for _, s := range []Store{a, b} {
		got := read(t, s, func(v flow.View) ([]job.Event, error) { return v.Events(h.JobKey, 0, 0) })
		wantEqual(t, "revisions", revisionsOf(got), upTo(2+writers*each))
	}
}

// testOwned is for a place that one process owns: it is free again once that one has closed it.
func testOwned(t *testing.T, p Place) {
	s := p.Open(t)
	withJob(t, s, "j1")
	if err := s.Close(); err != nil {
		t.Fatal(err)
	}
	write(t, open(t, p), func(tx flow.Tx) error { return tx.PutPlanter(shop, planter("p2")) })
}
