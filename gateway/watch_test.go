package gateway

import (
	"bufio"
	"context"
	"encoding/json"
	"fmt"
	"net"
	"net/http"
	"net/http/httptest"
	"slices"
	"strings"
	"sync/atomic"
	"testing"
	"time"

	"google.golang.org/genproto/googleapis/rpc/errdetails"
	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/metadata"
	"google.golang.org/grpc/status"

	pb "rowdatum/proto/gen/rowdatum/v1"
)

const watchPath = "/v1/planters/p/jobs/j:watch"

// happened is a message of a watch with one event.
func happened(revision int32) *pb.WatchJobResponse {
	return &pb.WatchJobResponse{Job: &pb.Job{Revision: revision}, Events: []*pb.JobEvent{{Revision: revision, Event: &pb.JobEvent_Note{Note: &pb.Note{Text: "line one\nline two"}}}}}
}

// history streams revisions up to last, then ends with err, or stays until the caller leaves.
func history(last int32, err error) func(*pb.WatchJobRequest, pb.JobService_WatchJobServer) error {
	return func(req *pb.WatchJobRequest, stream pb.JobService_WatchJobServer) error {
		_ = stream.SendHeader(nil)
		for n := req.GetAfterRevision() + 1; n <= last; n++ {
			if err := stream.Send(happened(n)); err != nil {
				return err
			}
		}
		if err == nil {
			<-stream.Context().Done()
			return stream.Context().Err()
		}
		return err
	}
}

// happening is what an EventSource hands to its page.
type happening struct{ kind, data, id string }

// eventSource reads a stream as the HTML standard has it (9.2.6, interpreting an event stream): fields by
// line, dispatched at an empty line, the last id kept.
type eventSource struct {
	lines    *bufio.Scanner
	lastID   string
	comments int
}

func (s *eventSource) next() (happening, bool) {
	var data []string
	kind := ""
	for s.lines.Scan() {
		line := s.lines.Text()
		if line == "" {
			if data == nil {
				kind = ""
				continue
			}
			if kind == "" {
				kind = "message"
			}
			return happening{kind, strings.Join(data, "\n"), s.lastID}, true
		}
		field, value, _ := strings.Cut(line, ":")
		value = strings.TrimPrefix(value, " ")
		switch field {
		case "":
			s.comments++
		case "data":
			data = append(data, value)
		case "event":
			kind = value
		case "id":
			s.lastID = value
		}
	}
	return happening{}, false
}

// listen opens a watch as a browser does; headers come in pairs.
func listen(t *testing.T, front *httptest.Server, path string, headers ...string) (*eventSource, *http.Response) {
	t.Helper()
	ctx, cancel := context.WithTimeout(context.Background(), 20*time.Second)
	req, err := http.NewRequestWithContext(ctx, "GET", front.URL+path, nil)
	if err != nil {
		t.Fatal(err)
	}
	for i := 0; i < len(headers); i += 2 {
		req.Header.Set(headers[i], headers[i+1])
	}
	resp, err := front.Client().Do(req)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { cancel(); resp.Body.Close() })
	return &eventSource{lines: bufio.NewScanner(resp.Body)}, resp
}

var asEvents = []string{"Accept", "text/event-stream"}

func TestWatchForABrowser(t *testing.T) {
	f := &fakeService{watch: history(3, nil)}
	front := serve(t, f, Options{})
	source, resp := listen(t, front, watchPath+"?afterRevision=1", append(asEvents, "Authorization", "Bearer k")...)
	for name, want := range map[string]string{"Content-Type": "text/event-stream", "X-Accel-Buffering": "no", "Cache-Control": "no-cache, no-transform"} {
		if resp.StatusCode != 200 || resp.Header.Get(name) != want {
			t.Errorf("%s: %s %q", resp.Status, name, resp.Header.Get(name))
		}
	}
	for _, id := range []string{"2", "3"} {
		got, _ := source.next()
		var data struct {
			Events []struct{ Note struct{ Text string } }
			Job    struct{ Revision int }
		}
		if err := json.Unmarshal([]byte(got.data), &data); err != nil || got.kind != "message" || got.id != id || fmt.Sprint(data.Job.Revision) != id || data.Events[0].Note.Text != "line one\nline two" {
			t.Errorf("%+v %v", got, err)
		}
	}
	if req := f.got.(*pb.WatchJobRequest); req.GetName() != "planters/p/jobs/j" || req.GetAfterRevision() != 1 || !slices.Equal(f.meta.Get("authorization"), []string{"Bearer k"}) || f.meta.Get("x-request-id") == nil {
		t.Errorf("arrived %v with %v", req, f.meta)
	}
	// The browser comes back with the id it saw last, and the address it had.
	again, _ := listen(t, front, watchPath+"?afterRevision=1", append(asEvents, "Last-Event-ID", source.lastID)...)
	f.watching(history(4, nil))
	third, _ := listen(t, front, watchPath+"?afterRevision=1", append(asEvents, "Last-Event-ID", source.lastID)...)
	if got, _ := third.next(); got.id != "4" || again.lastID != "" {
		t.Errorf("went on with %+v", got)
	}
}

func TestWatchForAProgram(t *testing.T) {
	info, _ := status.New(codes.ResourceExhausted, "The reader is too slow.").WithDetails(&errdetails.ErrorInfo{Reason: "READER_TOO_SLOW", Domain: "rowdatum"})
	f := &fakeService{watch: history(2, info.Err())}
	front := serve(t, f, Options{})
	got := send(t, front, "GET", watchPath, "")
	lines := strings.Split(strings.TrimSpace(got.text), "\n")
	if got.StatusCode != 200 || got.Header.Get("Content-Type") != "application/json" || len(lines) != 3 ||
		!strings.HasPrefix(lines[1], `{"result":{"events":[{"revision":2,`) || !strings.HasPrefix(lines[2], `{"error":{"code":8,"message":"The reader is too slow."`) {
		t.Errorf("%s\n%s", got.Status, got.text)
	}
	for _, line := range lines {
		if !json.Valid([]byte(line)) {
			t.Errorf("%q", line)
		}
	}
}

// TestWatchRefused has what goes wrong before the first event answered like any other call.
func TestWatchRefused(t *testing.T) {
	refusal := func(c codes.Code) error {
		s, _ := status.New(c, "There is no such job.").WithDetails(&errdetails.ErrorInfo{Reason: "TOLD", Domain: "rowdatum"})
		return s.Err()
	}
	for _, headers := range [][]string{nil, asEvents} {
		f := &fakeService{}
		front := serve(t, f, Options{Timeout: 100 * time.Millisecond})
		f.watching(func(*pb.WatchJobRequest, pb.JobService_WatchJobServer) error { return refusal(codes.NotFound) })
		if got := send(t, front, "GET", watchPath, "", headers...); got.StatusCode != 404 || got.problem(t).Details[0].Reason != "TOLD" {
			t.Errorf("%s %s", got.Status, got.text)
		}
		f.watching(func(*pb.WatchJobRequest, pb.JobService_WatchJobServer) error { return refusal(codes.Unauthenticated) })
		if got := send(t, front, "GET", watchPath, "", headers...); got.StatusCode != 401 || got.Header.Get("WWW-Authenticate") != "Bearer" {
			t.Errorf("%s %s", got.Status, got.text)
		}
		f.watching(func(_ *pb.WatchJobRequest, s pb.JobService_WatchJobServer) error { <-s.Context().Done(); return nil })
		if got := send(t, front, "GET", watchPath, "", headers...); got.StatusCode != 504 || got.problem(t).Code != int(codes.DeadlineExceeded) {
			t.Errorf("%s %s", got.Status, got.text)
		}
		f.watching(func(*pb.WatchJobRequest, pb.JobService_WatchJobServer) error { return nil })
		if got := send(t, front, "GET", watchPath, "", headers...); got.StatusCode != 204 {
			t.Errorf("nothing more to come: %s %s", got.Status, got.text)
		}
	}
	f := &fakeService{watch: history(1, nil)}
	front := serve(t, f, Options{})
	for _, last := range []string{"x", "1.5", "99999999999"} {
		got := send(t, front, "GET", watchPath, "", append(asEvents, "Last-Event-ID", last)...)
		if want := []string{"Last-Event-ID: must be the revision last seen, a whole number"}; got.StatusCode != 400 || !slices.Equal(got.problem(t).violations(), want) {
			t.Errorf("%s: %s %s", last, got.Status, got.text)
		}
	}
}

// TestWatchFailsLater has the error come as an event, in neutral words, and the last id kept.
func TestWatchFailsLater(t *testing.T) {
	f := &fakeService{watch: history(2, status.Error(codes.Unavailable, "transport: gone"))}
	front := serve(t, f, Options{})
	source, _ := listen(t, front, watchPath, asEvents...)
	var last happening
	for {
		got, ok := source.next()
		if !ok {
			break
		}
		last = got
	}
	var p problem
	if err := json.Unmarshal([]byte(last.data), &p); err != nil || last.kind != "error" || last.id != "2" || p.Code != int(codes.Unavailable) || p.Message != neutral[codes.Unavailable] {
		t.Errorf("%+v %v", last, err)
	}
}

// TestWatchHeartbeat has a quiet job: the head of the answer comes at once, and a comment whenever
// nothing was said for the time of a heartbeat, by the service's own quiet messages too.
func TestWatchHeartbeat(t *testing.T) {
	beat := make(chan struct{})
	f := &fakeService{watch: func(_ *pb.WatchJobRequest, s pb.JobService_WatchJobServer) error {
		_ = s.SendHeader(metadata.MD{})
		<-beat
		_ = s.Send(&pb.WatchJobResponse{})
		_ = s.Send(happened(1))
		<-s.Context().Done()
		return nil
	}}
	front := serve(t, f, Options{Heartbeat: 10 * time.Millisecond})
	source, resp := listen(t, front, watchPath, asEvents...) // returns with the head
	if resp.StatusCode != 200 {
		t.Fatal(resp.Status)
	}
	for range 4 { // the opening and three beats, each ended by an empty line
		if !source.lines.Scan() || source.lines.Text() != ":" || !source.lines.Scan() || source.lines.Text() != "" {
			t.Fatalf("no heartbeat: %q", source.lines.Text())
		}
	}
	close(beat)
	if got, ok := source.next(); !ok || got.id != "1" || source.comments == 0 {
		t.Errorf("%+v after %d comments", got, source.comments)
	}
}

// TestSlowReaderIsCutOff has a reader that takes nothing: the service's sending must come to a halt
// after what the connections hold, and then end.
func TestSlowReaderIsCutOff(t *testing.T) {
	var sent atomic.Int64
	ended := make(chan struct{})
	const size, most = 64 << 10, 64 << 20
	f := &fakeService{watch: func(_ *pb.WatchJobRequest, s pb.JobService_WatchJobServer) error {
		defer close(ended)
		text := strings.Repeat("a", size)
		for n := int32(1); sent.Load() < most; n++ {
			if err := s.Send(&pb.WatchJobResponse{Job: &pb.Job{Revision: n, WorkOrder: text}}); err != nil {
				return err
			}
			sent.Add(size)
		}
		return nil
	}}
	front := serve(t, f, Options{Timeout: 300 * time.Millisecond})
	conn, err := net.Dial("tcp", strings.TrimPrefix(front.URL, "http://"))
	if err != nil {
		t.Fatal(err)
	}
	defer conn.Close()
	fmt.Fprintf(conn, "GET %s HTTP/1.1\r\nHost: x\r\nAccept: text/event-stream\r\n\r\n", watchPath)
	select {
	case <-ended:
	case <-time.After(15 * time.Second):
		t.Fatal("the slow reader was not cut off")
	}
	if sent.Load() >= most {
		t.Errorf("the service was let send %d bytes that nobody read", sent.Load())
	}
}

// TestWatchEnds has both ends of a watch leave.
func TestWatchEnds(t *testing.T) {
	ended := make(chan struct{}, 1)
	f := &fakeService{}
	f.watch = func(req *pb.WatchJobRequest, s pb.JobService_WatchJobServer) error {
		err := history(1, nil)(req, s)
		ended <- struct{}{}
		return err
	}
	front := serve(t, f, Options{})

	source, resp := listen(t, front, watchPath, asEvents...)
	source.next()
	resp.Body.Close() // the client is gone
	select {
	case <-ended:
	case <-time.After(10 * time.Second):
		t.Fatal("the service still sends to a client that is gone")
	}

	source, _ = listen(t, front, watchPath, asEvents...)
	source.next()
	ctx, cancel := context.WithTimeout(context.Background(), 5*time.Second)
	defer cancel()
	if err := front.Config.Shutdown(ctx); err != nil { // the server is asked to stop
		t.Fatalf("watches hold the server open: %v", err)
	}
	if got, ok := source.next(); !ok || got.kind != "error" || !strings.Contains(got.data, `"code":14`) || !strings.Contains(got.data, "STOPPING") {
		t.Errorf("told %+v", got)
	}
}
