package store

import (
	"context"
	"errors"
	"maps"
	"math/rand/v2"
	"runtime"
	"sync/atomic"
	"time"

	"rowdatum/server/internal/flow"
	"rowdatum/server/internal/store/engine"
	"rowdatum/server/leveling"
)

// Choices of ours.
const (
	groupMost    = 256                   // writes in one transaction: none waits for more than so many others
	attemptsMost = 10                    // of a transaction that others were in the way of
	lostMost     = 3                     // attempts to come back to a database that was lost
	pauseMost    = 20 * time.Millisecond // between two attempts, at random, doubling up to eight times
)

// write is one caller's Write on its way.
type write struct {
	ctx   context.Context
	do    func(flow.Tx) error
	taken atomic.Bool // by the writing goroutine, or by a caller who went away
	done  chan outcome

	outcome outcome // while it is worked on
	news    map[flow.JobKey]int
}

type outcome struct {
	err      error
	panicked any // what do panicked with
}

// Write runs do in a transaction that it may share with others.
func (s *Store) Write(ctx context.Context, do func(flow.Tx) error) error {
	if err := s.damage.known(); err != nil {
		return err
	}
	w := &write{ctx: ctx, do: do, done: make(chan outcome, 1)}
	select {
	case s.queue <- w:
	case <-ctx.Done():
		return gaveUp(ctx)
	case <-s.closing.Done():
		return closed()
	}
	select {
	case o := <-w.done:
		return o.end()
	case <-ctx.Done():
		return w.leave(gaveUp(ctx))
	case <-s.ended:
		return w.leave(closed())
	}
}

// leave ends a write that has not been begun with err; one that has been begun is waited for: do must not run
// after Write has returned, and whoever is told of a failure must be able to rely on it.
func (w *write) leave(err error) error {
	if w.taken.CompareAndSwap(false, true) {
		return err
	}
	o := <-w.done
	return o.end()
}

// end hands a panic of do on to the goroutine that asked for it.
func (o outcome) end() error {
	if o.panicked != nil {
		panic(o.panicked)
	}
	return o.err
}

// writing is the one goroutine that writes.
func (s *Store) writing() {
	defer close(s.ended)
	for {
		select {
		case <-s.closing.Done():
			return
		case w := <-s.queue:
			if group := s.gather(w); len(group) > 0 {
				s.settle(group)
			}
		}
	}
}

// gather takes first and all writes that wait with it.
func (s *Store) gather(first *write) []*write {
	var group []*write
	take := func(w *write) {
		if w.taken.CompareAndSwap(false, true) {
			group = append(group, w)
		}
	}
	take(first)
	for idle := false; len(group) < groupMost; {
		select {
		case w := <-s.queue:
			take(w)
			idle = false
			continue
		default:
		}
		if idle {
			break
		}
		// Those whose last write was just acknowledged are about to come with the next one.
		idle = true
		runtime.Gosched()
	}
	return group
}

// settle writes a group and tells each of its callers.
func (s *Store) settle(group []*write) {
	if s.grouped != nil {
		s.grouped(len(group))
	}
	begun := time.Now()
	if err := s.together(group); err != nil {
		for _, w := range group {
			w.outcome = outcome{err: err}
		}
	}
	s.meter.Group(len(group), failures(group), time.Since(begun))
	for _, w := range group {
		if w.outcome.err == nil {
			for key, revision := range w.news {
				s.hub.tell(key, revision)
			}
		}
		w.done <- w.outcome
	}
}

// failures counts the writes that were not refused, but failed.
func failures(group []*write) (n int) {
	for _, w := range group {
		if w.outcome.err == nil {
			continue
		}
		switch leveling.AsError(w.outcome.err).Kind {
		case leveling.Internal, leveling.Unavailable, leveling.DataLoss:
			n++
		}
	}
	return n
}

// errCareful asks for savepoints: a write that shares the transaction failed after it had changed something.
var errCareful = errors.New("a write that must be undone alone")

// together commits a group: again where others were in the way or the connection was lost before the commit,
// and with savepoints only once one of its writes needs to be undone. They would cost every write two more
// statements.
func (s *Store) together(group []*write) error {
	careful := false
	for attempt := 1; ; attempt++ {
		err := s.attempt(group, careful)
		switch fault := faultOf(err); {
		case err == nil:
			return nil
		case errors.Is(err, errCareful):
			careful = true
		case fault == engine.Again && attempt < attemptsMost, fault == engine.Lost && attempt < lostMost:
			time.Sleep(rand.N(pauseMost << min(attempt-1, 3)))
		default:
			return err
		}
	}
}

// attempt runs a group's transaction. An error means that nothing of it is kept; what concerns one write
// alone is in its outcome.
func (s *Store) attempt(group []*write, careful bool) error {
	ctx := context.Background()
	if limit := s.engine.WriteLimit(); limit > 0 {
		var cancel context.CancelFunc
		ctx, cancel = context.WithTimeout(ctx, limit)
		defer cancel()
	}
	t := &tx{view: view{s.writer}}
	if err := t.begin(ctx); err != nil {
		return err
	}
	defer t.undo()
	news := map[flow.JobKey]int{}
	kept := 0
	for _, w := range group {
		if err := t.isolated(w, careful); err != nil {
			return err
		}
		if w.outcome.err == nil {
			kept++
			maps.Copy(news, w.news)
		} else if t.wrote && !careful && len(group) > 1 {
			return errCareful
		}
	}
	if kept == 0 {
		return nil
	}
	return s.finish(t, news)
}

// isolated runs one write of a transaction; a careful one is undone where it fails. An error means that the
// transaction cannot go on.
func (t *tx) isolated(w *write, careful bool) error {
	w.outcome, w.news = outcome{}, map[flow.JobKey]int{}
	t.news, t.wrote, t.point = w.news, false, noPoint
	if w.ctx.Err() != nil {
		w.outcome.err = gaveUp(w.ctx)
		return nil
	}
	if careful {
		t.point = pointWanted
	}
	w.outcome = run(w.do, t)
	switch faultOf(t.faulty) {
	case engine.Again, engine.Down, engine.Full, engine.Lost, engine.Damaged:
		return t.faulty
	}
	if t.ctx.Err() != nil {
		return gaveUp(t.ctx)
	}
	if w.outcome.err == nil {
		w.outcome.err = t.faulty // do did not mind; the transaction does
	}
	if w.outcome.err == nil && w.ctx.Err() != nil {
		w.outcome.err = gaveUp(w.ctx)
	}
	t.wrote = t.wrote || t.faulty != nil // PostgreSQL undoes all at the first fault
	t.faulty = nil
	return t.leavePoint(w.outcome.err == nil)
}

func (t *tx) leavePoint(keep bool) error {
	set := t.point == pointSet
	t.point = noPoint
	if !set {
		return nil
	}
	if !keep {
		if _, err := t.exec("ROLLBACK TO SAVEPOINT one"); err != nil {
			return err
		}
	}
	_, err := t.exec("RELEASE SAVEPOINT one")
	return err
}

// run calls do and catches its panic: the writing goroutine serves others too.
func run(do func(flow.Tx) error, t *tx) (o outcome) {
	defer func() {
		if p := recover(); p != nil {
			o = outcome{err: misuse("panic: %v", p), panicked: p}
		}
	}()
	return outcome{err: do(t)}
}

// finish commits, and has the other processes told.
func (s *Store) finish(t *tx, news map[flow.JobKey]int) error {
	said := make([]string, 0, len(news))
	for key, revision := range news {
		said = append(said, words(key, revision))
	}
	err := t.commit(s.engine.Commit(said))
	if fault := faultOf(err); err != nil && (t.ctx.Err() != nil || fault == engine.Lost || fault == engine.Down) {
		t.drop()
		return unsure(err)
	}
	return err
}
