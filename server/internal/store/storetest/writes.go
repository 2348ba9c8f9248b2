package storetest

import (
	"context"
	"errors"
	"fmt"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"rowdatum/server/internal/flow"
	"rowdatum/server/leveling"
	"rowdatum/server/leveling/job"
)

// patience bounds what ends long before unless the store hangs.
const patience = 20 * time.Second

var errOurs = errors.New("this write fails")

func testFailedWrite(t *testing.T, p Place) {
	s := open(t, p)
	h := withJob(t, s, "j1")
	err := s.Write(t.Context(), func(tx flow.Tx) error {
		if err := tx.PutPlanter(shop, planter("p2")); err != nil {
			return err
		}
		if err := appendOne(h.JobKey)(tx); err != nil {
			return err
		}
		return errOurs
	})
	if !errors.Is(err, errOurs) {
		t.Errorf("got %v", err)
	}
	wantKind(t, "its planter", s.Read(t.Context(), func(v flow.View) error { _, err := v.Planter(shop, "p2"); return err }), leveling.NotFound)
	wantEqual(t, "its job", read(t, s, func(v flow.View) (flow.JobHead, error) { return v.Job(h.JobKey) }), h)
	write(t, s, appendOne(h.JobKey))
}

// gate makes a write hold the store's only writer until it is opened, so that those that come wait together.
func gate(t *testing.T, s Store) (opened func()) {
	t.Helper()
	inside, release, ended := make(chan struct{}), make(chan struct{}), make(chan error, 1)
	var once sync.Once
	go func() {
		ended <- s.Write(context.WithoutCancel(t.Context()), func(flow.Tx) error {
			once.Do(func() { close(inside) })
			<-release
			return nil
		})
	}()
	<-inside
	return func() {
		close(release)
		if err := <-ended; err != nil {
			t.Errorf("the write that held the others up: %v", err)
		}
	}
}

// settle is long enough for goroutines to come to the gate; where it is not, the test tests less.
const settle = 100 * time.Millisecond

func testFailingAmongMany(t *testing.T, p Place) {
	s := open(t, p)
	h := withJob(t, s, "j1")
	const writers = 40
	write(t, s, func(tx flow.Tx) error { return tx.PutPairing(flow.Pairing{CodeHash: "code", Shop: shop}) })
	opened := gate(t, s)
	errs := make([]error, writers)
	var all sync.WaitGroup
	for i := range writers {
		all.Go(func() {
			errs[i] = s.Write(t.Context(), func(tx flow.Tx) error {
				switch i % 4 {
				case 1: // after it wrote, by a query too
					if _, err := tx.TakePairing("code"); err != nil {
						return err
					}
					if err := appendOne(h.JobKey)(tx); err != nil {
						return err
					}
					return errOurs
				case 2: // by an error of the database's own
					if err := appendOne(h.JobKey)(tx); err != nil {
						return err
					}
					if err := tx.PutKey(flow.Key{ID: id("k", i), Shop: shop, Hash: "same"}); err != nil {
						return err
					}
					return tx.PutKey(flow.Key{ID: id("l", i), Shop: shop, Hash: "same"})
				case 3: // before it wrote
					_, err := tx.Job(flow.JobKey{Shop: shop, Planter: "p1", Job: "none"})
					return err
				}
				return appendOne(h.JobKey)(tx)
			})
		})
	}
	time.Sleep(settle)
	opened()
	all.Wait()
	for i, err := range errs {
		switch i % 4 {
		case 0:
			if err != nil {
				t.Errorf("write %d failed with others: %v", i, err)
			}
		case 1:
			if !errors.Is(err, errOurs) {
				t.Errorf("write %d: got %v", i, err)
			}
		case 2:
			wantKind(t, "a key's hash twice", err, leveling.Exists)
		case 3:
			wantKind(t, "a job that is not there", err, leveling.NotFound)
		}
	}
	got := read(t, s, func(v flow.View) ([]job.Event, error) { return v.Events(h.JobKey, 0, 0) })
	wantEqual(t, "revisions", revisionsOf(got), upTo(1+writers/4))
	write(t, s, func(tx flow.Tx) error { _, err := tx.TakePairing("code"); return err })
	wantEqual(t, "keys", len(read(t, s, func(v flow.View) ([]flow.Key, error) { return v.Keys(shop) })), 0)
}

func testGoneCaller(t *testing.T, p Place) {
	s := open(t, p)
	h := withJob(t, s, "j1")

	// Gone while it waits: it is never run, and does not wait for its turn.
	opened := gate(t, s)
	ctx, cancel := context.WithCancel(t.Context())
	var ran atomic.Bool
	ended := make(chan error, 1)
	go func() {
		ended <- s.Write(ctx, func(flow.Tx) error { ran.Store(true); return nil })
	}()
	stays := make(chan error, 1)
	go func() { stays <- s.Write(t.Context(), appendOne(h.JobKey)) }()
	time.Sleep(settle)
	cancel()
	select {
	case err := <-ended:
		wantKind(t, "gone while it waited", err, leveling.DeadlineExceeded)
		if !errors.Is(err, context.Canceled) {
			t.Errorf("the cause is not told: %v", err)
		}
	case <-time.After(patience):
		t.Fatal("a caller who went away still waits")
	}
	opened()
	if err := <-stays; err != nil {
		t.Errorf("who stayed: %v", err)
	}
	if ran.Load() {
		t.Error("a write ran although its caller had gone")
	}

	// Gone while it runs: what it wrote is undone, and it is told so.
	ctx, cancel = context.WithCancel(t.Context())
	err := s.Write(ctx, func(tx flow.Tx) error {
		cancel()
		return appendOne(h.JobKey)(tx)
	})
	wantKind(t, "gone while it ran", err, leveling.DeadlineExceeded)
	got := read(t, s, func(v flow.View) ([]job.Event, error) { return v.Events(h.JobKey, 0, 0) })
	wantEqual(t, "revisions", revisionsOf(got), upTo(2))

	// Gone before it came, to read or to write.
	wantKind(t, "reading", s.Read(ctx, func(v flow.View) error { _, err := v.Job(h.JobKey); return err }), leveling.DeadlineExceeded)
	wantKind(t, "writing", s.Write(ctx, appendOne(h.JobKey)), leveling.DeadlineExceeded)
	write(t, s, appendOne(h.JobKey))
}

func testPanic(t *testing.T, p Place) {
	s := open(t, p)
	h := withJob(t, s, "j1")
	opened := gate(t, s)
	caught, stays := make(chan any, 1), make(chan error, 1)
	go func() {
		defer func() { caught <- recover() }()
		_ = s.Write(t.Context(), func(tx flow.Tx) error {
			if err := appendOne(h.JobKey)(tx); err != nil {
				return err
			}
			panic("ours")
		})
	}()
	go func() { stays <- s.Write(t.Context(), appendOne(h.JobKey)) }()
	time.Sleep(settle)
	opened()
	wantEqual(t, "the caller's own panic", <-caught, any("ours"))
	if err := <-stays; err != nil {
		t.Errorf("another's write: %v", err)
	}
	got := read(t, s, func(v flow.View) ([]job.Event, error) { return v.Events(h.JobKey, 0, 0) })
	wantEqual(t, "revisions", revisionsOf(got), upTo(2))
}

func testIgnoredError(t *testing.T, p Place) {
	s := open(t, p)
	h := withJob(t, s, "j1")
	err := s.Write(t.Context(), func(tx flow.Tx) error {
		for _, id := range []string{"k1", "k2"} {
			_ = tx.PutKey(flow.Key{ID: id, Shop: shop, Hash: "same"})
		}
		_ = appendOne(h.JobKey)(tx)
		return nil
	})
	wantKind(t, "a fault of the database that was not minded", err, leveling.Exists)
	wantEqual(t, "the job", read(t, s, func(v flow.View) (flow.JobHead, error) { return v.Job(h.JobKey) }), h)

	// What the store itself refuses harms nothing.
	write(t, s, func(tx flow.Tx) error {
		_ = tx.PutPlanter(shop, planter("p1"))
		return appendOne(h.JobKey)(tx)
	})
}

func testManyAppends(t *testing.T, p Place) {
	s := open(t, p)
	const jobs, writers, each = 4, 16, 20
	var keys []flow.JobKey
	for i := range jobs {
		keys = append(keys, withJob(t, s, id("j", i)).JobKey)
	}
	var all sync.WaitGroup
	for w := range writers {
		all.Go(func() {
			for range each {
				if err := s.Write(t.Context(), appendOne(keys[w%jobs])); err != nil {
					t.Error(err)
					return
				}
			}
		})
	}
	all.Wait()
	for _, key := range keys {
		got := read(t, s, func(v flow.View) ([]job.Event, error) { return v.Events(key, 0, 0) })
		wantEqual(t, "revisions", revisionsOf(got), upTo(1+writers*each/jobs))
	}
}

func testOneState(t *testing.T, p Place) {
	s := open(t, p)
	h := withJob(t, s, "j1")
	ctx, cancel := context.WithCancel(t.Context())
	defer cancel()
	var writing sync.WaitGroup
	writing.Go(func() {
		for ctx.Err() == nil {
			if err := s.Write(t.Context(), appendOne(h.JobKey)); err != nil {
				t.Error(err)
				return
			}
		}
	})
	for range 60 {
		err := s.Read(t.Context(), func(v flow.View) error {
			before, err := v.Job(h.JobKey)
			if err != nil {
				return err
			}
			time.Sleep(time.Millisecond)
			events, err := v.Events(h.JobKey, 0, 0)
			if err == nil && len(events) != before.Revision {
				err = fmt.Errorf("a job of revision %d with %d events", before.Revision, len(events))
			}
			return err
		})
		if err != nil {
			t.Fatal(err)
		}
	}
	cancel()
	writing.Wait()
}

func testReadBesideWrite(t *testing.T, p Place) {
	s := open(t, p)
	h := withJob(t, s, "j1")
	opened := gate(t, s)
	ctx, cancel := context.WithTimeout(t.Context(), patience)
	defer cancel()
	var all sync.WaitGroup
	for range 20 {
		all.Go(func() {
			if err := s.Read(ctx, func(v flow.View) error { _, err := v.Job(h.JobKey); return err }); err != nil {
				t.Error(err)
			}
		})
	}
	all.Wait()
	opened()
}

func testOpenedAgain(t *testing.T, p Place) {
	s := p.Open(t)
	h := withJob(t, s, "j1")
	write(t, s, appendOne(h.JobKey))
	if err := s.Probe(t.Context()); err != nil {
		t.Errorf("probing: %v", err)
	}
	if err := s.Close(); err != nil {
		t.Fatal(err)
	}
	s = open(t, p)
	got := read(t, s, func(v flow.View) ([]job.Event, error) { return v.Events(h.JobKey, 0, 0) })
	wantEqual(t, "revisions", revisionsOf(got), upTo(2))
	write(t, s, appendOne(h.JobKey))
}

func testClosed(t *testing.T, p Place) {
	s := p.Open(t)
	h := withJob(t, s, "j1")
	var all sync.WaitGroup
	acknowledged := make([]int, 8)
	for i := range acknowledged {
		all.Go(func() {
			for {
				err := s.Write(t.Context(), appendOne(h.JobKey))
				if err != nil {
					wantKind(t, "writing while it closes", err, leveling.Unavailable)
					return
				}
				acknowledged[i]++
			}
		})
	}
	time.Sleep(settle)
	if err := s.Close(); err != nil {
		t.Fatal(err)
	}
	all.Wait()
	wantKind(t, "reading", s.Read(t.Context(), func(flow.View) error { return nil }), leveling.Unavailable)
	wantKind(t, "probing", s.Probe(t.Context()), leveling.Unavailable)
	want := 1
	for _, n := range acknowledged {
		want += n
	}
	got := read(t, open(t, p), func(v flow.View) (flow.JobHead, error) { return v.Job(h.JobKey) })
	wantEqual(t, "revision", got.Revision, want)
}
