package api

import (
	"cmp"
	"context"
	"time"

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
				m, err := watchProto(news, languageOf(ctx))
				if err != nil {
					return err
				}
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

func watchProto(news flow.Appended, l leveling.Language) (*pb.WatchJobResponse, error) {
	done, err := appendedProto(news, l)
	if err != nil {
		return nil, err
	}
	return &pb.WatchJobResponse{Events: done.GetEvents(), Job: done.GetJob()}, nil
}
