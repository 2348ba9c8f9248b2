package store

import (
	"context"
	"errors"
	"fmt"
	"strings"
	"sync"
	"time"

	"go.uber.org/zap"

	"rowdatum/server/internal/store/engine"
)

// Choices of ours, for looking over the store when it is opened.
const (
	lookWait = 2 * time.Second  // a start waits so long for the look: enough for a small shop's whole store
	lookMost = 30 * time.Minute // a look takes no longer
)

// damage remembers that the store is damaged: from then on nothing is written.
type damage struct {
	tell func(error)

	mu  sync.Mutex
	err error // the first that was found
}

// found stops the writing and tells of it once.
func (d *damage) found(err error) {
	d.mu.Lock()
	first := d.err == nil
	if first {
		d.err = err
	}
	d.mu.Unlock()
	if first {
		d.tell(err)
	}
}

// known is why nothing is written, nil where all is well.
func (d *damage) known() error {
	d.mu.Lock()
	defer d.mu.Unlock()
	return d.err
}

// Damage is what is known to be wrong with the store; nil where nothing is.
func (s *Store) Damage() error { return s.damage.known() }

func (s *Store) tellDamage(err error) {
	backup := s.engine.LastBackup()
	if backup == "" {
		backup = "none is known"
	}
	s.log.Error("THE STORE IS DAMAGED: nothing is written to it any more. Stop the service, keep the store's files as they are, look with rowdatumd check, and bring back a backup.",
		zap.String("newestBackup", backup), zap.Error(err))
}

// lookOver looks for damage while the service starts, and goes on beside it where that takes longer.
func (s *Store) lookOver(ctx context.Context) {
	done := make(chan struct{})
	s.work.Go(func() {
		defer close(done)
		ctx, cancel := context.WithTimeout(s.closing, lookMost)
		defer cancel()
		switch problems, err := s.engine.Check(ctx, true); {
		case errors.Is(err, engine.ErrNotChecked) || s.closing.Err() != nil:
		case err != nil:
			if err := judged(ctx, s.engine, "looking over the store", err); faultOf(err) == engine.Damaged {
				s.damage.found(err)
			} else {
				s.log.Warn("the store was not looked over to its end", zap.Error(err))
			}
		case len(problems) > 0:
			s.damage.found(damaged(fmt.Errorf("looking over the store: %s", strings.Join(problems, "; "))))
		}
	})
	select {
	case <-done:
	case <-time.After(lookWait):
	case <-ctx.Done():
	}
}

// Structure looks for damage in how the store lies on its disk. ErrNotChecked of engine where the database does that.
func (s *Store) Structure(ctx context.Context) (problems []string, err error) {
	return s.engine.Check(ctx, false)
}
