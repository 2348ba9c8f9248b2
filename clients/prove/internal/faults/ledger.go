package faults

import (
	"sync"
	"time"

	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/types/known/timestamppb"

	pb "rowdatum/proto/gen/rowdatum/v1"
)

// write is one append that a client asks for, with one request id, until it is answered. Its stamp, which no other has,
// marks its events in the log.
type write struct {
	writer   int
	stamp    time.Time
	events   int
	notes    *pb.AddNotesRequest // one of these two
	readings *pb.AddReadingsRequest

	answer []*pb.JobEvent // empty while nobody knows what became of it
}

// ledger is what the clients of one job know of what they wrote: the truth that the service is held against.
type ledger struct {
	job    string
	mu     sync.Mutex
	writes []*write
}

// add takes a write and stamps it.
func (l *ledger) add(w *write) {
	l.mu.Lock()
	defer l.mu.Unlock()
	l.writes = append(l.writes, w)
	w.stamp = time.Date(2026, 4, 1, 8, 0, 0, len(l.writes)*1000, time.UTC)
	at := timestamppb.New(w.stamp)
	if w.notes != nil {
		w.notes.EventTime = at
		return
	}
	w.readings.EventTime = at
}

func (l *ledger) acknowledge(w *write, answer *pb.AppendResponse) {
	l.mu.Lock()
	defer l.mu.Unlock()
	w.answer = answer.GetEvents()
}

// verdict is what became of acknowledged events.
type verdict struct {
	acknowledged int
	found        int // once, in their place, as they were acknowledged
	lost         int // not in the log at all
	twice        int // in it, and not as they were acknowledged
	strange      int // events of the log that nobody wrote, or half of a write
}

func (v *verdict) add(w verdict) {
	v.acknowledged += w.acknowledged
	v.found += w.found
	v.lost += w.lost
	v.twice += w.twice
	v.strange += w.strange
}

// ratio is the part of what was acknowledged that is as it must be.
func (v verdict) ratio() float64 { return float64(v.found) / float64(v.acknowledged+v.strange) }

// held holds a job's log, all its events, against the ledger.
func (l *ledger) held(log []*pb.JobEvent) (v verdict) {
	l.mu.Lock()
	defer l.mu.Unlock()
	byStamp := map[int64]int{}
	for i, event := range log {
		if event.GetEventTime() != nil {
			byStamp[event.GetEventTime().AsTime().UnixMicro()]++
		}
		if event.GetRevision() != int32(i+1) {
			v.strange++
		}
	}
	last := map[int]int32{} // revision by writer: each wrote one after the other
	for _, w := range l.writes {
		key := w.stamp.UnixMicro()
		there := byStamp[key]
		delete(byStamp, key)
		if there != 0 && there != w.events {
			v.strange++
		}
		for _, event := range w.answer {
			v.acknowledged++
			at := int(event.GetRevision()) - 1
			switch {
			case there == 0:
				v.lost++
			case there != w.events || at >= len(log) || event.GetRevision() <= last[w.writer] || !proto.Equal(log[at], event):
				v.twice++
			default:
				v.found++
			}
			last[w.writer] = event.GetRevision()
		}
	}
	for _, nobodys := range byStamp {
		v.strange += nobodys
	}
	return v
}
