package main

import (
	"bytes"
	"fmt"
	"io"
	"math/rand/v2"
	"net/http"
	"net/http/httptest"
	"regexp"
	"slices"
	"sync/atomic"
	"testing"
	"time"

	standardwebhooks "github.com/standard-webhooks/standard-webhooks/libraries/go"

	pb "rowdatum/proto/gen/rowdatum/v1"
)

// gate holds requests up until it is opened.
type gate struct {
	http.Handler
	open   chan struct{}
	inside atomic.Int32 // requests that are held up now
}

func (g *gate) ServeHTTP(w http.ResponseWriter, r *http.Request) {
	body, err := io.ReadAll(r.Body) // only then is it seen that the sender is gone
	if err != nil {
		return
	}
	r.Body = io.NopCloser(bytes.NewReader(body))
	g.inside.Add(1)
	select {
	case <-g.open:
	case <-r.Context().Done():
	}
	g.inside.Add(-1)
	g.Handler.ServeHTTP(w, r)
}

// TestTwoDeliverers has two services on one PostgreSQL deliver side by side to a receiver that fails at random, and
// kills one hard while it delivers: each event arrives, in its job's order, what the dead one had taken on included.
func TestTwoDeliverers(t *testing.T) {
	t.Parallel()
	onPostgres(t, func(t *testing.T, store string) {
		const (
			before, after = 24, 6             // work orders, before one service dies and after
			timeout       = 3 * time.Second   // what the dead one had taken on is due again 10 s after that
			oneAtMost     = 8                 // deliveries of one hook that a service sends at once
			patience      = 120 * time.Second // no run needs half of it
		)
		receiver := &shopSoftware{rand: rand.New(rand.NewPCG(7, 8)), taken: map[string][]string{}, seen: map[string]bool{}}
		held := &gate{Handler: receiver, open: make(chan struct{})}
		door := httptest.NewServer(held)
		t.Cleanup(door.Close)
		args := []string{"--hooks-to-private", "--hook-timeout", timeout.String()}
		struck, survivor := launch(t, store, args...), launch(t, store, args...)
		hook := must[*pb.Hook](t)(struck.ways[0].hooks().CreateHook(t.Context(), &pb.CreateHookRequest{HookId: "books", Hook: &pb.Hook{Url: door.URL,
			Events: []pb.HookEvent{pb.HookEvent_JOB_OPENED, pb.HookEvent_JOB_PLAN, pb.HookEvent_JOB_SIGNED}}}))
		receiver.judge = must[*standardwebhooks.Webhook](t)(standardwebhooks.NewWebhook(hook.Secret))
		must[*pb.Planter](t)(struck.ways[0].planters().CreatePlanter(t.Context(), &pb.CreatePlanterRequest{Planter: handles(2), PlanterId: "p"}))

		for n := range before {
			signOrder(t, []*process{struck, survivor}[n%2].ways[n/2%2], fmt.Sprint("WO-", n))
		}
		for end := time.Now().Add(patience); held.inside.Load() <= oneAtMost; time.Sleep(time.Millisecond) {
			if time.Now().After(end) {
				t.Fatalf("only %d deliveries were on their way at once: one service sends them all", held.inside.Load())
			}
		}
		struck.kill()
		close(held.open)
		for n := range after {
			signOrder(t, survivor.ways[n%2], fmt.Sprint("WO-", before+n))
		}
		for end := time.Now().Add(patience); receiver.signed() < before+after && time.Now().Before(end); {
			time.Sleep(50 * time.Millisecond)
		}
		receiver.wantAll(t, before+after)
		if text := fetched(t, "http://"+survivor.HTTP+"/metrics"); !regexp.MustCompile(`(?m)^rowdatum_hook_deliveries_total [1-9]`).MatchString(text) ||
			!regexp.MustCompile(`(?m)^rowdatum_hook_tries_failed_total [1-9]`).MatchString(text) {
			t.Error("the survivor counts no delivery, or no failed try")
		}
	})
}

// wantAll wants each of so many jobs to have arrived whole and in order.
func (s *shopSoftware) wantAll(t *testing.T, jobs int) {
	t.Helper()
	s.mu.Lock()
	defer s.mu.Unlock()
	if len(s.taken) != jobs || s.forged > 0 || s.failed == 0 {
		t.Fatalf("%d jobs arrived, %d forged; the receiver failed %d times", len(s.taken), s.forged, s.failed)
	}
	want := []string{"rowdatum.job.opened", "rowdatum.job.plan", "rowdatum.job.signed"}
	for job, types := range s.taken {
		if !slices.Equal(types, want) {
			t.Errorf("%s arrived as %q", job, types)
		}
	}
}
