package gateway

import (
	"context"
	"errors"
	"fmt"
	"io"
	"net"
	"net/http"
	"strconv"
	"strings"
	"time"

	"github.com/grpc-ecosystem/grpc-gateway/v2/runtime"
	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/status"

	"rowdatum/gateway/internal/strictjson"
	pb "rowdatum/proto/gen/rowdatum/v1"
)

const lastEventHeader = "Last-Event-ID"

// watch answers WatchJob: a line of JSON a message, or server-sent events where the caller accepts them,
// as a browser's EventSource does. It holds one message at a time: who reads too slowly stops the service
// from sending, and is cut off once one message has taken the time of a call.
func (g *gateway) watch(w http.ResponseWriter, r *http.Request, params map[string]string) {
	out := g.newFeed(w, r)
	req, f := watchRequest(r, params, out.events)
	if f != nil {
		writeFault(w, f)
		return
	}
	ctx, cancel := context.WithCancel(r.Context())
	stream, err := g.openWatch(ctx, cancel, r, req)
	switch {
	case errors.Is(err, io.EOF): // nothing more will come; 204 keeps an EventSource from asking again
		w.WriteHeader(http.StatusNoContent)
	case err != nil:
		g.serviceError(ctx, nil, nil, w, r, err)
	}
	if err != nil {
		cancel()
		return
	}
	arrivals, done := make(chan arrival), make(chan struct{})
	go func() { receive(ctx, stream, arrivals); close(done) }()
	defer func() { cancel(); <-done }()
	if err := out.forward(r, arrivals, g.Heartbeat); err != nil && r.Context().Err() == nil {
		callOf(ctx).cause = err
	}
}

func watchRequest(r *http.Request, params map[string]string, events bool) (*pb.WatchJobRequest, *fault) {
	req := &pb.WatchJobRequest{Name: params["name"]}
	query := r.URL.Query() // checked
	after, field := query.Get("afterRevision")+query.Get("after_revision"), "afterRevision"
	if last := r.Header.Get(lastEventHeader); events && last != "" { // newer than the address, which stays as it was
		after, field = last, lastEventHeader
	}
	if after == "" {
		return req, nil
	}
	n, err := strconv.ParseInt(after, 10, 32)
	if err != nil {
		return nil, invalid([]strictjson.Violation{{Field: field, Message: "must be the revision last seen, a whole number"}})
	}
	req.AfterRevision = int32(n)
	return req, nil
}

// openWatch returns once the service has taken the call, or said why not; io.EOF where it ended at once.
func (g *gateway) openWatch(ctx context.Context, cancel func(), r *http.Request, req *pb.WatchJobRequest) (pb.JobService_WatchJobClient, error) {
	ctx, err := runtime.AnnotateContext(ctx, g.api, r, pb.JobService_WatchJob_FullMethodName)
	if err != nil {
		return nil, err
	}
	late := time.AfterFunc(g.Timeout, cancel)
	stream, err := g.jobs.WatchJob(ctx, req)
	if err == nil {
		header, refused := stream.Header()
		if err = refused; err == nil && header == nil { // it ended without a beginning
			_, err = stream.Recv()
		}
	}
	if !late.Stop() && r.Context().Err() == nil {
		err = status.FromContextError(context.DeadlineExceeded).Err()
	}
	return stream, err
}

// arrival is what one receiving gave.
type arrival struct {
	message *pb.WatchJobResponse
	err     error
}

func receive(ctx context.Context, stream pb.JobService_WatchJobClient, to chan<- arrival) {
	for {
		message, err := stream.Recv()
		select {
		case to <- arrival{message, err}:
		case <-ctx.Done():
			return
		}
		if err != nil {
			return
		}
	}
}

// feed writes a watch.
type feed struct {
	http.ResponseWriter
	events  bool // server-sent events, not lines
	timeout time.Duration
}

func (g *gateway) newFeed(w http.ResponseWriter, r *http.Request) *feed {
	return &feed{ResponseWriter: w, events: strings.Contains(r.Header.Get("Accept"), "text/event-stream"), timeout: g.Timeout}
}

// forward writes what arrives until it ends, the reader is gone or too slow, or the server stops.
func (f *feed) forward(r *http.Request, arrivals <-chan arrival, heartbeat time.Duration) error {
	// The last bytes of the answer are written after this function, and not for ever either.
	defer func() { _ = http.NewResponseController(f.ResponseWriter).SetWriteDeadline(time.Now().Add(f.timeout)) }()
	if err := f.begin(); err != nil {
		return err
	}
	for {
		var chunk net.Buffers
		var end error
		select {
		case a := <-arrivals:
			if end = a.err; end == nil {
				chunk, end = f.message(a.message)
			}
		case <-time.After(heartbeat):
			chunk = f.heartbeat()
		case <-stopping(r):
			end = errStopping
		case <-r.Context().Done():
			return nil
		}
		if errors.Is(end, io.EOF) {
			return nil
		}
		if end != nil {
			chunk = f.fault(end)
		}
		if err := f.write(chunk); err != nil {
			return fmt.Errorf("the reader is gone or too slow: %w", err)
		}
		if end != nil {
			return end
		}
	}
}

var errStopping = status.ErrorProto(newFault(http.StatusServiceUnavailable, codes.Unavailable, "STOPPING",
	"The service is stopping. Connect again in a moment.").status)

// begin lets the caller know at once that the watch stands.
func (f *feed) begin() error {
	h := f.Header()
	h.Set("Content-Type", "application/json")
	h.Set("Cache-Control", "no-cache, no-transform")
	h.Set("X-Accel-Buffering", "no") // the word for "do not hold this back" to some proxies
	h.Add("Vary", "Accept")
	if f.events {
		h.Set("Content-Type", "text/event-stream")
	}
	f.WriteHeader(http.StatusOK)
	return f.write(f.heartbeat())
}

func (f *feed) message(m *pb.WatchJobResponse) (net.Buffers, error) {
	text, err := newMarshaler().Marshal(m)
	switch {
	case err != nil:
		return nil, err
	case !f.events:
		return frame(`{"result":`, text, "}\n"), nil
	case len(m.GetEvents()) == 0 && m.GetJob() == nil:
		return f.heartbeat(), nil
	}
	return frame(fmt.Sprintf("id: %d\ndata: ", revision(m)), text, "\n\n"), nil
}

// revision is where to go on after m.
func revision(m *pb.WatchJobResponse) int32 {
	if events := m.GetEvents(); len(events) > 0 {
		return events[len(events)-1].GetRevision()
	}
	return m.GetJob().GetRevision()
}

// heartbeat is nothing in lines, which the service's own messages keep alive.
func (f *feed) heartbeat() net.Buffers {
	if f.events {
		return net.Buffers{[]byte(":\n\n")}
	}
	return nil
}

func (f *feed) fault(err error) net.Buffers {
	text := faultOf(err).json()
	if f.events {
		return frame("event: error\ndata: ", text, "\n\n")
	}
	return frame(`{"error":`, text, "}\n")
}

// frame is a text with what goes around it; the text, which may be large, is not copied.
func frame(before string, text []byte, after string) net.Buffers {
	return net.Buffers{[]byte(before), text, []byte(after)}
}

// write sends chunk on its way within the time of a call; between chunks there is no limit.
func (f *feed) write(chunk net.Buffers) error {
	control := http.NewResponseController(f.ResponseWriter)
	_ = control.SetWriteDeadline(time.Now().Add(f.timeout)) // not every writer has one
	if _, err := chunk.WriteTo(f); err != nil {
		return err
	}
	if err := control.Flush(); err != nil {
		return err
	}
	_ = control.SetWriteDeadline(time.Time{})
	return nil
}
