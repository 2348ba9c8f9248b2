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
// with many over that with few, in alternated runs.
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
		{"planters", (*crowd).planters},
		{"byOwner", (*crowd).byOwner},
		{"byExternalID", (*crowd).byExternalID},
		{"jobs", (*crowd).jobs},
		{"jobsOfPlanter", (*crowd).jobsOfPlanter},
		{"jobsByWorkOrder", (*crowd).jobsByWorkOrder},
		{"appending", (*crowd).append},
	} {
		b.Run(c.name, func(b *testing.B) {
			var ratios []float64
			run := func(n int) {
				took := map[*crowd]time.Duration{}
				for _, one := range []*crowd{few, many} {
					var all []float64
					for i := range 40 {
						start := time.Now()
						if err := c.do(one, n*40+i); err != nil {
							b.Fatal(err)
						}
						all = append(all, time.Since(start).Seconds())
					}
					took[one] = time.Duration(median(all) * float64(time.Second))
				}
				ratios = append(ratios, took[many].Seconds()/took[few].Seconds())
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

// any is a job that is another one at each n, without order.
func (c *crowd) any(n int) *flow.JobHead { return &c.heads[n*7919%len(c.heads)] }

func (c *crowd) open(n int) error {
	return c.Read(context.Background(), func(v flow.View) error {
		if _, err := v.Job(c.any(n).JobKey); err != nil {
			return err
		}
		events, err := v.Events(c.any(n).JobKey, 0, eventsAJob)
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
