package load

import (
	"context"
	"fmt"
	"slices"
	"time"

	"golang.org/x/sync/errgroup"
	"google.golang.org/grpc"

	"rowdatum/clients/prove/internal/proof"
	rowdatumv1 "rowdatum/proto/gen/rowdatum/v1"
)

const (
	appended = 50 // readings, one an event
	// news is the longest that an event may be on its way before a watcher counts as having missed it.
	news = 30 * time.Second
)

// watchers has hundreds watch one job while readings are appended to it.
func watchers(ctx context.Context, s proof.Setting, conn *grpc.ClientConn) (proof.Table, error) {
	many, rounds := 500, 5
	if s.Quick {
		many, rounds = 100, 1
	}
	shop := newShop(conn)
	var rates, without []float64
	var delays []time.Duration
	for i := range rounds {
		quiet, err := shop.watched(ctx, 0, uint64(3_000+i))
		if err != nil {
			return proof.Table{}, err
		}
		watched, err := shop.watched(ctx, many, uint64(4_000+i))
		if err != nil {
			return proof.Table{}, err
		}
		without, rates = append(without, quiet.rate), append(rates, watched.rate)
		delays = append(delays, watched.delays...)
	}
	shop.calls()
	s.Say("%d watchers: seen after %v (p99 %v), %.0f appends/s, %.0f without", many, quantile(delays, 0.5), quantile(delays, 0.99), median(rates), median(without))
	return proof.Table{Title: "Watchers of one job", Columns: []string{"watchers", "events seen by each", "seen after, median", "99th percentile", "appends/s", "without watchers"},
		Notes: []string{
			fmt.Sprintf("One connection holds all the watches. %d readings are appended, each as soon as the one before is acknowledged: every watcher saw every event once, in order, each with the state of the job's %d rows after it. "+
				"The time is from the call that appends to the watcher's having the event, client and service sharing the machine.", appended, planterRows),
			"Ratio: appends a second with watchers over those to a job that nobody watches.",
		},
		Rows: []proof.Row{{Ratio: median(rates) / median(without), Cells: []string{fmt.Sprint(many), fmt.Sprint(appended + 1), ms(quantile(delays, 0.5)), ms(quantile(delays, 0.99)), proof.Figure(median(rates)), proof.Figure(median(without))}}},
	}, nil
}

// watched is what came of appending to a job that is watched.
type watched struct {
	rate   float64 // appends a second
	delays []time.Duration
}

// watched opens a job, has so many watch it, and appends readings. Its error says which watcher missed what.
func (s *shop) watched(ctx context.Context, many int, seed uint64) (out watched, err error) {
	v, err := s.open(ctx, seed)
	if err != nil {
		return out, err
	}
	ctx, cancel := context.WithCancel(ctx)
	defer cancel()
	seen := make([][]time.Time, many)
	work, ctx := errgroup.WithContext(ctx)
	standing := make(chan struct{}, many)
	for i := range seen {
		work.Go(func() (err error) {
			seen[i], err = s.see(ctx, v.Job.GetName(), standing)
			return err
		})
	}
	for range many {
		select {
		case <-standing:
		case <-ctx.Done():
			return out, work.Wait()
		}
	}
	sent := make([]time.Time, appended)
	begun := time.Now()
	for i := range sent {
		sent[i] = time.Now()
		if err := v.Read(ctx, v.Job.GetState().GetRows()[i%planterRows]); err != nil {
			cancel()
			work.Wait()
			return out, err
		}
	}
	out.rate = appended / time.Since(begun).Seconds()
	late := time.AfterFunc(news, cancel)
	defer late.Stop()
	if err := work.Wait(); err != nil {
		return out, err
	}
	for _, one := range seen {
		for i, at := range one[1:] {
			out.delays = append(out.delays, at.Sub(sent[i]))
		}
	}
	return out, nil
}

// see watches a job until it has seen its opening and all that is appended, and returns when it saw each. standing hears
// when the opening was seen.
func (s *shop) see(ctx context.Context, job string, standing chan<- struct{}) (at []time.Time, err error) {
	ctx, cancel := context.WithCancel(ctx)
	defer cancel()
	stream, err := s.jobs.WatchJob(ctx, &rowdatumv1.WatchJobRequest{Name: job})
	if err != nil {
		return nil, err
	}
	for len(at) < 1+appended {
		message, err := stream.Recv()
		if err != nil {
			return nil, fmt.Errorf("a watcher saw %d events of %d: %w", len(at), 1+appended, err)
		}
		now := time.Now()
		for _, event := range message.GetEvents() {
			if int(event.GetRevision()) != len(at)+1 {
				return nil, fmt.Errorf("a watcher saw event %d after event %d", event.GetRevision(), len(at))
			}
			if at = append(at, now); len(at) == 1 {
				standing <- struct{}{}
			}
		}
	}
	return slices.Clip(at), nil
}
