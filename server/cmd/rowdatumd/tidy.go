package main

import (
	"context"
	"sync"
	"time"

	"go.uber.org/zap"
)

const (
	tidyFirst = time.Minute // not while everything starts
	tidyEvery = 24 * time.Hour
)

// keepTidy forgets day by day what nobody can use any more, until end is called.
func (s *service) keepTidy(log *zap.Logger) (end func()) {
	ctx, cancel := context.WithCancel(context.Background())
	var work sync.WaitGroup
	work.Go(func() {
		for wait := tidyFirst; ; wait = tidyEvery {
			select {
			case <-ctx.Done():
				return
			case <-time.After(wait):
			}
			answers, err := s.core.Tidy(ctx)
			if err != nil && ctx.Err() == nil {
				log.Warn("the store was not tidied; it is tried again tomorrow", zap.Error(err))
			}
			log.Debug("the store is tidy", zap.Int("answers", answers))
		}
	})
	return func() {
		cancel()
		work.Wait()
	}
}
