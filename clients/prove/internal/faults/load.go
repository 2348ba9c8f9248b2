package faults

import (
	"context"
	mathrand "math/rand/v2"
	"slices"
	"sync"
	"sync/atomic"
	"time"

	"rowdatum/clients/internal/requestid"
	pb "rowdatum/proto/gen/rowdatum/v1"
)

// The steady load of a scene.
const (
	writers     = 4
	betweenMost = 20 * time.Millisecond // between an answer and the writer's next write, at random
	againFirst  = 20 * time.Millisecond // before a write is sent again; doubling
	againMost   = 250 * time.Millisecond
	healMost    = 45 * time.Second // for all to work again once a fault is over
	catchUpMost = 40 * time.Second // for followers to have the whole log: a database's words may be lost for 30 s
)

// load is clients at work on one job: half of them over each way, and one follower a way.
type load struct {
	scene     *scene
	ledger    *ledger
	writers   []*writer
	followers []*follower

	stopWriting, stopFollowing context.CancelFunc
	writing, following         sync.WaitGroup
}

// begin opens a job and sets clients to work on it.
func (s *scene) begin(ctx context.Context, o *outcome) (*load, error) {
	job, err := s.newJob(ctx, s.planter)
	if err != nil {
		return nil, err
	}
	l := &load{scene: s, ledger: &ledger{job: job}}
	var write, follow context.Context
	write, l.stopWriting = context.WithCancel(ctx)
	follow, l.stopFollowing = context.WithCancel(ctx)
	for n := range writers {
		w := &writer{n: n, way: s.ways[n%2], ledger: l.ledger, seen: &o.seen, rand: mathrand.New(mathrand.NewPCG(uint64(n), uint64(o.times)))}
		l.writers = append(l.writers, w)
		l.writing.Go(func() { w.run(write) })
	}
	for _, way := range s.ways {
		f := &follower{way: way, job: job, seen: &o.watches}
		l.followers = append(l.followers, f)
		l.following.Go(func() { f.run(follow) })
	}
	return l, nil
}

// healed waits until every writer was answered what it asked after a moment, and tells how long after that it was.
func (l *load) healed(ctx context.Context, after time.Time) (time.Duration, bool) {
	for end := time.Now().Add(healMost); time.Now().Before(end) && ctx.Err() == nil; sleep(ctx, 5*time.Millisecond) {
		last, all := time.Time{}, true
		for _, w := range l.writers {
			answered := w.answered.after(after, 1)
			all = all && !answered.IsZero()
			if answered.After(last) {
				last = answered
			}
		}
		if all {
			return last.Sub(after), true
		}
	}
	return 0, false
}

// end stops the clients and looks for what was acknowledged to them.
func (l *load) end(ctx context.Context, o *outcome) error {
	l.stopWriting()
	l.writing.Wait()
	defer func() {
		l.stopFollowing()
		l.following.Wait()
	}()
	log, err := l.scene.log(ctx, l.ledger.job)
	if err != nil {
		return err
	}
	for _, w := range l.writers {
		o.repeated += w.repeated
	}
	o.verdict.add(l.ledger.held(log))
	for _, f := range l.followers {
		for end := time.Now().Add(catchUpMost); f.last() < int32(len(log)) && time.Now().Before(end); {
			sleep(ctx, 10*time.Millisecond)
		}
		o.toTell += len(log)
		o.told += f.told(log)
	}
	return nil
}

// abandon stops the clients where nothing more is to be learned.
func (l *load) abandon() {
	l.stopWriting()
	l.stopFollowing()
	l.writing.Wait()
	l.following.Wait()
}

// writer appends to a job, one write after the other, and sends each again until it is answered.
type writer struct {
	n      int
	way    way
	ledger *ledger
	seen   *seen
	rand   *mathrand.Rand

	repeated int // writes that were sent more than once

	answered spans
}

// spans are the attempts that were answered.
type spans struct {
	mu  sync.Mutex
	all []span
}

// span is an answered attempt.
type span struct{ asked, answered time.Time }

func (s *spans) note(asked time.Time) {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.all = append(s.all, span{asked, time.Now()})
}

// after is when what was asked after a moment was answered so often; zero: not yet.
func (s *spans) after(moment time.Time, times int) time.Time {
	s.mu.Lock()
	defer s.mu.Unlock()
	i, _ := slices.BinarySearchFunc(s.all, moment, func(s span, moment time.Time) int { return s.asked.Compare(moment) })
	if i+times > len(s.all) {
		return time.Time{}
	}
	return s.all[i+times-1].answered
}

func (w *writer) run(ctx context.Context) {
	for ctx.Err() == nil {
		wr := w.next()
		w.ledger.add(wr)
		w.send(ctx, wr)
		sleep(ctx, mathrand.N(betweenMost))
	}
}

// send asks until there is an answer, or ctx ends.
func (w *writer) send(ctx context.Context, wr *write) {
	for pause, attempt := againFirst, 1; ; pause, attempt = min(2*pause, againMost), attempt+1 {
		if attempt == 2 {
			w.repeated++
		}
		asked := time.Now()
		call, cancel := context.WithTimeout(context.WithoutCancel(ctx), maxCall)
		answer, err := w.way.append(call, wr)
		cancel()
		if err == nil {
			w.ledger.acknowledge(wr, answer)
			w.answered.note(asked)
			return
		}
		w.seen.add(err)
		if ctx.Err() != nil {
			return
		}
		sleep(ctx, pause)
	}
}

// next thinks of a write: a note, or up to three readings of one of its own rows.
func (w *writer) next() *write {
	row := int32(1 + w.n*planterRows/writers + w.rand.IntN(planterRows/writers))
	id := requestid.New()
	if w.rand.IntN(2) == 0 {
		return &write{writer: w.n, events: 1, notes: &pb.AddNotesRequest{Name: w.ledger.job, RequestId: id, Person: "Ada", Notes: []*pb.Note{{Row: row, Text: "looked at it"}}}}
	}
	out := &write{writer: w.n, readings: &pb.AddReadingsRequest{Name: w.ledger.job, RequestId: id, Person: "Ben"}}
	for range 1 + w.rand.IntN(3) {
		out.events++
		out.readings.Readings = append(out.readings.Readings, &pb.Reading{Row: row, Value: new(48 + float64(w.rand.IntN(64))/16), Unit: pb.LengthUnit_MM})
	}
	return out
}

// caller asks one thing after another beside the writers, to see whether it goes on while a fault lasts.
type caller struct {
	must string // what must hold, for the table
	ask  func(ctx context.Context, n int64) error

	asked, good atomic.Int64
	longest     atomic.Int64 // nanoseconds of one call
	seen        seen
	answered    spans
}

const betweenCalls = 10 * time.Millisecond

func (c *caller) run(ctx context.Context) {
	for n := int64(1); ctx.Err() == nil; n++ {
		begun := time.Now()
		call, cancel := context.WithTimeout(context.WithoutCancel(ctx), maxCall)
		err := c.ask(call, n)
		cancel()
		c.asked.Add(1)
		if err == nil {
			c.good.Add(1)
			c.answered.note(begun)
		} else {
			c.seen.add(err)
		}
		c.longest.Store(max(c.longest.Load(), int64(time.Since(begun))))
		sleep(ctx, betweenCalls)
	}
}

// beside runs callers until end is called.
func beside(ctx context.Context, callers ...*caller) (end func()) {
	ctx, cancel := context.WithCancel(ctx)
	var working sync.WaitGroup
	for _, c := range callers {
		working.Go(func() { c.run(ctx) })
	}
	return func() {
		cancel()
		working.Wait()
	}
}
