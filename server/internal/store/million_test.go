package store

import (
	"context"
	"fmt"
	"maps"
	"path/filepath"
	"slices"
	"testing"
	"time"

	"rowdatum/server/internal/flow"
	"rowdatum/server/leveling"
	"rowdatum/server/leveling/job"
)

const (
	eventsAJob  = 50
	fewEvents   = 1_000
	manyEvents  = 1_000_000
	jobsPlanter = 20 // on one planter
)

// BenchmarkMillion compares a store of a million events with one of a thousand: each ratio is the median time
// with many over that with few, one call of each in turn. Both go through as many jobs, which are read once before, so
// that the ratio tells what more events cost and not how much of a store the machine has in memory. That is what
// openingAnew adds: jobs that nobody has opened since. It has no goal, because it changes with the machine's memory.
func BenchmarkMillion(b *testing.B) {
	crowds := map[int]*crowd{}
	for events := fewEvents; events <= manyEvents; events *= 10 {
		crowds[events] = filled(b, events)
	}
	few, many := crowds[fewEvents], crowds[manyEvents]
	for _, c := range []struct {
		name string
		do   func(*crowd, int) error
	}{
		{"opening", (*crowd).open},
		{"openingAnew", (*crowd).openAnew},
		{"planters", (*crowd).planters},
		{"byOwner", (*crowd).byOwner},
		{"byExternalID", (*crowd).byExternalID},
		{"jobs", (*crowd).jobs},
		{"jobsOfPlanter", (*crowd).jobsOfPlanter},
		{"jobsByWorkOrder", (*crowd).jobsByWorkOrder},
		{"appending", (*crowd).append},
	} {
		b.Run(c.name, func(b *testing.B) {
			took := func(one *crowd, n int) float64 {
				start := time.Now()
				if err := c.do(one, n); err != nil {
					b.Fatal(err)
				}
				return time.Since(start).Seconds()
			}
			for n := range jobsPlanter {
				took(few, n)
				took(many, n)
			}
			var ratios []float64
			run := func(n int) {
				var ofFew, ofMany []float64
				for i := n * 40; i < (n+1)*40; i++ {
					ofFew = append(ofFew, took(few, i))
					ofMany = append(ofMany, took(many, i))
				}
				ratios = append(ratios, median(ofMany)/median(ofFew))
			}
			n := 0
			for ; b.Loop(); n++ {
				run(n)
			}
			for ; len(ratios) < leastRuns; n++ {
				run(n)
			}
			b.ReportMetric(median(ratios), "x-a-thousand")
		})
	}
	b.Run("growth", func(b *testing.B) { growth(b, crowds) })
}

// growth is how the time of the commonest works grows with the events kept: "x-a-thousand" is in times of a store with a
// thousand, in alternated runs.
func growth(b *testing.B, crowds map[int]*crowd) {
	few := crowds[fewEvents]
	for _, c := range []struct {
		name string
		do   func(*crowd, int) error
	}{
		{"opening", (*crowd).open},
		{"appending", (*crowd).append},
	} {
		for _, events := range slices.Sorted(maps.Keys(crowds)) {
			b.Run(fmt.Sprintf("%s/events=%d", c.name, events), func(b *testing.B) {
				var ratios []float64
				took := func(one *crowd, n int) time.Duration {
					start := time.Now()
					if err := c.do(one, n); err != nil {
						b.Fatal(err)
					}
					return time.Since(start)
				}
				for n := 0; b.Loop(); n++ {
					b.StopTimer()
					bare := took(few, n)
					b.StartTimer()
					ratios = append(ratios, took(crowds[events], n).Seconds()/bare.Seconds())
				}
				b.ReportMetric(median(ratios), "x-a-thousand")
			})
		}
	}
}

// crowd is a store full of planters with jobs.
type crowd struct {
	*Store
	heads []flow.JobHead
	count int // of planters
}

func filled(b *testing.B, events int) *crowd {
	b.Helper()
	c := &crowd{Store: mustOpen(b, filepath.Join(b.TempDir(), "rowdatum.db")), count: max(1, events/eventsAJob/jobsPlanter)}
	b.Cleanup(func() {
		if err := c.Close(); err != nil {
			b.Error(err)
		}
	})
	for p := range c.count {
		err := c.Write(context.Background(), func(t flow.Tx) error {
			return t.PutPlanter("north", leveling.Planter{ID: planterID(p), Revision: 1, DisplayName: "Planter", Owner: ownerOf(p),
				Rows: make([]leveling.PlanterRow, 16), ExternalIDs: map[string]string{"erp": planterID(p)}})
		})
		if err != nil {
			b.Fatal(err)
		}
		c.heads = append(c.heads, fillJobs(b, c.Store, "north", planterID(p), jobsPlanter, eventsAJob)...)
	}
	return c
}

func planterID(n int) string { return fmt.Sprintf("planter-%05d", n) }
func ownerOf(n int) string   { return fmt.Sprintf("Owner %d", n/4) }

// any is one of as many jobs as the smallest store has, spread over all of them.
func (c *crowd) any(n int) *flow.JobHead {
	return &c.heads[n%jobsPlanter*(len(c.heads)/jobsPlanter)]
}

func (c *crowd) open(n int) error { return c.openJob(c.any(n).JobKey) }

// openAnew opens another job at each n, without order.
func (c *crowd) openAnew(n int) error { return c.openJob(c.heads[n*7919%len(c.heads)].JobKey) }

func (c *crowd) openJob(key flow.JobKey) error {
	return c.Read(context.Background(), func(v flow.View) error {
		if _, err := v.Job(key); err != nil {
			return err
		}
		events, err := v.Events(key, 0, eventsAJob)
		return wantMany(len(events), eventsAJob, err)
	})
}

func wantMany(got, want int, err error) error {
	if err == nil && got != want {
		err = fmt.Errorf("got %d, want %d", got, want)
	}
	return err
}

func (c *crowd) listPlanters(q flow.Query, want int) error {
	return c.Read(context.Background(), func(v flow.View) error {
		got, err := v.Planters("north", q)
		return wantMany(len(got), want, err)
	})
}

// planters asks for one a page: the small store has only one.
func (c *crowd) planters(n int) error { return c.listPlanters(flow.Query{Limit: 1}, 1) }

func (c *crowd) byOwner(n int) error {
	return c.listPlanters(flow.Query{Limit: 1, Equal: map[string]string{"owner": ownerOf(n % c.count), "displayName": "Planter"}}, 1)
}

func (c *crowd) byExternalID(n int) error {
	return c.listPlanters(flow.Query{Limit: 1, Equal: map[string]string{"externalIds.erp": planterID(n % c.count)}}, 1)
}

func (c *crowd) listJobs(planter string, q flow.Query, want int) error {
	return c.Read(context.Background(), func(v flow.View) error {
		got, err := v.Jobs("north", planter, q)
		return wantMany(len(got), want, err)
	})
}

func (c *crowd) jobs(n int) error {
	return c.listJobs("", flow.Query{Limit: 10, After: c.any(0).Place()[:10]}, 10)
}

func (c *crowd) jobsOfPlanter(n int) error {
	return c.listJobs(c.any(n).Planter, flow.Query{Limit: 10, Equal: map[string]string{"stage": "1"}}, 10)
}

func (c *crowd) jobsByWorkOrder(n int) error {
	return c.listJobs(c.any(n).Planter, flow.Query{Limit: 1, Equal: map[string]string{"workOrder": c.any(n).WorkOrder}}, 1)
}

func (c *crowd) append(n int) error {
	head := c.any(n)
	head.Revision++
	return c.Write(context.Background(), func(t flow.Tx) error { return t.Append(*head, []job.Event{benchEvent(head.Revision)}) })
}
