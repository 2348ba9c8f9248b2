package main

import (
	"context"
	"math/rand/v2"
	"slices"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/status"
	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/types/known/timestamppb"

	pb "rowdatum/proto/gen/rowdatum/v1"
)

// entry is one write that somebody tried. Its stamp, the writer's own time, marks its events in the log.
type entry struct {
	job    string
	stamp  *timestamppb.Timestamp
	events int
	send   func(ctx context.Context, w way) (*pb.AppendResponse, error) // the same request every time
	learn  func(*pb.AppendResponse)                                     // what its writer knows from then on

	first *pb.AppendResponse // nil while nobody knows what became of it
}

// ledger is what the clients know of what they wrote: the truth that the service is held against.
type ledger struct {
	mu      sync.Mutex
	stamps  atomic.Int64
	entries []*entry
	logs    map[string][]*pb.JobEvent // each job's log as last verified
}

func newLedger() *ledger { return &ledger{logs: map[string][]*pb.JobEvent{}} }

func (l *ledger) add(e *entry) {
	l.mu.Lock()
	defer l.mu.Unlock()
	l.entries = append(l.entries, e)
}

// of returns the entries from an index on, those of one job or with "" of all.
func (l *ledger) of(job string, from int) (out []*entry) {
	l.mu.Lock()
	defer l.mu.Unlock()
	for _, e := range l.entries[from:] {
		if job == "" || e.job == job {
			out = append(out, e)
		}
	}
	return out
}

func (l *ledger) size() int {
	l.mu.Lock()
	defer l.mu.Unlock()
	return len(l.entries)
}

// rowsAWriter are each writer's own, so that writers never refuse each other's moves.
const rowsAWriter = 3

// writer appends to one job, one write after the other.
type writer struct {
	ledger *ledger
	rand   *rand.Rand
	job    string
	person string
	first  int32 // of its rows

	turns    [rowsAWriter]float64 // where its rows stand
	lastMove [rowsAWriter]int32
	notes    []int32 // that can be struck
	wrote    atomic.Int32
}

func newWriter(l *ledger, seed uint64, n int, job string) *writer {
	w := &writer{ledger: l, rand: rand.New(rand.NewPCG(seed, uint64(n))), job: job, person: ada, first: int32(n*rowsAWriter + 1)}
	if n%2 == 1 {
		w.person = ben
	}
	for i := range w.turns {
		w.turns[i] = 8
	}
	return w
}

// run writes until ctx ends or the service is gone. It returns what it never heard the end of.
func (w *writer) run(ctx context.Context, t *testing.T, through way) (unsure *entry) {
	for ctx.Err() == nil {
		e := w.next()
		w.ledger.add(e)
		answer, err := e.send(context.WithoutCancel(ctx), through)
		switch code := status.Code(err); {
		case err == nil:
			w.ledger.acknowledge(e, answer)
			w.wrote.Add(1)
		case code == codes.Unavailable || code == codes.Canceled:
			return e
		default:
			t.Errorf("%s: %v", through.name, err)
			return e
		}
	}
	return nil
}

func (l *ledger) acknowledge(e *entry, answer *pb.AppendResponse) {
	e.learn(answer)
	l.mu.Lock()
	defer l.mu.Unlock()
	e.first = answer
}

// next thinks of a write.
func (w *writer) next() *entry {
	i := w.rand.IntN(rowsAWriter)
	row := w.first + int32(i)
	id, at := newRequestID(), w.ledger.stamp()
	e := &entry{job: w.job, stamp: at, events: 1, learn: func(*pb.AppendResponse) {}}
	switch kind := w.rand.IntN(12); {
	case kind < 5:
		e.events = 1 + w.rand.IntN(3)
		req := &pb.AddReadingsRequest{Name: w.job, RequestId: id, Person: w.person, EventTime: at}
		for range e.events {
			req.Readings = append(req.Readings, inMM(row, w.lastMove[i], 48+float64(w.rand.IntN(64))/16)...)
		}
		e.send = func(ctx context.Context, v way) (*pb.AppendResponse, error) { return v.jobs().AddReadings(ctx, req) }
	case kind < 8:
		to := 2 + float64(w.rand.IntN(48))/4
		if to == w.turns[i] {
			to += 0.25
		}
		count := to - w.turns[i]
		req := &pb.AddMovesRequest{Name: w.job, RequestId: id, Person: w.person, EventTime: at,
			Moves: []*pb.MoveDone{{Row: row, SettingBefore: turns(w.turns[i]), Count: &count}}}
		e.send = func(ctx context.Context, v way) (*pb.AppendResponse, error) { return v.jobs().AddMoves(ctx, req) }
		e.learn = func(a *pb.AppendResponse) { w.turns[i], w.lastMove[i] = to, a.Events[0].Revision }
	case kind == 8:
		req := &pb.AddInspectionsRequest{Name: w.job, RequestId: id, Person: w.person, EventTime: at,
			Inspections: []*pb.Inspection{{Row: row, Point: "handle-play", Value: with(w.rand.Float64() * 3)}}}
		e.send = func(ctx context.Context, v way) (*pb.AppendResponse, error) { return v.jobs().AddInspections(ctx, req) }
	case kind == 9:
		req := &pb.ChangePartsRequest{Name: w.job, RequestId: id, Person: w.person, EventTime: at,
			PartChanges: []*pb.PartChange{{Row: row, Part: "bushing"}}}
		e.send = func(ctx context.Context, v way) (*pb.AppendResponse, error) { return v.jobs().ChangeParts(ctx, req) }
		e.learn = func(a *pb.AppendResponse) { w.lastMove[i] = a.Events[0].Revision }
	case kind == 10 && len(w.notes) > 0:
		note := w.notes[0]
		req := &pb.StrikeEventsRequest{Name: w.job, RequestId: id, Person: w.person, EventTime: at,
			Strikes: []*pb.Strike{{Revision: note, Reason: "wrong row"}}}
		e.send = func(ctx context.Context, v way) (*pb.AppendResponse, error) { return v.jobs().StrikeEvents(ctx, req) }
		e.learn = func(*pb.AppendResponse) { w.notes = w.notes[1:] }
	default:
		req := &pb.AddNotesRequest{Name: w.job, RequestId: id, Person: w.person, EventTime: at, Notes: []*pb.Note{{Row: row, Text: "looked at it"}}}
		e.send = func(ctx context.Context, v way) (*pb.AppendResponse, error) { return v.jobs().AddNotes(ctx, req) }
		e.learn = func(a *pb.AppendResponse) { w.notes = append(w.notes, a.Events[0].Revision) }
	}
	return e
}

// stamp is a moment that no other write has.
func (l *ledger) stamp() *timestamppb.Timestamp {
	return timestamppb.New(time.Date(2026, 4, 1, 8, 0, 0, int(l.stamps.Add(1))*1000, time.UTC))
}

// verify holds a job's log against the ledger: every acknowledged write is there, once, whole, in order
// and as it was acknowledged; of the others none or all is; revisions have no gaps; nothing that was there
// before is changed.
func (l *ledger) verify(t *testing.T, w way, job string) []*pb.JobEvent {
	t.Helper()
	events := allEvents(t, w, job)
	byStamp := map[int64][]*pb.JobEvent{}
	for i, e := range events {
		if e.Revision != int32(i+1) {
			t.Fatalf("%s: event %d has revision %d", job, i+1, e.Revision)
		}
		if e.EventTime != nil {
			key := e.EventTime.AsTime().UnixMicro()
			byStamp[key] = append(byStamp[key], e)
		}
	}
	if before := l.logs[job]; len(before) > len(events) || !sameEvents(before, events[:len(before)]) {
		t.Errorf("%s: what was in the log before has changed", job)
	}
	l.logs[job] = events
	for _, e := range l.of(job, 0) {
		key := e.stamp.AsTime().UnixMicro()
		found := byStamp[key]
		delete(byStamp, key)
		switch {
		case len(found) > 0 && (len(found) != e.events || found[len(found)-1].Revision-found[0].Revision != int32(e.events-1)):
			t.Errorf("%s: a write of %d events has %d in the log", job, e.events, len(found))
		case e.first != nil && !sameEvents(found, e.first.Events):
			t.Errorf("%s: acknowledged as %v, in the log %v", job, e.first.Events, found)
		}
	}
	for _, left := range byStamp {
		t.Errorf("%s: nobody wrote %v", job, left)
	}
	return events
}

// sameEvents compares events but for what strikes them: a later event may.
func sameEvents(a, b []*pb.JobEvent) bool {
	return slices.EqualFunc(a, b, func(x, y *pb.JobEvent) bool {
		if x.StruckBy != y.StruckBy {
			x, y = proto.CloneOf(x), proto.CloneOf(y)
			x.StruckBy, y.StruckBy = 0, 0
		}
		return proto.Equal(x, y)
	})
}

// repeat sends writes again, the other way where there is one: each gets its first answer, to the last
// figure of the state. One whose answer nobody heard is sent twice.
func (l *ledger) repeat(t *testing.T, ways [2]way, entries []*entry) {
	t.Helper()
	for i, e := range entries {
		if e.first == nil {
			l.acknowledge(e, must[*pb.AppendResponse](t)(e.send(t.Context(), ways[i%2])))
		}
		again, err := e.send(t.Context(), ways[(i+1)%2])
		if err != nil {
			t.Errorf("%s: sent again: %v", e.job, err)
		} else if !proto.Equal(again, e.first) {
			t.Errorf("%s: sent again, answered\n%v\nfirst\n%v", e.job, again, e.first)
		}
	}
}

// verifyState holds a job's state against its log and against what the writers know.
func verifyState(t *testing.T, w way, job string, events []*pb.JobEvent, writers []*writer) {
	t.Helper()
	got := must[*pb.Job](t)(w.jobs().GetJob(t.Context(), &pb.GetJobRequest{Name: job}))
	if int(got.Revision) != len(events) {
		t.Errorf("%s: revision %d, the log has %d events", job, got.Revision, len(events))
	}
	for _, x := range writers {
		for i := range rowsAWriter {
			row := got.State.Rows[int(x.first)+i-1]
			if at := row.Setting.GetFields()["turns"].GetNumberValue(); at != x.turns[i] || row.LastMove != x.lastMove[i] {
				t.Errorf("%s: row %d stands at %v since %d; its writer left it at %v since %d", job, row.Row, at, row.LastMove, x.turns[i], x.lastMove[i])
			}
		}
	}
}
