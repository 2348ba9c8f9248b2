package main

import (
	"encoding/json"
	"fmt"
	"io"
	"math/rand/v2"
	"net/http"
	"net/http/httptest"
	"slices"
	"sync"
	"testing"
	"time"

	standardwebhooks "github.com/standard-webhooks/standard-webhooks/libraries/go"
	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/status"

	pb "rowdatum/proto/gen/rowdatum/v1"
)

// shopSoftware is a receiver that fails at random. It believes only what the convention's own library does.
type shopSoftware struct {
	mu     sync.Mutex
	rand   *rand.Rand
	judge  *standardwebhooks.Webhook
	taken  map[string][]string // types by job, in the order in which they were first taken
	seen   map[string]bool     // ids
	forged int
	failed int
}

const (
	shopJobs     = 100
	shopPatience = 90 * time.Second
	hookTimeout  = 500 * time.Millisecond
)

func (s *shopSoftware) ServeHTTP(w http.ResponseWriter, r *http.Request) {
	body, err := io.ReadAll(r.Body)
	if err != nil {
		return
	}
	s.mu.Lock()
	fate := s.rand.IntN(20)
	if fate < 3 {
		s.failed++
	}
	s.mu.Unlock()
	switch fate {
	case 0:
		w.WriteHeader(http.StatusInternalServerError)
		return
	case 1:
		panic(http.ErrAbortHandler) // the connection is reset
	case 2:
		select { // hangs
		case <-r.Context().Done():
		case <-time.After(2 * hookTimeout):
		}
		panic(http.ErrAbortHandler) // however patient the sender is, it gets no answer
	}
	s.take(r.Header, body)
	if fate == 3 {
		panic(http.ErrAbortHandler) // taken, and the sender does not hear of it
	}
}

func (s *shopSoftware) take(header http.Header, body []byte) {
	s.mu.Lock()
	defer s.mu.Unlock()
	var event struct{ Specversion, ID, Type, Subject string }
	if s.judge.Verify(body, header) != nil || json.Unmarshal(body, &event) != nil || event.Specversion != "1.0" || event.ID != header.Get("webhook-id") {
		s.forged++
		return
	}
	if !s.seen[event.ID] {
		s.seen[event.ID] = true
		s.taken[event.Subject] = append(s.taken[event.Subject], event.Type)
	}
}

// signed is how many jobs were taken as signed.
func (s *shopSoftware) signed() (n int) {
	s.mu.Lock()
	defer s.mu.Unlock()
	for _, types := range s.taken {
		if slices.Contains(types, "rowdatum.job.signed") {
			n++
		}
	}
	return n
}

// TestHooks has a shop's software open, follow and receive a hundred jobs through a receiver that fails at
// random, the service killed hard on the way: every signed job arrives, in its job's order.
func TestHooks(t *testing.T) {
	t.Parallel()
	onEveryStore(t, func(t *testing.T, store string) {
		t.Parallel()
		receiver := &shopSoftware{rand: rand.New(rand.NewPCG(7, 7)), taken: map[string][]string{}, seen: map[string]bool{}}
		door := httptest.NewServer(receiver)
		t.Cleanup(door.Close)
		args := []string{"--hooks-to-private", "--hook-timeout", hookTimeout.String()}
		service := launch(t, store, args...)
		w := service.ways[0]
		hooks := pb.NewHookServiceClient(w.conn)
		hook := must[*pb.Hook](t)(hooks.CreateHook(t.Context(), &pb.CreateHookRequest{HookId: "erp", Hook: &pb.Hook{Url: door.URL,
			Events: []pb.HookEvent{pb.HookEvent_JOB_OPENED, pb.HookEvent_JOB_PLAN, pb.HookEvent_JOB_SIGNED}}}))
		receiver.judge = must[*standardwebhooks.Webhook](t)(standardwebhooks.NewWebhook(hook.Secret))
		must[*pb.Planter](t)(w.planters().CreatePlanter(t.Context(), &pb.CreatePlanterRequest{Planter: handles(2), PlanterId: "p"}))

		for n := range shopJobs {
			if n == shopJobs/2 {
				service.kill()
				service = launch(t, store, args...)
				w = service.ways[1]
			}
			signOrder(t, w, fmt.Sprintf("WO-%d", n))
		}
		for end := time.Now().Add(shopPatience); receiver.signed() < shopJobs && time.Now().Before(end); {
			time.Sleep(50 * time.Millisecond)
		}
		receiver.wantAll(t, shopJobs)
	})
}

// signOrder opens the job of a work order, twice as a software that lost the answer would, and works it to its
// signature.
func signOrder(t *testing.T, w way, order string) {
	t.Helper()
	ctx := t.Context()
	open := func() *pb.Job {
		return must[*pb.Job](t)(w.jobs().CreateJob(ctx, &pb.CreateJobRequest{Parent: "planters/p", FindBy: "order",
			Job: &pb.Job{WorkOrder: order, ExternalIds: map[string]string{"order": order}}}))
	}
	job := open()
	if again := open(); again.Name != job.Name {
		t.Fatalf("%s was opened twice: %s and %s", order, job.Name, again.Name)
	}
	after := func(answer *pb.AppendResponse, err error) { job = must[*pb.AppendResponse](t)(answer, err).Job }
	after(w.jobs().AddReadings(ctx, &pb.AddReadingsRequest{Name: job.Name, Readings: append(inMM(1, 0, 50, 50), inMM(2, 0, 50, 50)...)}))
	after(w.jobs().PlanJob(ctx, &pb.PlanJobRequest{Name: job.Name, Etag: job.Etag}))
	after(w.jobs().TickCautions(ctx, &pb.TickCautionsRequest{Name: job.Name, Person: ada, Ticks: allTicks(job)}))
	after(w.jobs().SignJob(ctx, &pb.SignJobRequest{Name: job.Name, Etag: job.Etag, Person: ada}))
}

// TestChanges follows a shop's changes by their cursor: each once, in order, and an empty page keeps its place.
func TestChanges(t *testing.T) {
	t.Parallel()
	ways := waysTo(t, start(t, bundle()).addresses)
	must[*pb.Planter](t)(ways[0].planters().CreatePlanter(t.Context(), &pb.CreatePlanterRequest{Planter: handles(2), PlanterId: "p"}))
	for i, w := range ways {
		changes := pb.NewChangeServiceClient(w.conn)
		list := func(cursor string) *pb.ListChangesResponse {
			return must[*pb.ListChangesResponse](t)(changes.ListChanges(t.Context(), &pb.ListChangesRequest{Cursor: cursor}))
		}
		before := list("").Cursor
		for { // to the end
			next := list(before)
			if next.Cursor == before {
				break
			}
			before = next.Cursor
		}
		if empty := list(before); len(empty.Changes) != 0 || empty.Cursor != before {
			t.Errorf("%s: an empty page is %v", w.name, empty)
		}
		signOrder(t, w, fmt.Sprintf("WO-%d", i))
		if got := list(before); len(got.Changes) < 3 || list(got.Cursor).Cursor != got.Cursor {
			t.Errorf("%s: after a job the changes are %v", w.name, got)
		}
	}
	_, err := pb.NewChangeServiceClient(ways[0].conn).ListChanges(t.Context(), &pb.ListChangesRequest{Cursor: "nonsense"})
	if status.Code(err) != codes.InvalidArgument {
		t.Errorf("a cursor that nobody gave: %v", err)
	}
}

// TestHookNotInward refuses an address of this machine where nobody allowed it.
func TestHookNotInward(t *testing.T) {
	t.Parallel()
	for _, w := range waysTo(t, start(t, bundle()).addresses) {
		_, err := pb.NewHookServiceClient(w.conn).CreateHook(t.Context(), &pb.CreateHookRequest{Hook: &pb.Hook{Url: "http://127.0.0.1:7409/", Events: []pb.HookEvent{pb.HookEvent_JOB_SIGNED}}})
		if status.Code(err) != codes.InvalidArgument {
			t.Errorf("%s: %v", w.name, err)
		}
	}
}
