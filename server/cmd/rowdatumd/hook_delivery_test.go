package main

import (
	"encoding/json"
	"io"
	"net/http"
	"net/http/httptest"
	"path/filepath"
	"slices"
	"testing"
	"time"

	standardwebhooks "github.com/standard-webhooks/standard-webhooks/libraries/go"

	pb "rowdatum/proto/gen/rowdatum/v1"
)

// heard is one event as a receiver got it.
type heard struct {
	header http.Header
	body   string
	Type   string
	Data   struct {
		Revision    int
		Inspections []struct {
			Row            int
			Point, Comment string
			Value          *float64
		}
	}
}

// signedBy says whether a secret signed it, by the convention's own library.
func (h heard) signedBy(t *testing.T, secret string) bool {
	t.Helper()
	judge := must[*standardwebhooks.Webhook](t)(standardwebhooks.NewWebhook(secret))
	return judge.Verify([]byte(h.body), h.header) == nil
}

// listening is a service whose hooks may send here, and a receiver that takes everything.
func listening(t *testing.T) (ways [2]way, url string, next func() heard) {
	t.Helper()
	events := make(chan heard, 100)
	door := httptest.NewServer(http.HandlerFunc(func(_ http.ResponseWriter, r *http.Request) {
		body, err := io.ReadAll(r.Body)
		h := heard{header: r.Header, body: string(body)}
		if err != nil || json.Unmarshal(body, &h) != nil {
			t.Errorf("received %q: %v", body, err)
		}
		events <- h
	}))
	t.Cleanup(door.Close)
	dir := t.TempDir()
	ways = waysTo(t, startWith(t, &flags{GRPC: "127.0.0.1:0", HTTP: "127.0.0.1:0", Store: filepath.Join(dir, "rowdatum.db"), Adjusters: bundle(),
		AddrFile: filepath.Join(dir, "addr"), HooksToPrivate: true, HookTimeout: 5 * time.Second}).addresses)
	return ways, door.URL, func() heard {
		t.Helper()
		select {
		case h := <-events:
			return h
		case <-time.After(20 * time.Second):
			t.Fatal("nothing arrived within 20 s")
			return heard{}
		}
	}
}

// TestRotatedSecret: after a change both secrets sign what goes out, and a repeat of either request tells its own.
func TestRotatedSecret(t *testing.T) {
	t.Parallel()
	ways, url, next := listening(t)
	for i, w := range ways {
		planter := []string{"east", "west"}[i]
		create := &pb.CreateHookRequest{HookId: planter, RequestId: newRequestID(), Hook: &pb.Hook{Url: url, Events: []pb.HookEvent{pb.HookEvent_JOB_OPENED}}}
		made := must[*pb.Hook](t)(w.hooks().CreateHook(t.Context(), create))
		must[*pb.Planter](t)(w.planters().CreatePlanter(t.Context(), &pb.CreatePlanterRequest{Planter: handles(1), PlanterId: planter}))
		must[*pb.Job](t)(w.jobs().CreateJob(t.Context(), openByOrder(planter, "W-1", "")))
		if h := next(); !h.signedBy(t, made.Secret) {
			t.Errorf("%s: not signed with the secret: %v", w.name, h.header)
		}
		rotate := &pb.RotateHookSecretRequest{Name: made.Name, RequestId: newRequestID()}
		rotated := must[*pb.Hook](t)(w.hooks().RotateHookSecret(t.Context(), rotate))
		if left := time.Until(rotated.OldSecretUntil.AsTime()); rotated.Secret == made.Secret || left < 23*time.Hour || left > 24*time.Hour {
			t.Errorf("%s: rotated to %v", w.name, rotated)
		}
		must[*pb.Job](t)(w.jobs().CreateJob(t.Context(), openByOrder(planter, "W-2", "")))
		if h := next(); !h.signedBy(t, made.Secret) || !h.signedBy(t, rotated.Secret) {
			t.Errorf("%s: not signed with both secrets: %v", w.name, h.header)
		}
		if again := must[*pb.Hook](t)(w.hooks().CreateHook(t.Context(), create)); again.String() != made.String() {
			t.Errorf("%s: the repeat is answered\n%v, at first it was\n%v", w.name, again, made)
		}
		if again := must[*pb.Hook](t)(w.hooks().RotateHookSecret(t.Context(), rotate)); again.String() != rotated.String() {
			t.Errorf("%s: the repeat is answered\n%v, at first it was\n%v", w.name, again, rotated)
		}
		if read := must[*pb.Hook](t)(w.hooks().GetHook(t.Context(), &pb.GetHookRequest{Name: made.Name})); read.Secret != "" {
			t.Errorf("%s: reading the hook tells its secret", w.name)
		}
		if _, err := w.hooks().DeleteHook(t.Context(), &pb.DeleteHookRequest{Name: made.Name}); err != nil { // the other way has its own
			t.Fatal(err)
		}
	}
}

// TestPartLimit: an inspection over a point's limit goes out with its rows, and so does what a person called worn;
// one within its limit does not.
func TestPartLimit(t *testing.T) {
	t.Parallel()
	ways, url, next := listening(t)
	must[*pb.Hook](t)(ways[0].hooks().CreateHook(t.Context(), &pb.CreateHookRequest{Hook: &pb.Hook{Url: url, Events: []pb.HookEvent{pb.HookEvent_PART_LIMIT}}}))
	for i, w := range ways {
		job := openJob(t, w, []string{"east", "west"}[i], handles(3))
		inspect := func(all ...*pb.Inspection) *pb.Job {
			t.Helper()
			return must[*pb.AppendResponse](t)(w.jobs().AddInspections(t.Context(), &pb.AddInspectionsRequest{Name: job.Name, Person: ada, Inspections: all})).Job
		}
		// The limit of handle-play is 1.5 mm: its style says so.
		inspect(&pb.Inspection{Row: 1, Point: "handle-play", Value: with(1.5)})
		inspect(&pb.Inspection{Row: 1, Point: "handle-play", Value: with(1.6), Comment: "rattles"},
			&pb.Inspection{Row: 2, Point: "handle-play", Value: with(0.4)}, &pb.Inspection{Row: 3, Point: "handle-play", Value: with(2.0)})
		h := next()
		if h.Type != "rowdatum.part.limit" || h.Data.Revision != 5 || len(h.Data.Inspections) != 2 {
			t.Fatalf("%s: heard first %s", w.name, h.body)
		}
		if one, three := h.Data.Inspections[0], h.Data.Inspections[1]; one.Row != 1 || one.Point != "handle-play" || *one.Value != 1.6 || one.Comment != "rattles" || three.Row != 3 || *three.Value != 2 {
			t.Errorf("%s: heard %s", w.name, h.body)
		}
	}
}

// TestResentDelivery: what arrived goes out once more, the same bytes under the same id and freshly signed.
func TestResentDelivery(t *testing.T) {
	t.Parallel()
	ways, url, next := listening(t)
	hook := must[*pb.Hook](t)(ways[0].hooks().CreateHook(t.Context(), &pb.CreateHookRequest{Hook: &pb.Hook{Url: url, Events: []pb.HookEvent{pb.HookEvent_JOB_OPENED}}}))
	job := openJob(t, ways[0], "east", handles(1))
	first := next()
	for _, w := range ways {
		arrived := onlyDelivery(t, w, hook.Name, pb.Delivery_DELIVERED)
		if arrived.Job != job.Name || arrived.Event != pb.HookEvent_JOB_OPENED || arrived.Attempts != 1 || arrived.LastStatus != http.StatusOK || arrived.Body != first.body {
			t.Errorf("%s: delivered %v", w.name, arrived)
		}
		resend := &pb.ResendDeliveryRequest{Name: arrived.Name, RequestId: newRequestID()}
		waits := must[*pb.Delivery](t)(w.hooks().ResendDelivery(t.Context(), resend))
		again := next()
		if waits.State != pb.Delivery_WAITING || waits.Attempts != 0 || waits.EndTime != nil || again.body != first.body || again.header.Get("webhook-id") != first.header.Get("webhook-id") ||
			!again.signedBy(t, hook.Secret) {
			t.Errorf("%s: sent again as %v, received %s %v", w.name, waits, again.body, again.header)
		}
		onlyDelivery(t, w, hook.Name, pb.Delivery_DELIVERED)
		if repeat := must[*pb.Delivery](t)(w.hooks().ResendDelivery(t.Context(), resend)); repeat.String() != waits.String() {
			t.Errorf("%s: the repeat is answered\n%v, at first it was\n%v", w.name, repeat, waits)
		}
	}
}

// onlyDelivery waits until a hook's one delivery is in a state.
func onlyDelivery(t *testing.T, w way, hook string, state pb.Delivery_State) *pb.Delivery {
	t.Helper()
	var all []*pb.Delivery
	for deadline := time.Now().Add(20 * time.Second); time.Now().Before(deadline); time.Sleep(10 * time.Millisecond) {
		all = must[*pb.ListDeliveriesResponse](t)(w.hooks().ListDeliveries(t.Context(), &pb.ListDeliveriesRequest{Parent: hook, Filter: "state=" + state.String()})).Deliveries
		if i := slices.IndexFunc(all, func(d *pb.Delivery) bool { return d.State == state }); i == 0 && len(all) == 1 {
			return all[0]
		}
	}
	t.Fatalf("%s: after 20 s the deliveries that are %v are %v", w.name, state, all)
	return nil
}
