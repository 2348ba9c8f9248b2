package load

import (
	"context"
	"fmt"
	"time"

	"golang.org/x/sync/errgroup"
	"google.golang.org/grpc"

	"rowdatum/clients/prove/internal/proof"
)

// jobs has many callers each level a planter of its own at once, and compares it with as many one after the other.
func jobs(ctx context.Context, s proof.Setting, conn *grpc.ClientConn) (proof.Table, error) {
	atOnce, alone := 200, 30
	if s.Quick {
		atOnce, alone = 40, 6
	}
	shop := newShop(conn)
	slow, err := shop.level(ctx, alone, 1, 1_000)
	if err != nil {
		return proof.Table{}, err
	}
	slowCalls := shop.calls()
	fast, err := shop.level(ctx, atOnce, atOnce, 2_000)
	if err != nil {
		return proof.Table{}, err
	}
	fastCalls := shop.calls()
	s.Say("%d jobs at once: %.1f a second, %.1f one at a time", atOnce, fast, slow)
	cells := func(callers, jobs int, rate float64, calls []time.Duration) []string {
		return []string{fmt.Sprint(callers), fmt.Sprint(jobs), fmt.Sprintf("%.0f", float64(len(calls))/float64(jobs)), proof.Figure(rate), ms(quantile(calls, 0.5)), ms(quantile(calls, 0.99))}
	}
	return proof.Table{Title: "Jobs at once", Columns: []string{"at once", "jobs signed", "calls a job", "jobs/s", "median call", "99th percentile"},
		Notes: []string{
			fmt.Sprintf("Each caller opens a job on a planter of %d rows of its own, reads, plans, moves, reads again and signs, as the service says what is next, without a pause. Every job was signed.", planterRows),
			"Ratio: jobs a second over those one at a time.",
		},
		Rows: []proof.Row{
			{Cells: cells(1, alone, slow, slowCalls), Ratio: 1},
			{Cells: cells(atOnce, atOnce, fast, fastCalls), Ratio: fast / slow, Goal: proof.AtLeast(1)},
		}}, nil
}

// level levels so many planters, so many at once, and returns how many a second.
func (s *shop) level(ctx context.Context, planters, atOnce int, seed uint64) (rate float64, err error) {
	begun := time.Now()
	work, ctx := errgroup.WithContext(ctx)
	work.SetLimit(atOnce)
	for i := range planters {
		work.Go(func() error {
			v, err := s.open(ctx, seed+uint64(i))
			if err != nil {
				return err
			}
			return finish(ctx, v)
		})
	}
	err = work.Wait()
	return float64(planters) / time.Since(begun).Seconds(), err
}
