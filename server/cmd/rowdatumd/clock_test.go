package main

import (
	"context"
	"encoding/json"
	"fmt"
	"io"
	"net/http"
	"net/http/httptest"
	"path/filepath"
	"slices"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"go.uber.org/zap"
	"go.uber.org/zap/zaptest"
	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/health"
	"google.golang.org/grpc/test/bufconn"

	pb "rowdatum/proto/gen/rowdatum/v1"
	"rowdatum/server/internal/flow"
	"rowdatum/server/leveling"
)

// setBack is a machine's clock that somebody sets back.
type setBack struct{ by atomic.Int64 }

func (c *setBack) now() leveling.Micros {
	return leveling.Micros(time.Now().Add(-time.Duration(c.by.Load())).UnixMicro())
}

func (c *setBack) set(by time.Duration) { c.by.Add(int64(by)) }

// onClock assembles the whole service on a clock, as run does, until the test ends.
func onClock(t *testing.T, c *setBack) (*service, [2]way) {
	t.Helper()
	ctx, log := t.Context(), zaptest.NewLogger(t, zaptest.Level(zap.WarnLevel))
	f := &flags{GRPC: "127.0.0.1:0", HTTP: "127.0.0.1:0", Store: filepath.Join(t.TempDir(), "rowdatum.db"), Adjusters: bundle(), HooksToPrivate: true, HookTimeout: 5 * time.Second}
	measured := must[telemetry](t)(startTelemetry(ctx, f))
	stopping, letGo := context.WithCancel(context.Background())
	t.Cleanup(letGo)
	s := &service{inside: bufconn.Listen(insideBytes), health: health.NewServer(), now: c.now}
	if err := s.open(ctx, f, measured, nil, stopping.Done(), log); err != nil {
		t.Fatal(err)
	}
	fail := func(err error) { t.Error(err) }
	s.serve(fail)
	t.Cleanup(func() {
		letGo()
		if err := s.stop(log); err != nil {
			t.Error(err)
		}
	})
	conn, err := dialInside(s.inside, measured.traces)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { conn.Close() })
	web, at, err := startGateway(f, measured, nil, conn, log, fail)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { stopGateway(web, log) })
	return s, waysTo(t, addresses{GRPC: s.listener.Addr().String(), HTTP: at})
}

// TestClockSetBack sets the clock back an hour between the writes of four clients, four times: the log stays in the order
// in which they were taken, nothing is refused, watchers and repeats are served as ever. What it prints is for the proof.
func TestClockSetBack(t *testing.T) {
	c := &setBack{}
	_, ways := onClock(t, c)
	job := openJob(t, ways[0], "p", handles(crashWriters*rowsAWriter)).Name
	watched := watchFrom(t, ways[0], job, 0)
	l := newLedger()
	ctx, cancel := context.WithCancel(t.Context())
	var wait sync.WaitGroup
	var writers []*writer
	for n := range crashWriters {
		w := newWriter(l, 11, n, job)
		writers = append(writers, w)
		wait.Go(func() {
			if e := w.run(ctx, t, ways[n%2]); e != nil {
				t.Errorf("%s was refused a write", w.person)
			}
		})
	}
	for round := range int32(4) {
		waitWrote(t, writers, 10*(round+1))
		c.set(time.Hour)
	}
	waitWrote(t, writers, 60)
	cancel()
	wait.Wait()

	events := l.verify(t, ways[0], job)
	verifyState(t, ways[1], job, events, writers)
	l.repeat(t, ways, l.of(job, l.size()-20))
	watched.waitFor(t, len(events))
	if got := watched.all(); !sameEvents(got, events) {
		t.Errorf("watched %d events, the log has %d others", len(got), len(events))
	}
	back := 0
	for i, e := range events[1:] {
		if e.CreateTime.AsTime().Before(events[i].CreateTime.AsTime()) {
			back++
		}
	}
	if back < 4 {
		t.Errorf("the times of events go back %d times, the clock did 4 times", back)
	}
	acknowledged, kept := 0, 0
	for _, e := range l.of(job, 0) {
		acknowledged += e.events
		if e.first != nil && !t.Failed() {
			kept += e.events
		}
	}
	fmt.Printf("clock set back: %d events acknowledged, %d kept\n", acknowledged, kept)
}

// TestClockSetBackDoors: what opens a door does not stay good for much longer than it should, and what was closed stays so.
func TestClockSetBackDoors(t *testing.T) {
	c := &setBack{}
	s, ways := onClock(t, c)
	access := ways[0].access()
	pair := func() string {
		return must[*pb.Pairing](t)(access.CreatePairing(t.Context(), &pb.CreatePairingRequest{Role: pb.Role_READER, Label: "phone"})).Code
	}
	redeem := func(code string) error {
		_, err := access.RedeemPairing(t.Context(), &pb.RedeemPairingRequest{Code: code})
		return err
	}
	job := openJob(t, ways[0], "p", handles(2)).Name
	share := must[*pb.Share](t)(access.CreateShare(t.Context(), &pb.CreateShareRequest{Job: job}))
	secret, key, err := s.core.AddKey(t.Context(), flow.LocalShop, flow.Reader, "a phone", 0)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := s.core.RevokeKey(t.Context(), key.ID); err != nil {
		t.Fatal(err)
	}

	code := pair()
	c.set(10 * time.Second) // as a clock that is kept right is set
	if err := redeem(code); err != nil {
		t.Errorf("a code, after a small step back: %v", err)
	}
	code = pair()
	c.set(time.Hour)
	wantReason(t, "a code that would live an hour longer", redeem(code), codes.Unauthenticated, "CODE_WRONG")
	if err := redeem(pair()); err != nil {
		t.Errorf("a new code: %v", err)
	}
	read := func(secret string) error {
		_, err := ways[1].as(secret).jobs().GetJob(t.Context(), &pb.GetJobRequest{Name: job})
		return err
	}
	if err := read(share.Key); err != nil {
		t.Errorf("a link that was made before: %v", err)
	}
	wantReason(t, "a key that was revoked before", read(secret), codes.Unauthenticated, "KEY_REVOKED")
	for range 60 { // more than are let through at once: the limits count by a clock that nobody sets
		c.set(time.Minute)
		if err := read(share.Key); err != nil {
			t.Fatalf("calls while the clock is set back again and again: %v", err)
		}
	}
}

// TestClockSetBackHooks: what happens after the clock was set back is told as before it, job by job in order.
func TestClockSetBackHooks(t *testing.T) {
	c := &setBack{}
	_, ways := onClock(t, c)
	told := make(chan string, 100)
	door := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		var event struct{ Type, Subject string }
		body, err := io.ReadAll(r.Body)
		if err != nil || json.Unmarshal(body, &event) != nil {
			t.Errorf("told %q, %v", body, err)
		}
		told <- event.Type
	}))
	t.Cleanup(door.Close)
	must[*pb.Hook](t)(pb.NewHookServiceClient(ways[0].conn).CreateHook(t.Context(), &pb.CreateHookRequest{HookId: "erp", Hook: &pb.Hook{Url: door.URL,
		Events: []pb.HookEvent{pb.HookEvent_JOB_OPENED, pb.HookEvent_JOB_PLAN, pb.HookEvent_JOB_SIGNED}}}))
	must[*pb.Planter](t)(ways[0].planters().CreatePlanter(t.Context(), &pb.CreatePlanterRequest{Planter: handles(2), PlanterId: "p"}))
	for n := range 3 {
		signOrder(t, ways[n%2], fmt.Sprint("WO-", n))
		var got []string
		for len(got) < 3 {
			select {
			case kind := <-told:
				got = append(got, kind)
			case <-time.After(20 * time.Second):
				t.Fatalf("round %d: told %q only", n, got)
			}
		}
		if want := []string{"rowdatum.job.opened", "rowdatum.job.plan", "rowdatum.job.signed"}; !slices.Equal(got, want) {
			t.Errorf("round %d: told %q", n, got)
		}
		c.set(time.Hour)
	}
}
