package api

import (
	"cmp"
	"context"
	"time"

	lru "github.com/hashicorp/golang-lru/v2"
	"google.golang.org/grpc"

	pb "rowdatum/proto/gen/rowdatum/v1"
	"rowdatum/server/internal/flow"
	"rowdatum/server/leveling"
)

const (
	usualBeat = 15 * time.Second
	usualSlow = 10 * time.Second
)

// watch streams until the reader leaves, is too slow, or the service stops. The sender is a goroutine of
// its own, so that a reader who takes nothing can be cut off; it ends with the stream.
func (s *Jobs) watch(stream grpc.ServerStreamingServer[pb.WatchJobResponse], key flow.JobKey, after int) error {
	ctx, cancel := context.WithCancelCause(stream.Context())
	defer cancel(nil)
	ended := make(chan error, 1)
	slow := time.AfterFunc(time.Hour, func() { cancel(tooSlow()) })
	slow.Stop()
	send := func(m *pb.WatchJobResponse) error {
		slow.Reset(cmp.Or(s.Watch.Slow, usualSlow))
		defer slow.Stop()
		return stream.Send(m)
	}
	go func() {
		ended <- s.Flow.WatchJob(ctx, key, after,
			func() <-chan time.Time { return time.After(cmp.Or(s.Watch.Beat, usualBeat)) },
			func(news flow.Appended) error {
				m, err := s.said.message(news, after, languageOf(ctx))
				if err != nil {
					return err
				}
				after = news.Last()
				return send(m)
			},
			func() error { return send(&pb.WatchJobResponse{}) })
	}()
	select {
	case err := <-ended:
		return cmp.Or(own(context.Cause(ctx)), err)
	case <-ctx.Done():
		return context.Cause(ctx)
	case <-s.Stopping:
		return &leveling.Error{Kind: leveling.Unavailable, Reason: "STOPPING", Message: "The service is stopping. Connect again in a moment."}
	}
}

// own keeps an error of ours and drops the context's plain ones.
func own(err error) error {
	if e, ok := err.(*leveling.Error); ok {
		return e
	}
	return nil
}

func tooSlow() error {
	return &leveling.Error{Kind: leveling.TooLarge, Reason: "READER_TOO_SLOW",
		Message: "News were not taken in time. Connect again from the last revision that was seen."}
}

// watchProto has the job only where it has the last of the events: before them it would have to be folded from the first
// event again, for every reader.
func watchProto(news flow.Appended, l leveling.Language) (*pb.WatchJobResponse, error) {
	if news.More {
		events, err := happenedProto(news)
		return &pb.WatchJobResponse{Events: events}, err
	}
	done, err := appendedProto(news, l)
	if err != nil {
		return nil, err
	}
	return &pb.WatchJobResponse{Events: done.GetEvents(), Job: done.GetJob()}, nil
}

// said remembers what was last said of each job to those who watch it, so that hundreds are told in one message, which
// nobody changes.
type said struct{ jobs *lru.Cache[saidTo, saidLast] }

func newSaid() said {
	jobs, err := lru.New[saidTo, saidLast](mostSaid)
	if err != nil {
		panic(err) // only a size of none
	}
	return said{jobs}
}

type saidTo struct {
	job      flow.JobKey
	language leveling.Language
}

type saidLast struct {
	after, last int
	message     *pb.WatchJobResponse
}

// mostSaid is how many messages are kept, one a job and language: more jobs than many watch at once.
const mostSaid = 128

func (s said) message(news flow.Appended, after int, l leveling.Language) (*pb.WatchJobResponse, error) {
	to := saidTo{news.Head.JobKey, l}
	if last, ok := s.jobs.Get(to); ok && last.after == after && last.last == news.Last() {
		return last.message, nil
	}
	m, err := watchProto(news, l)
	if err == nil {
		s.jobs.Add(to, saidLast{after, news.Last(), m})
	}
	return m, err
}
