package faults

import (
	"errors"
	"fmt"
	"strings"
	"testing"

	"google.golang.org/genproto/googleapis/rpc/errdetails"
	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/status"
	"google.golang.org/protobuf/proto"

	pb "rowdatum/proto/gen/rowdatum/v1"
)

// TestHeld spoils a log in every way that the ledger must notice.
func TestHeld(t *testing.T) {
	l := &ledger{}
	log := []*pb.JobEvent{{Revision: 1}} // the opening
	for _, w := range []struct{ writer, events int }{{0, 1}, {1, 3}, {0, 2}, {1, 1}} {
		wr := &write{writer: w.writer, events: w.events, notes: &pb.AddNotesRequest{}}
		l.add(wr)
		for range w.events {
			log = append(log, &pb.JobEvent{Revision: int32(len(log) + 1), EventTime: wr.notes.GetEventTime(), Person: fmt.Sprint(len(log))})
		}
		l.acknowledge(wr, &pb.AppendResponse{Events: log[len(log)-w.events:]})
	}
	unanswered := &write{writer: 0, events: 2, notes: &pb.AddNotesRequest{}}
	l.add(unanswered)
	late := &pb.JobEvent{Revision: 9, EventTime: unanswered.notes.GetEventTime()}
	nobodys := &pb.JobEvent{Revision: 9, EventTime: late.GetEventTime()}
	nobodys.EventTime = proto.CloneOf(late.EventTime)
	nobodys.EventTime.Nanos += 999_000

	renumbered := func(log []*pb.JobEvent) []*pb.JobEvent {
		for i := range log {
			log[i].Revision = int32(i + 1)
		}
		return log
	}
	for _, c := range []struct {
		name  string
		spoil func([]*pb.JobEvent) []*pb.JobEvent
		want  verdict
	}{
		{"whole", func(log []*pb.JobEvent) []*pb.JobEvent { return log }, verdict{acknowledged: 7, found: 7}},
		{"an unanswered write was taken", func(log []*pb.JobEvent) []*pb.JobEvent {
			return append(log, late, &pb.JobEvent{Revision: 10, EventTime: late.GetEventTime()})
		}, verdict{acknowledged: 7, found: 7}},
		{"half of an unanswered write", func(log []*pb.JobEvent) []*pb.JobEvent { return append(log, late) }, verdict{acknowledged: 7, found: 7, strange: 1}},
		{"what nobody wrote", func(log []*pb.JobEvent) []*pb.JobEvent { return append(log, nobodys) }, verdict{acknowledged: 7, found: 7, strange: 1}},
		{"the last lost", func(log []*pb.JobEvent) []*pb.JobEvent { return log[:7] }, verdict{acknowledged: 7, found: 6, lost: 1}},
		{"one within lost", func(log []*pb.JobEvent) []*pb.JobEvent { return renumbered(append(log[:1], log[2:]...)) },
			verdict{acknowledged: 7, found: 0, lost: 1, twice: 6}},
		{"one twice", func(log []*pb.JobEvent) []*pb.JobEvent {
			again := proto.CloneOf(log[7])
			again.Revision = 9
			return append(log, again)
		}, verdict{acknowledged: 7, found: 6, twice: 1, strange: 1}},
		{"two in another order", func(log []*pb.JobEvent) []*pb.JobEvent {
			log[1].EventTime, log[7].EventTime = log[7].EventTime, log[1].EventTime
			return log
		}, verdict{acknowledged: 7, found: 5, twice: 2}},
		{"one changed", func(log []*pb.JobEvent) []*pb.JobEvent { log[3].Person = "Ben"; return log }, verdict{acknowledged: 7, found: 6, twice: 1}},
		{"a gap", func(log []*pb.JobEvent) []*pb.JobEvent { log[7].Revision = 9; return log }, verdict{acknowledged: 7, found: 6, twice: 1, strange: 1}},
	} {
		copied := make([]*pb.JobEvent, len(log))
		for i, e := range log {
			copied[i] = proto.CloneOf(e)
		}
		got := l.held(c.spoil(copied))
		if got != c.want {
			t.Errorf("%s: %+v, want %+v", c.name, got, c.want)
		}
		if whole := c.want == (verdict{acknowledged: 7, found: 7}); (got.ratio() == 1) != whole {
			t.Errorf("%s: ratio %v", c.name, got.ratio())
		}
	}
}

// TestTold: a follower who misses an event, or hears one twice, is found out.
func TestTold(t *testing.T) {
	log := []*pb.JobEvent{{Revision: 1}, {Revision: 2}, {Revision: 3}}
	for name, c := range map[string]struct {
		got  []*pb.JobEvent
		want int
	}{
		"all": {log, 3}, "one missed": {[]*pb.JobEvent{log[0], log[2]}, 1}, "one twice": {[]*pb.JobEvent{log[0], log[1], log[1], log[2]}, 1},
		"the last twice": {[]*pb.JobEvent{log[0], log[1], log[2], log[2]}, 2}, "none": {nil, 0},
	} {
		f := &follower{got: c.got}
		if n := f.told(log); n != c.want {
			t.Errorf("%s: %d, want %d", name, n, c.want)
		}
	}
}

func TestNamed(t *testing.T) {
	full, err := status.New(codes.Unavailable, "full").WithDetails(&errdetails.ErrorInfo{Reason: "STORE_FULL"})
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		err     error
		name    string
		passing bool
	}{
		{full.Err(), "UNAVAILABLE STORE_FULL", true},
		{status.Error(codes.Unavailable, "connection refused"), noAnswer, true},
		{errors.New("EOF"), noAnswer, true},
		{status.Error(codes.Internal, "panic"), "INTERNAL", false},
		{status.Error(codes.DeadlineExceeded, "late"), "DEADLINE_EXCEEDED", false},
	} {
		if name, passing := named(c.err); name != c.name || passing != c.passing {
			t.Errorf("%v: %s, %t", c.err, name, passing)
		}
	}
}

// TestReadEvents reads server-sent events as the service writes them.
func TestReadEvents(t *testing.T) {
	var got []int32
	err := readEvents(strings.NewReader(":\n\nid: 2\ndata: {\"events\":[{\"revision\":1},{\"revision\":2}]}\n\n:\n\nevent: error\ndata: {\"code\":14,\"message\":\"Stopping.\"}\n\n"),
		func(news *pb.WatchJobResponse) {
			for _, e := range news.GetEvents() {
				got = append(got, e.GetRevision())
			}
		})
	if len(got) != 2 || status.Code(err) != codes.Unavailable {
		t.Errorf("got %v, %v", got, err)
	}
	if err := readEvents(strings.NewReader("id: 2\ndata: {\"ev"), nil); err == nil {
		t.Error("a stream that is cut off has no end of its own")
	}
}
