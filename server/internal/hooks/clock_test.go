package hooks

import (
	"io"
	"net/http"
	"net/http/httptest"
	"path/filepath"
	"sync/atomic"
	"testing"
	"time"

	standardwebhooks "github.com/standard-webhooks/standard-webhooks/libraries/go"

	"rowdatum/server/internal/flow"
	"rowdatum/server/internal/store"
	"rowdatum/server/leveling"
)

// A moment for tests, microseconds.
const noon leveling.Micros = 1_774_958_400_000_000

// stand is a deliverer whose clock only the test moves, with one hook.
type stand struct {
	t       *testing.T
	kept    *store.Store
	at      atomic.Int64
	counted counted
}

// counted is a Meter.
type counted struct{ failed, delivered, givenUp atomic.Int32 }

func (c *counted) TryFailed() { c.failed.Add(1) }
func (c *counted) Delivered() { c.delivered.Add(1) }
func (c *counted) GivenUp()   { c.givenUp.Add(1) }

// newStand starts it with a receiver; h needs no address.
func newStand(t *testing.T, h flow.Hook, receiver http.HandlerFunc) *stand {
	t.Helper()
	door := httptest.NewServer(receiver)
	t.Cleanup(door.Close)
	kept, err := store.Open(t.Context(), filepath.Join(t.TempDir(), "rowdatum.db"), nil)
	if err != nil {
		t.Fatal(err)
	}
	s := &stand{t: t, kept: kept}
	s.at.Store(int64(noon))
	h.ID, h.URL, h.Events, h.Revision = "h", door.URL, []flow.HookEvent{flow.JobSigned}, 1
	s.write(func(tx flow.Tx) error { return tx.PutHook("north", h) })
	d := Start(Options{Store: kept, Now: s.now, Meter: &s.counted, ToPrivate: true, Look: time.Millisecond})
	t.Cleanup(func() {
		d.Close()
		if err := kept.Close(); err != nil {
			t.Error(err)
		}
	})
	return s
}

func (s *stand) now() leveling.Micros { return leveling.Micros(s.at.Load()) }

func (s *stand) write(do func(flow.Tx) error) {
	s.t.Helper()
	if err := s.kept.Write(s.t.Context(), do); err != nil {
		s.t.Fatal(err)
	}
}

// put has something to deliver from now on.
func (s *stand) put(id string) {
	s.t.Helper()
	s.write(func(tx flow.Tx) error {
		return tx.PutDelivery(flow.Delivery{Shop: "north", Hook: "h", ID: id, Job: "j", Event: flow.JobSigned, Body: `{"id":"` + id + `"}`, CreateTime: s.now()})
	})
}

// tried waits for the outcome of an attempt, and returns what is then kept of the delivery.
func (s *stand) tried(id string, attempts int) (d flow.Delivery) {
	s.t.Helper()
	for deadline := time.Now().Add(10 * time.Second); time.Now().Before(deadline); time.Sleep(time.Millisecond) {
		err := s.kept.Read(s.t.Context(), func(v flow.View) (err error) {
			d, err = v.Delivery("north", "h", id)
			return err
		})
		if err != nil {
			s.t.Fatal(err)
		}
		if d.Attempts >= attempts {
			return d
		}
	}
	s.t.Fatalf("after 10 s %s was tried %d times, not %d", id, d.Attempts, attempts)
	return d
}

// TestPauses: a receiver that never takes anything is tried after 1 to 2 seconds, then after twice as long each
// time up to half to a whole hour, never sooner, and given up after three days.
func TestPauses(t *testing.T) {
	var tries atomic.Int32
	s := newStand(t, flow.Hook{Secret: secret}, func(w http.ResponseWriter, _ *http.Request) {
		tries.Add(1)
		w.WriteHeader(http.StatusBadGateway)
	})
	s.put("e")
	longest := 2 * time.Second
	attempts := 1
	d := s.tried("e", 1)
	for ; d.State == flow.Waiting; attempts++ {
		if pause := time.Duration(d.DueTime-s.now()) * time.Microsecond; pause < longest/2 || pause > longest {
			t.Fatalf("after try %d the pause is %v, want %v to %v", attempts, pause, longest/2, longest)
		}
		if attempts <= 3 { // a moment early nobody is tried, however often it is looked
			s.at.Store(int64(d.DueTime) - 1)
			time.Sleep(20 * time.Millisecond)
		}
		if n := tries.Load(); n != int32(attempts) {
			t.Fatalf("tried %d times, %d of them are kept", n, attempts)
		}
		longest = min(2*longest, time.Hour)
		s.at.Store(int64(d.DueTime))
		d = s.tried("e", attempts+1)
	}
	if lived := time.Duration(d.EndTime-noon) * time.Microsecond; d.State != flow.Dead || lived > 72*time.Hour || lived < 71*time.Hour {
		t.Errorf("given up after %v: %+v", lived, d)
	}
	if failed := s.counted.failed.Load(); failed != int32(attempts) || s.counted.delivered.Load() != 0 {
		t.Errorf("%d failed tries counted of %d, %d delivered", failed, attempts, s.counted.delivered.Load())
	}
	waitCount(t, "given up", &s.counted.givenUp, 1)
}

// waitCount waits for a count, which comes a moment after what it counts is kept.
func waitCount(t *testing.T, what string, count *atomic.Int32, want int32) {
	t.Helper()
	for deadline := time.Now().Add(5 * time.Second); count.Load() != want; time.Sleep(time.Millisecond) {
		if time.Now().After(deadline) {
			t.Fatalf("%s: counted %d, want %d", what, count.Load(), want)
		}
	}
}

// TestRetryAfter: a receiver is given the pause that it asks for, where that is longer than the usual one, up to
// a day.
func TestRetryAfter(t *testing.T) {
	asked := []struct {
		header      string
		least, most time.Duration // of the pause
	}{
		{"120", 120 * time.Second, 120 * time.Second},
		{time.UnixMicro(int64(noon)).UTC().Add(10 * time.Minute).Format(http.TimeFormat), 10 * time.Minute, 10 * time.Minute},
		{"1", 4 * time.Second, 8 * time.Second}, // less than the third pause
		{"-5", 8 * time.Second, 16 * time.Second},
		{"soon", 16 * time.Second, 32 * time.Second},
		{time.UnixMicro(int64(noon)).UTC().Add(-time.Hour).Format(http.TimeFormat), 32 * time.Second, 64 * time.Second},
		{"864000", 24 * time.Hour, 24 * time.Hour},
		{"9999999999999999999999", 128 * time.Second, 256 * time.Second}, // no number
	}
	var tries atomic.Int32
	s := newStand(t, flow.Hook{Secret: secret}, func(w http.ResponseWriter, _ *http.Request) {
		n := int(tries.Add(1))
		if n <= len(asked) {
			w.Header().Set("Retry-After", asked[n-1].header)
			w.WriteHeader([]int{http.StatusServiceUnavailable, http.StatusTooManyRequests}[n%2])
		}
	})
	s.put("e")
	for i, c := range asked {
		d := s.tried("e", i+1)
		if pause := time.Duration(d.DueTime-noon) * time.Microsecond; pause < c.least || pause > c.most {
			t.Errorf("Retry-After: %s after try %d gives a pause of %v, want %v to %v", c.header, i+1, pause, c.least, c.most)
		}
		s.write(func(tx flow.Tx) error { // due at once, so that the clock stands still
			now := s.now()
			kept := d
			kept.DueTime = now
			return tx.KeepDelivery(kept, d.DueTime, now)
		})
	}
	if d := s.tried("e", len(asked)+1); d.State != flow.Delivered || d.LastProblem != "" || d.LastStatus != http.StatusOK {
		t.Errorf("at last: %+v", d)
	}
	waitCount(t, "delivered", &s.counted.delivered, 1)
}

// TestBothSecretsSign: while a secret is changed both sign, for receivers that know either; then only the new one.
func TestBothSecretsSign(t *testing.T) {
	const old = "whsec_YW4gb2xkZXIgc2VjcmV0IG9mIDMyIGJ5dGVzLCB0b28="
	type sent struct {
		header http.Header
		body   []byte
	}
	got := make(chan sent, 1)
	s := newStand(t, flow.Hook{Secret: secret, OldSecret: old, OldUntil: noon + 1000}, func(_ http.ResponseWriter, r *http.Request) {
		body, err := io.ReadAll(r.Body)
		if err != nil {
			t.Error(err)
		}
		got <- sent{r.Header, body}
	})
	for _, c := range []struct {
		at       leveling.Micros
		id       string
		oldSigns bool
	}{{noon, "e1", true}, {noon + 999, "e2", true}, {noon + 1000, "e3", false}, {noon + 1e12, "e4", false}} {
		s.at.Store(int64(c.at))
		s.put(c.id)
		one := <-got
		for key, want := range map[string]bool{secret: true, old: c.oldSigns, "whsec_AAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAA": false} {
			judge, err := standardwebhooks.NewWebhook(key)
			if err != nil {
				t.Fatal(err)
			}
			// The clock of the test is not the judge's.
			if err := judge.VerifyIgnoringTimestamp(one.body, one.header); (err == nil) != want {
				t.Errorf("%d µs after the change, %s with %s: %v", c.at-noon, c.id, key, err)
			}
		}
		s.tried(c.id, 1)
	}
}
