package load

import (
	"context"
	"errors"
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"time"

	"golang.org/x/sync/errgroup"
	"google.golang.org/grpc"

	"rowdatum/clients/prove/internal/proof"
	rowdatumv1 "rowdatum/proto/gen/rowdatum/v1"
)

// soak is how the memory of a service is watched.
type soak struct {
	long, every time.Duration
	plans       int           // callers of stateless plans
	different   int           // plans asked for, so that what is remembered is pushed out again and again
	pause       time.Duration // between jobs of one caller: what jobs leave in the store must fit onto a disk
	goal        float64
}

// memory loads a service of its own with a mixture for a long time, and looks whether its memory grows.
func memory(ctx context.Context, s proof.Setting) (proof.Table, error) {
	k := soak{long: 30 * time.Minute, every: time.Second, plans: 4, different: 2000, pause: time.Second, goal: 1.05}
	if s.Quick {
		k = soak{long: 8 * time.Second, every: 50 * time.Millisecond, plans: 4, different: 400, pause: 100 * time.Millisecond, goal: 2}
	}
	running, err := s.Start(ctx)
	if err != nil {
		return proof.Table{}, err
	}
	defer running.End()
	conn, err := dial(running.GRPC)
	if err != nil {
		return proof.Table{}, err
	}
	defer conn.Close()
	s.Say("a mixed load for %v", k.long)
	seen, done, err := k.run(ctx, conn, running.Process().Pid)
	if err != nil {
		return proof.Table{}, err
	}
	return k.table(seen, done), nil
}

// sample is the memory of the processes at one time, bytes.
type sample struct {
	after              time.Duration
	service, adjusters float64
}

// done counts what the load has done.
type done struct{ plans, jobs, watches int }

// run loads the service and takes samples until the time is over.
func (k soak) run(ctx context.Context, conn *grpc.ClientConn, pid int) (seen []sample, sum done, err error) {
	requests := planRequests(k.different, 2)
	if _, err := warm(ctx, conn, requests); err != nil {
		return nil, sum, err
	}
	ctx, cancel := context.WithCancel(ctx) // no deadline: the service would hear of it, and might keep it sooner than we
	defer cancel()
	over := time.AfterFunc(k.long, cancel)
	defer over.Stop()
	counts := make([]done, k.plans+2)
	work, ctx := errgroup.WithContext(ctx)
	for i := range counts {
		work.Go(func() error {
			random := rand.New(rand.NewPCG(9, uint64(i)))
			for n := uint64(0); ctx.Err() == nil; n++ {
				var err error
				if i < k.plans {
					_, err = rowdatumv1.NewPlanServiceClient(conn).ComputePlan(ctx, requests[random.IntN(len(requests))])
					counts[i].plans++
				} else {
					err = k.watchedJob(ctx, newShop(conn), uint64(i)<<32|n)
					counts[i].jobs, counts[i].watches = counts[i].jobs+1, counts[i].watches+1
				}
				if err != nil && ctx.Err() == nil {
					return err
				}
			}
			return nil
		})
	}
	work.Go(func() (err error) {
		seen, err = k.look(ctx, pid)
		return err
	})
	err = work.Wait()
	for _, c := range counts {
		sum.plans, sum.jobs, sum.watches = sum.plans+c.plans, sum.jobs+c.jobs, sum.watches+c.watches
	}
	return seen, sum, err
}

// watchedJob levels one planter while somebody watches its job, and rests.
func (k soak) watchedJob(ctx context.Context, s *shop, seed uint64) error {
	v, err := s.open(ctx, seed)
	if err != nil {
		return err
	}
	watch, leave := context.WithCancel(ctx)
	defer leave()
	stream, err := s.jobs.WatchJob(watch, &rowdatumv1.WatchJobRequest{Name: v.Job.GetName()})
	if err != nil {
		return err
	}
	if err := finish(ctx, v); err != nil {
		return err
	}
	for last := int32(0); last < v.Job.GetRevision(); {
		message, err := stream.Recv()
		if err != nil {
			return fmt.Errorf("watching %s: %w", v.Job.GetName(), err)
		}
		for _, event := range message.GetEvents() {
			if last++; event.GetRevision() != last {
				return fmt.Errorf("the watcher of %s saw event %d where %d was next", v.Job.GetName(), event.GetRevision(), last)
			}
		}
	}
	select {
	case <-time.After(k.pause):
	case <-ctx.Done():
	}
	return nil
}

// look takes samples until ctx ends.
func (k soak) look(ctx context.Context, pid int) (seen []sample, err error) {
	begun := time.Now()
	tick := time.NewTicker(k.every)
	defer tick.Stop()
	for {
		select {
		case <-ctx.Done():
			return seen, nil
		case <-tick.C:
		}
		service, adjusters, err := resident(pid)
		if err != nil {
			return nil, err
		}
		seen = append(seen, sample{time.Since(begun), service, adjusters})
	}
}

// resident is the memory of a process, and of those that it has started, bytes.
func resident(pid int) (own, started float64, err error) {
	if own, err = rss(pid); err != nil {
		return 0, 0, err
	}
	tasks, err := filepath.Glob(fmt.Sprintf("/proc/%d/task/*/children", pid))
	if err != nil {
		return 0, 0, err
	}
	for _, task := range tasks {
		list, err := os.ReadFile(task)
		if errors.Is(err, os.ErrNotExist) { // the thread is gone
			continue
		}
		if err != nil {
			return 0, 0, err
		}
		for _, word := range strings.Fields(string(list)) {
			child, err := strconv.Atoi(word)
			if err != nil {
				return 0, 0, err
			}
			if size, err := rss(child); err == nil { // else it is gone
				started += size
			}
		}
	}
	return own, started, nil
}

// rss reads how much memory of a process is resident.
func rss(pid int) (float64, error) {
	text, err := os.ReadFile(fmt.Sprintf("/proc/%d/statm", pid))
	if err != nil {
		return 0, err
	}
	fields := strings.Fields(string(text))
	if len(fields) < 2 {
		return 0, fmt.Errorf("/proc/%d/statm reads %q", pid, text)
	}
	pages, err := strconv.ParseFloat(fields[1], 64)
	return pages * float64(os.Getpagesize()), err
}

// table tells what came out.
func (k soak) table(seen []sample, sum done) proof.Table {
	out := proof.Table{Title: "Memory under a mixed load", Columns: []string{"processes", "second fifth of the time", "last fifth", "most"},
		Notes: []string{
			fmt.Sprintf("For %v a service of its own was asked for stateless plans by %d callers without a pause, %d different ones in disorder, which push each other's answers out of memory, while two others opened a watch, "+
				"levelled a planter, signed, left, and rested for %v. Done: %d plans, %d jobs signed, %d watches. Resident memory was read every %v; the medians of two fifths of the time are compared; every plan was asked for once before, and the first fifth is for the rest to warm up. "+
				"What was signed is in the store, on disk.", k.long, k.plans, k.different, k.pause, sum.plans, sum.jobs, sum.watches, k.every),
			"Ratio: last fifth over second fifth.",
		}}
	const mb = 1e6
	picture := proof.Picture{File: "load-memory.svg", Title: "Resident memory under a mixed load", X: "minutes", Y: "MB"}
	for _, process := range []struct {
		name string
		of   func(sample) float64
	}{
		{"service", func(s sample) float64 { return s.service }},
		{"adjusters", func(s sample) float64 { return s.adjusters }},
	} {
		second, last, most := []float64{}, []float64{}, 0.0
		line := proof.Line{Name: process.name}
		for i, s := range seen {
			size := process.of(s) / mb
			most = max(most, size)
			switch i * 5 / len(seen) {
			case 1:
				second = append(second, size)
			case 4:
				last = append(last, size)
			}
			if i%max(1, len(seen)/120) == 0 {
				line.Points = append(line.Points, proof.Point{X: s.after.Minutes(), Y: size})
			}
		}
		picture.Lines = append(picture.Lines, line)
		out.Rows = append(out.Rows, proof.Row{Cells: []string{process.name, proof.Figure(median(second)) + " MB", proof.Figure(median(last)) + " MB", proof.Figure(most) + " MB"},
			Ratio: median(last) / median(second), Goal: proof.AtMost(k.goal)})
	}
	out.Pictures = []proof.Picture{picture}
	return out
}
