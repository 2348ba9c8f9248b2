package main

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"io"
	"net"
	"net/http"
	"path/filepath"
	"strconv"
	"strings"
	"sync"
	"testing"
	"time"

	"go.uber.org/zap"
	"go.uber.org/zap/zaptest"
	"google.golang.org/grpc"
	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/credentials/insecure"
	"google.golang.org/protobuf/encoding/protojson"
	"google.golang.org/protobuf/proto"

	"rowdatum/gateway"
	pb "rowdatum/proto/gen/rowdatum/v1"
	"rowdatum/server/internal/adjusters"
	"rowdatum/server/internal/api"
	"rowdatum/server/internal/flow"
	"rowdatum/server/internal/store"
)

// watcher collects what a watch of a job brings.
type watcher struct {
	mu     sync.Mutex
	events []*pb.JobEvent
	last   *pb.Job
	beats  int
	ids    []string // of server-sent events
	news   chan struct{}
	ended  chan struct{}
	err    error // once ended
	leave  context.CancelFunc
}

func newWatcher(t testing.TB) (*watcher, context.Context) {
	ctx, leave := context.WithCancel(context.Background())
	w := &watcher{news: make(chan struct{}, 1), ended: make(chan struct{}), leave: leave}
	t.Cleanup(func() {
		leave()
		<-w.ended
	})
	return w, ctx
}

// watchFrom watches by gRPC, or as lines of JSON.
func watchFrom(t testing.TB, through way, job string, after int32) *watcher {
	t.Helper()
	w, ctx := newWatcher(t)
	stream, err := through.jobs().WatchJob(ctx, &pb.WatchJobRequest{Name: job, AfterRevision: after})
	if err != nil {
		close(w.ended)
		t.Fatal(err)
	}
	go func() {
		for {
			m, err := stream.Recv()
			if err != nil {
				w.end(err)
				return
			}
			w.take(m, "")
		}
	}()
	return w
}

// watchAsBrowser watches as an EventSource does; last is the id it saw last, if any.
func watchAsBrowser(t testing.TB, at addresses, job string, last string) *watcher {
	t.Helper()
	w, ctx := newWatcher(t)
	r, err := http.NewRequestWithContext(ctx, http.MethodGet, "http://"+at.HTTP+"/v1/"+job+":watch", nil)
	if err != nil {
		t.Fatal(err)
	}
	r.Header.Set("Accept", "text/event-stream")
	if last != "" {
		r.Header.Set("Last-Event-ID", last)
	}
	answer, err := http.DefaultClient.Do(r)
	if err != nil {
		close(w.ended)
		t.Fatal(err)
	}
	if answer.StatusCode != http.StatusOK || answer.Header.Get("Content-Type") != "text/event-stream" {
		t.Errorf("%s, %s", answer.Status, answer.Header.Get("Content-Type"))
	}
	go func() {
		defer answer.Body.Close()
		w.end(w.readEvents(answer.Body))
	}()
	return w
}

// readEvents reads server-sent events by the rules of the HTML standard, 9.2.6, as far as they are used.
func (w *watcher) readEvents(from io.Reader) error {
	lines := bufio.NewScanner(from)
	lines.Buffer(nil, 16<<20)
	var id, kind, data string
	for lines.Scan() {
		field, value, _ := strings.Cut(lines.Text(), ":")
		value = strings.TrimPrefix(value, " ")
		switch {
		case lines.Text() == "":
			if kind == "error" {
				return errors.New(data)
			}
			if data != "" {
				m := &pb.WatchJobResponse{}
				if err := protojson.Unmarshal([]byte(data), m); err != nil {
					return err
				}
				w.take(m, id)
			}
			kind, data = "", ""
		case field == "":
			w.take(&pb.WatchJobResponse{}, "")
		case field == "id":
			id = value
		case field == "event":
			kind = value
		case field == "data":
			data += value
		}
	}
	return errors.Join(lines.Err(), io.EOF)
}

func (w *watcher) take(m *pb.WatchJobResponse, id string) {
	w.mu.Lock()
	defer w.mu.Unlock()
	w.events = append(w.events, m.Events...)
	if m.Job == nil {
		w.beats++
	} else {
		w.last, w.ids = m.Job, append(w.ids, id)
	}
	select {
	case w.news <- struct{}{}:
	default:
	}
}

func (w *watcher) end(err error) {
	w.err = err
	close(w.ended)
}

func (w *watcher) all() []*pb.JobEvent {
	w.mu.Lock()
	defer w.mu.Unlock()
	return append([]*pb.JobEvent(nil), w.events...)
}

// until waits until enough is so, for as long as news may take.
func (w *watcher) until(t testing.TB, what string, enough func() bool) {
	t.Helper()
	late := time.After(seenWithin)
	for {
		w.mu.Lock()
		done := enough()
		w.mu.Unlock()
		if done {
			return
		}
		select {
		case <-w.news:
		case <-late:
			t.Fatalf("%s was not seen within %v", what, seenWithin)
		case <-w.ended:
			t.Fatalf("the watch ended before %s was seen: %v", what, w.err)
		}
	}
}

// waitFor waits for so many events.
func (w *watcher) waitFor(t testing.TB, events int) {
	t.Helper()
	w.until(t, fmt.Sprint("event ", events), func() bool { return len(w.events) >= events })
}

// waitEnd waits until the watch has ended, and returns why.
func (w *watcher) waitEnd(t testing.TB, within time.Duration) error {
	t.Helper()
	select {
	case <-w.ended:
		return w.err
	case <-time.After(within):
		t.Fatalf("the watch had not ended after %v", within)
		return nil
	}
}

// TestWatchersSeeEachOther has two people read rows, each through one way, and watch through both.
func TestWatchersSeeEachOther(t *testing.T) {
	t.Parallel()
	service := start(t, bundle())
	ways := waysTo(t, service.addresses)
	job := openJob(t, ways[0], "p", handles(4)).Name
	watchers := map[string]*watcher{"gRPC": watchFrom(t, ways[0], job, 0), "lines": watchFrom(t, ways[1], job, 0), "browser": watchAsBrowser(t, service.addresses, job, "")}
	for i := range int32(6) {
		answer := must[*pb.AppendResponse](t)(ways[i%2].jobs().AddReadings(t.Context(),
			&pb.AddReadingsRequest{Name: job, Readings: inMM(1+i%4, 0, 50+float64(i)), Person: []string{ada, ben}[i%2]}))
		for name, w := range watchers {
			w.waitFor(t, int(i)+2)
			if got := w.all(); !proto.Equal(got[len(got)-1], answer.Events[0]) {
				t.Errorf("%s: saw %v, want %v", name, got[len(got)-1], answer.Events[0])
			}
			w.mu.Lock()
			if !proto.Equal(w.last, answer.Job) {
				t.Errorf("%s: the state seen is not the one answered:\n%v\n%v", name, w.last, answer.Job)
			}
			w.mu.Unlock()
		}
	}
	if ids := watchers["browser"].ids; ids[len(ids)-1] != "7" {
		t.Errorf("the browser has the ids %q, want 7 last", ids)
	}
	refused := watchFrom(t, ways[0], "planters/p/jobs/other", 0)
	wantReason(t, "a job that is not there", refused.waitEnd(t, seenWithin), codes.NotFound, "JOB_NOT_FOUND")
}

// TestWatchGoesOnFromARevision resumes watches, on a service that was killed in between too.
func TestWatchGoesOnFromARevision(t *testing.T) {
	t.Parallel()
	onStore := filepath.Join(t.TempDir(), "rowdatum.db")
	service := launch(t, onStore)
	job := openJob(t, service.ways[0], "p", handles(4)).Name
	note := func(p *process, n int) {
		for range n {
			must[*pb.AppendResponse](t)(p.ways[0].jobs().AddNotes(t.Context(), &pb.AddNotesRequest{Name: job, Notes: []*pb.Note{{Text: "here"}}}))
		}
	}
	note(service, 5)
	seen := watchAsBrowser(t, service.addresses, job, "")
	seen.waitFor(t, 6)
	last := seen.ids[len(seen.ids)-1]
	service.kill()
	seen.waitEnd(t, seenWithin)

	service = launch(t, onStore)
	note(service, 3)
	after, err := strconv.Atoi(last)
	if err != nil || after != 6 {
		t.Fatalf("the last id is %q, want 6", last)
	}
	for name, w := range map[string]*watcher{"browser": watchAsBrowser(t, service.addresses, job, last),
		"gRPC": watchFrom(t, service.ways[0], job, int32(after)), "lines": watchFrom(t, service.ways[1], job, int32(after))} {
		w.waitFor(t, 3)
		note(service, 1)
		want := int(must[*pb.Job](t)(service.ways[0].jobs().GetJob(t.Context(), &pb.GetJobRequest{Name: job})).Revision)
		w.waitFor(t, want-after)
		for i, e := range w.all() {
			if int(e.Revision) != after+1+i {
				t.Errorf("%s: event %d is revision %d, want %d", name, i, e.Revision, after+1+i)
			}
		}
	}
}

// assembled is a service put together as the program does it, with times of the test's own.
type assembled struct {
	addresses
	ways [2]way
	core *flow.Flow
}

func assemble(t testing.TB, log *zap.Logger, times api.WatchTimes, heartbeat time.Duration) assembled {
	t.Helper()
	kept := must[*store.Store](t)(store.Open(t.Context(), filepath.Join(t.TempDir(), "rowdatum.db"), nil))
	host := must[*adjusters.Host](t)(adjusters.Start(t.Context(), adjusters.Options{Dir: bundle(), Log: log}))
	core := &flow.Flow{Store: kept, Mechanisms: host, Now: now}
	server := api.NewServer(api.Options{Flow: core, Log: log, Watch: times, CallsPerSecond: 1e6, CallBurst: 1e6})
	listener := must[net.Listener](t)(net.Listen("tcp", "127.0.0.1:0"))
	served := make(chan error, 1)
	go func() { served <- server.Serve(listener) }()
	conn := must[*grpc.ClientConn](t)(grpc.NewClient(listener.Addr().String(), grpc.WithTransportCredentials(insecure.NewCredentials())))
	handler := must[http.Handler](t)(gateway.New(gateway.Options{Conn: conn, Heartbeat: heartbeat}))
	web, address, err := startWeb("127.0.0.1:0", nil, gateway.NewServer(handler, nil), func(err error) { t.Error(err) })
	if err != nil {
		t.Fatal(err)
	}
	a := assembled{core: core, addresses: addresses{GRPC: listener.Addr().String(), HTTP: address}}
	t.Cleanup(func() {
		stopGateway(web, log)
		conn.Close()
		server.Stop()
		if err := errors.Join(<-served, host.Close(context.Background()), kept.Close()); err != nil {
			t.Error(err)
		}
	})
	a.ways = waysTo(t, a.addresses)
	return a
}

// TestHeartbeats comes where nothing else does, and carries nothing.
func TestHeartbeats(t *testing.T) {
	t.Parallel()
	service := assemble(t, zaptest.NewLogger(t), api.WatchTimes{Beat: 40 * time.Millisecond}, 40*time.Millisecond)
	job := openJob(t, service.ways[0], "p", handles(2)).Name
	for name, w := range map[string]*watcher{"gRPC": watchFrom(t, service.ways[0], job, 1), "lines": watchFrom(t, service.ways[1], job, 1),
		"browser": watchAsBrowser(t, service.addresses, job, "1")} {
		w.until(t, name+": a fifth heartbeat", func() bool { return w.beats >= 5 })
		if len(w.all()) > 0 {
			t.Errorf("%s: saw %v", name, w.all())
		}
	}
}

// TestSlowReaderIsCutOff watches without taking anything, and is told why it was cut off; others are not
// disturbed.
func TestSlowReaderIsCutOff(t *testing.T) {
	t.Parallel()
	const slow = 300 * time.Millisecond
	service := assemble(t, zap.NewNop(), api.WatchTimes{Slow: slow}, 0)
	job := openJob(t, service.ways[0], "p", handles(120)).Name
	// A window of fixed size: the library's own grows for a reader that takes nothing.
	narrow := must[*grpc.ClientConn](t)(grpc.NewClient(service.GRPC, grpc.WithTransportCredentials(insecure.NewCredentials()), grpc.WithInitialWindowSize(64<<10)))
	defer narrow.Close()
	lazy := must[pb.JobService_WatchJobClient](t)(pb.NewJobServiceClient(narrow).WatchJob(t.Context(), &pb.WatchJobRequest{Name: job}))
	other := watchFrom(t, service.ways[0], job, 0)
	other.waitFor(t, 1)
	const notes = 40 // each brings the state of 120 rows: far more than the windows and buffers on the way hold
	for i := range notes {
		must[*pb.AppendResponse](t)(service.ways[i%2].jobs().AddNotes(t.Context(), &pb.AddNotesRequest{Name: job, Notes: []*pb.Note{{Text: "on and on"}}}))
		other.waitFor(t, i+2)
	}
	time.Sleep(2 * slow)
	taken := 0
	for {
		m, err := lazy.Recv()
		if err != nil {
			wantReason(t, "the lazy reader", err, codes.ResourceExhausted, "READER_TOO_SLOW")
			break
		}
		taken += len(m.Events)
	}
	if taken > notes/2 {
		t.Errorf("%d events had been sent to a reader who took nothing", taken)
	}
	again := watchFrom(t, service.ways[0], job, int32(taken))
	again.waitFor(t, notes+1-taken)
}
