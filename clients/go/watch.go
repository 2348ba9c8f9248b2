package rowdatum

import (
	"context"
	"errors"
	"io"
	"iter"
	"time"

	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/status"

	rowdatumv1 "rowdatum/proto/gen/rowdatum/v1"
)

// maxSilence is three heartbeats of the service.
const maxSilence = 45 * time.Second

var errSilent = typed(status.Error(codes.Unavailable, "The service has fallen silent."))

// Watch follows a job from behind the revision after; 0 begins with its opening. It gives events as they happen, each batch
// with the job after it, and ends when the job is signed or voided. A connection that breaks is made anew and goes on behind
// the last event given, for as long as ctx lives; the first one must stand within Options.Patience. What ends it sooner is
// the last thing given, as an error.
func (c *Client) Watch(ctx context.Context, job string, after int32) iter.Seq2[*rowdatumv1.WatchJobResponse, error] {
	return func(yield func(*rowdatumv1.WatchJobResponse, error) bool) {
		w := &watch{client: c, job: job, after: after, yield: yield}
		if err := w.run(ctx); err != nil && !w.left {
			yield(nil, err)
		}
	}
}

type watch struct {
	client *Client
	job    string
	after  int32                  // the last revision received
	missed []*rowdatumv1.JobEvent // received, and the job after them is still to come
	yield  func(*rowdatumv1.WatchJobResponse, error) bool

	stood bool // a connection has brought something
	left  bool // the reader wants no more
}

func (w *watch) run(ctx context.Context) error {
	first, cancel := context.WithTimeout(ctx, w.client.patience)
	defer cancel()
	for pause := w.client.pause; ; pause = min(2*pause, maxPause) {
		began, err := w.once(ctx)
		switch {
		case err == nil:
			return nil
		case ctx.Err() != nil:
			return ctx.Err()
		case !passing(err):
			return err
		}
		if began {
			w.stood, pause = true, w.client.pause
		}
		until := ctx
		if !w.stood {
			until = first
		}
		if !rest(until, pause, err) {
			return err
		}
	}
}

// once follows the job over one connection. began says that the service took the call; no error, that nothing more comes.
func (w *watch) once(ctx context.Context) (began bool, err error) {
	ctx, cancel := context.WithCancelCause(ctx)
	defer cancel(nil)
	silence := time.AfterFunc(maxSilence, func() { cancel(errSilent) })
	defer silence.Stop()
	stream, err := w.client.Jobs.WatchJob(ctx, &rowdatumv1.WatchJobRequest{Name: w.job, AfterRevision: w.after})
	if err != nil {
		return false, typed(err)
	}
	for {
		message, err := stream.Recv()
		switch {
		case errors.Is(err, io.EOF):
			return began, nil
		case context.Cause(ctx) == errSilent:
			return began, errSilent
		case err != nil:
			return began, typed(err)
		}
		began = true
		silence.Stop() // the reader may take its time
		if !w.give(message) {
			return began, nil
		}
		silence.Reset(maxSilence)
	}
}

// give hands on what is new in a message; false: the watch is over.
func (w *watch) give(m *rowdatumv1.WatchJobResponse) bool {
	for _, event := range m.GetEvents() {
		if event.GetRevision() > w.after {
			w.missed, w.after = append(w.missed, event), event.GetRevision()
		}
	}
	if len(w.missed) == 0 || m.GetJob() == nil {
		return true
	}
	m.Events, w.missed = w.missed, nil
	if w.left = !w.yield(m, nil); w.left {
		return false
	}
	return m.GetJob().GetStage() == rowdatumv1.Job_OPEN
}
