package hooks

import (
	"io"
	"net/http"
	"slices"
	"sync"
	"sync/atomic"
	"testing"

	"rowdatum/server/internal/flow"
	"rowdatum/server/leveling"
)

// TestResend: a dead letter and a delivery that arrived go out once more, the same body under the same id, with
// their tries counted anew; one that is on its way cannot.
func TestResend(t *testing.T) {
	var mu sync.Mutex
	var took []string
	var away atomic.Bool
	away.Store(true)
	s := newStand(t, flow.Hook{Secret: secret}, func(w http.ResponseWriter, r *http.Request) {
		if away.Load() {
			w.WriteHeader(http.StatusNotFound)
			return
		}
		body, err := io.ReadAll(r.Body)
		if err != nil {
			t.Error(err)
		}
		mu.Lock()
		defer mu.Unlock()
		took = append(took, r.Header.Get("webhook-id")+string(body))
	})
	f := &flow.Flow{Store: s.kept, Now: s.now}
	owner := flow.Caller{Shop: "north", Role: flow.Owner}
	resend := func(id, request string) (flow.Delivery, error) {
		return f.ResendDelivery(t.Context(), owner, flow.Request{ID: request}, "h", id)
	}

	s.put("e")
	s.tried("e", 1)
	if _, err := resend("e", ""); err == nil || leveling.AsError(err).Reason != "DELIVERY_WAITS" {
		t.Errorf("re-sending what is on its way: %v", err)
	}
	s.at.Add(1e6 * 3600 * 80) // past the three days: the next try is the last
	if dead := s.tried("e", 2); dead.State != flow.Dead || dead.DueTime != 0 || dead.LastStatus != http.StatusNotFound {
		t.Fatalf("not given up: %+v", dead)
	}
	away.Store(false)
	const request = "3f2b8c1e-9d64-4a57-8f20-1c5b7e9a0d43"
	waits, err := resend("e", request)
	if err != nil || waits.State != flow.Waiting || waits.Attempts != 0 || waits.DueTime != s.now() || waits.EndTime != 0 {
		t.Errorf("a dead letter sent again waits as %+v: %v", waits, err)
	}
	s.arrived("e")
	again, err := resend("e", request)
	if again.Shop = waits.Shop; err != nil || again != waits { // the shop is the caller's own
		t.Errorf("the repeat is answered %+v, at first it was %+v: %v", again, waits, err)
	}
	if _, err := resend("e", ""); err != nil {
		t.Errorf("one that arrived: %v", err)
	}
	if d := s.arrived("e"); d.Attempts != 1 {
		t.Errorf("after it arrived again: %+v", d)
	}
	waitCount(t, "delivered", &s.counted.delivered, 2)
	waitCount(t, "given up", &s.counted.givenUp, 1)
	mu.Lock()
	defer mu.Unlock()
	if !slices.Equal(took, []string{`e{"id":"e"}`, `e{"id":"e"}`}) {
		t.Errorf("taken: %q", took)
	}
}

// arrived waits until a delivery waits no longer, and returns it.
func (s *stand) arrived(id string) flow.Delivery {
	s.t.Helper()
	d := s.tried(id, 1)
	if d.State != flow.Delivered {
		s.t.Fatalf("%s has not arrived: %+v", id, d)
	}
	return d
}
