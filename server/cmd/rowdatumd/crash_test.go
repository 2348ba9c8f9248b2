package main

import (
	"context"
	"fmt"
	"math/rand/v2"
	"os"
	"strconv"
	"sync"
	"testing"
	"time"

	pb "rowdatum/proto/gen/rowdatum/v1"
)

const (
	crashWriters = 4
	roundsAJob   = 5  // then a new job: a log of thousands of events is no job
	repeatsMost  = 50 // of a round's acknowledged writes
	longestRound = 400 * time.Millisecond
)

// crashRounds is how often the service is killed: ROWDATUM_CRASH_ROUNDS, or a few times.
func crashRounds(t *testing.T) int {
	words := os.Getenv("ROWDATUM_CRASH_ROUNDS")
	if words == "" {
		return 4
	}
	n, err := strconv.Atoi(words)
	if err != nil || n < 1 {
		t.Fatalf("ROWDATUM_CRASH_ROUNDS is %q", words)
	}
	return n
}

// TestCrash kills the real service hard at random moments while clients append through both ways, and
// starts it again on the same store.
func TestCrash(t *testing.T) {
	onEveryStore(t, func(t *testing.T, store string) {
		t.Parallel()
		c := &crash{store: store, ledger: newLedger(), seed: uint64(time.Now().UnixNano())}
		c.rand = rand.New(rand.NewPCG(c.seed, 0))
		c.run(t, crashRounds(t))
	})
}

type crash struct {
	store   string
	seed    uint64
	rand    *rand.Rand
	ledger  *ledger
	service *process
	jobs    []string
	writers []*writer // of the last job
	taken   int       // writes that were cut off unanswered and in the log all the same
}

func (c *crash) run(t *testing.T, rounds int) {
	c.service = launch(t, c.store)
	ctx := t.Context()
	must[*pb.Planter](t)(c.service.ways[0].planters().CreatePlanter(ctx, &pb.CreatePlanterRequest{Planter: handles(crashWriters * rowsAWriter), PlanterId: "p"}))
	unsure, killedAtStart := 0, 0
	for round := range rounds {
		if round%roundsAJob == 0 {
			c.newJob(t)
		}
		from := c.ledger.size()
		unsure += c.killUnderLoad(t)
		for c.rand.IntN(3) == 0 {
			killedAtStart++
			p := begin(t, c.store)
			time.Sleep(time.Duration(c.rand.Int64N(int64(longestRound))))
			p.kill()
		}
		c.service = launch(t, c.store)
		c.check(t, from)
		if t.Failed() {
			t.Fatalf("round %d", round+1)
		}
	}
	for _, job := range c.jobs {
		c.ledger.verify(t, c.service.ways[1], job)
	}
	t.Logf("%d rounds, %d writes in %d jobs; %d were cut off unanswered, %d of those had been taken; killed %d times more while starting",
		rounds, c.ledger.size(), len(c.jobs), unsure, c.taken, killedAtStart)
}

func (c *crash) newJob(t *testing.T) {
	job := must[*pb.Job](t)(c.service.ways[len(c.jobs)%2].jobs().CreateJob(t.Context(),
		&pb.CreateJobRequest{Parent: "planters/p", Job: &pb.Job{}, JobId: fmt.Sprint("job-", len(c.jobs)), RequestId: newRequestID()}))
	c.jobs, c.writers = append(c.jobs, job.Name), nil
	for n := range crashWriters {
		c.writers = append(c.writers, newWriter(c.ledger, c.seed+uint64(len(c.jobs)), n, job.Name))
	}
}

// killUnderLoad returns how many writes were cut off.
func (c *crash) killUnderLoad(t *testing.T) (unsure int) {
	var wait sync.WaitGroup
	left := make([]*entry, len(c.writers))
	ctx, cancel := context.WithCancel(t.Context())
	defer cancel()
	for i, w := range c.writers {
		wait.Go(func() { left[i] = w.run(ctx, t, c.service.ways[i%2]) })
	}
	time.Sleep(time.Duration(c.rand.Int64N(int64(longestRound))))
	c.service.kill()
	wait.Wait()
	for _, e := range left {
		if e == nil {
			t.Error("a writer heard nothing of the service's end")
		} else {
			unsure++
		}
	}
	return unsure
}

// check verifies the last job, sends the round's writes again, and verifies once more.
func (c *crash) check(t *testing.T, from int) {
	job, way := c.jobs[len(c.jobs)-1], c.service.ways[c.rand.IntN(2)]
	before := len(c.ledger.verify(t, way, job))
	var again []*entry
	missing, present := 0, c.stamped(job)
	tried := c.ledger.of("", from)
	for _, e := range tried {
		switch {
		case e.first == nil && present[e.stamp.AsTime().UnixMicro()]:
			c.taken++
		case e.first == nil:
			missing += e.events
		}
		if e.first == nil || c.rand.IntN(1+len(tried)/repeatsMost) == 0 {
			again = append(again, e)
		}
	}
	c.ledger.repeat(t, c.service.ways, again)
	events := c.ledger.verify(t, way, job)
	if len(events) != before+missing {
		t.Errorf("%s has %d events after the repeats, want %d and the %d that had not been taken", job, len(events), before, missing)
	}
	verifyState(t, way, job, events, c.writers)
}

// stamped tells which stamps are in a job's log as last verified.
func (c *crash) stamped(job string) map[int64]bool {
	out := map[int64]bool{}
	for _, e := range c.ledger.logs[job] {
		if e.EventTime != nil {
			out[e.EventTime.AsTime().UnixMicro()] = true
		}
	}
	return out
}
