package main

import (
	"context"
	"fmt"
	"sync"
	"testing"

	"go.uber.org/zap"

	pb "rowdatum/proto/gen/rowdatum/v1"
	"rowdatum/server/internal/api"
	"rowdatum/server/internal/flow"
)

const (
	// crowdOfShop is how many watch in one shop, below what a shop may have: a thousand are those of two shops.
	crowdOfShop = 500
	eventsOfJob = 50 // a job has tens of readings, not thousands
)

// BenchmarkWatchers appends a reading and waits until every watcher of the job has seen it, over gRPC: an op lasts until
// the last one has. "x-alone" is the time a watcher, beside that of one watcher alone in the same run: 1 where the delay
// grows with their number, below where watchers share work.
func BenchmarkWatchers(b *testing.B) {
	var alone float64 // seconds an event
	for _, many := range []int{1, 10, 100, 500, 1000} {
		b.Run(fmt.Sprintf("watchers=%d", many), func(b *testing.B) {
			crowds := crowdsOf(b, many)
			for b.Loop() {
				var all sync.WaitGroup
				for _, c := range crowds {
					if c.events == eventsOfJob {
						b.StopTimer()
						c.leave()
						c.gather(b)
						b.StartTimer()
					}
					all.Go(func() { c.event(b) })
				}
				all.Wait()
			}
			took := b.Elapsed().Seconds() / float64(b.N)
			if many == 1 {
				alone = took
			}
			b.ReportMetric(took/float64(many)/alone, "x-alone")
		})
	}
}

// crowd watches one job of its shop.
type crowd struct {
	way    way
	many   int
	job    string
	events int
	unseen sync.WaitGroup // watchers that have not seen the last event
	leave  func()
}

func crowdsOf(b *testing.B, many int) (crowds []*crowd) {
	b.Helper()
	service := assemble(b, zap.NewNop(), api.WatchTimes{}, 0)
	for shop := 0; many > 0; shop++ {
		secret, _, err := service.core.AddKey(b.Context(), fmt.Sprint("shop-", shop), flow.Owner, "bench", 0)
		if err != nil {
			b.Fatal(err)
		}
		c := &crowd{way: service.ways[0].as(secret), many: min(many, crowdOfShop)}
		must[*pb.Planter](b)(c.way.planters().CreatePlanter(b.Context(), &pb.CreatePlanterRequest{Planter: depot(b), PlanterId: "p"}))
		c.gather(b)
		crowds, many = append(crowds, c), many-c.many
	}
	b.Cleanup(func() {
		for _, c := range crowds {
			c.leave()
		}
	})
	return crowds
}

// gather opens a job and waits until all watch it.
func (c *crowd) gather(b *testing.B) {
	b.Helper()
	c.events = 0
	c.job = must[*pb.Job](b)(c.way.jobs().CreateJob(context.Background(), &pb.CreateJobRequest{Parent: "planters/p", Job: &pb.Job{}})).Name
	ctx, cancel := context.WithCancel(context.Background())
	var work sync.WaitGroup
	c.leave = func() {
		cancel()
		work.Wait()
	}
	c.unseen.Add(c.many)
	for range c.many {
		stream := must[pb.JobService_WatchJobClient](b)(c.way.jobs().WatchJob(ctx, &pb.WatchJobRequest{Name: c.job}))
		work.Go(func() {
			for {
				message, err := stream.Recv()
				if err != nil {
					if ctx.Err() == nil {
						b.Error(err)
					}
					return
				}
				for range message.GetEvents() {
					c.unseen.Done()
				}
			}
		})
	}
	c.unseen.Wait()
}

// event appends one reading and waits until all have seen it.
func (c *crowd) event(b *testing.B) {
	c.events++
	c.unseen.Add(c.many)
	if _, err := c.way.jobs().AddReadings(b.Context(), benchReading(c.job, c.events)); err != nil {
		b.Error(err)
		return
	}
	c.unseen.Wait()
}
