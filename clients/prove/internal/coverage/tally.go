package coverage

import (
	"context"

	"golang.org/x/sync/errgroup"
)

// tally counts how often something happened.
type tally struct{ happened, of int }

func (t *tally) count(happened bool) {
	t.of++
	if happened {
		t.happened++
	}
}

func (t *tally) add(u tally) { t.happened, t.of = t.happened+u.happened, t.of+u.of }

func (t tally) share() float64 { return float64(t.happened) / float64(t.of) }

// atOnce is how many calls are under way at one time.
const atOnce = 4

// each does something so often, some at once, and returns what came of each, in order.
func each[T any](ctx context.Context, times int, do func(ctx context.Context, i int) (T, error)) ([]T, error) {
	out := make([]T, times)
	group, ctx := errgroup.WithContext(ctx)
	group.SetLimit(atOnce)
	for i := range times {
		group.Go(func() (err error) {
			out[i], err = do(ctx, i)
			return err
		})
	}
	return out, group.Wait()
}
