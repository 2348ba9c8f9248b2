package load

import (
	"context"
	"slices"
	"sync"
	"sync/atomic"
	"time"

	"golang.org/x/sync/errgroup"
)

// side is one of two that are compared.
type side struct {
	pid  int                                    // of the process that answers
	call func(ctx context.Context, n int) error // makes call number n
}

// tally is what came of calling a side, over all its spells.
type tally struct {
	rates []float64       // calls a second, a spell each
	waits []time.Duration // each call's
	used  time.Duration   // processor time of the process that answered
}

// callFor has so many callers call side by side for a while. The first call that fails ends it.
func (t *tally) callFor(ctx context.Context, callers int, long time.Duration, s side) error {
	before, err := processor(s.pid)
	if err != nil {
		return err
	}
	var mu sync.Mutex
	var all []time.Duration
	var numbers atomic.Int64
	begun := time.Now()
	work, ctx := errgroup.WithContext(ctx)
	for range callers {
		work.Go(func() error {
			var waits []time.Duration
			for time.Since(begun) < long && ctx.Err() == nil {
				start := time.Now()
				if err := s.call(ctx, int(numbers.Add(1))); err != nil {
					return err
				}
				waits = append(waits, time.Since(start))
			}
			mu.Lock()
			defer mu.Unlock()
			all = append(all, waits...)
			return nil
		})
	}
	if err := work.Wait(); err != nil {
		return err
	}
	t.rates, t.waits = append(t.rates, float64(len(all))/time.Since(begun).Seconds()), append(t.waits, all...)
	after, err := processor(s.pid)
	t.used += after - before
	return err
}

// rate is the median over the spells, calls a second.
func (t *tally) rate() float64 { return median(t.rates) }

func (t *tally) p99() time.Duration { return quantile(t.waits, 0.99) }

// each is the processor time that answering one call took.
func (t *tally) each() time.Duration { return t.used / time.Duration(len(t.waits)) }

// duel calls ours and the bare side in alternated spells; ratio is the median of the rates' ratios.
func duel(ctx context.Context, callers, rounds int, long time.Duration, ours, bare side) (our, their tally, ratio float64, err error) {
	var ratios []float64
	for i := range rounds {
		if err := our.callFor(ctx, callers, long, ours); err != nil {
			return our, their, 0, err
		}
		if err := their.callFor(ctx, callers, long, bare); err != nil {
			return our, their, 0, err
		}
		ratios = append(ratios, our.rates[i]/their.rates[i])
	}
	return our, their, median(ratios), nil
}

func median(all []float64) float64 {
	all = slices.Sorted(slices.Values(all))
	return (all[(len(all)-1)/2] + all[len(all)/2]) / 2
}

// quantile returns the smallest wait that a part of all does not exceed.
func quantile(all []time.Duration, part float64) time.Duration {
	if len(all) == 0 {
		return 0
	}
	all = slices.Sorted(slices.Values(all))
	return all[int(part*float64(len(all)-1))]
}
