package hooks

import (
	"io"
	"net/http"
	"net/http/httptest"
	"net/netip"
	"path/filepath"
	"slices"
	"sync"
	"testing"
	"time"

	standardwebhooks "github.com/standard-webhooks/standard-webhooks/libraries/go"

	"rowdatum/server/internal/flow"
	"rowdatum/server/internal/store"
	"rowdatum/server/leveling"
)

const secret = "whsec_MfKQ9r8GKYqrTwjUPD8ILPZIo2LaLaSw"

func now() leveling.Micros { return leveling.Micros(time.Now().UnixMicro()) }

// started is a deliverer with quick times on a store that has one hook and its deliveries.
func started(t *testing.T, url string, toPrivate bool, jobs ...string) *store.Store {
	t.Helper()
	kept, err := store.Open(t.Context(), filepath.Join(t.TempDir(), "rowdatum.db"), nil)
	if err != nil {
		t.Fatal(err)
	}
	err = kept.Write(t.Context(), func(tx flow.Tx) error {
		if err := tx.PutHook("north", flow.Hook{ID: "h", URL: url, Events: []flow.HookEvent{flow.JobSigned}, Secret: secret, Revision: 1}); err != nil {
			return err
		}
		for i, job := range jobs {
			id := job + string(rune('1'+i))
			if err := tx.PutDelivery(flow.Delivery{Shop: "north", Hook: "h", ID: id, Job: job, Event: flow.JobSigned, Body: `{"id":"` + id + `"}`, CreateTime: now()}); err != nil {
				return err
			}
		}
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	d := Start(Options{Store: kept, Now: now, ToPrivate: toPrivate, Timeout: 200 * time.Millisecond, Look: 5 * time.Millisecond,
		Pause: func(int) time.Duration { return 20 * time.Millisecond }, GiveUp: 300 * time.Millisecond})
	t.Cleanup(func() {
		d.Close()
		if err := kept.Close(); err != nil {
			t.Error(err)
		}
	})
	return kept
}

// ended waits until nothing waits, and returns what became of each delivery.
func ended(t *testing.T, kept *store.Store) map[string]flow.Delivery {
	t.Helper()
	for deadline := time.Now().Add(10 * time.Second); time.Now().Before(deadline); time.Sleep(10 * time.Millisecond) {
		out, waiting := map[string]flow.Delivery{}, false
		err := kept.Read(t.Context(), func(v flow.View) error {
			all, err := v.Deliveries("north", "h", flow.Query{Limit: 100})
			for _, d := range all {
				out[d.ID], waiting = d, waiting || d.State == flow.Waiting
			}
			return err
		})
		if err != nil {
			t.Fatal(err)
		}
		if !waiting {
			return out
		}
	}
	t.Fatal("deliveries still wait after 10 s")
	return nil
}

// TestDelivers: a receiver that fails, hangs and leads elsewhere holds back its own job only; what it takes is
// signed, and comes in order.
func TestDelivers(t *testing.T) {
	judge, err := standardwebhooks.NewWebhook(secret)
	if err != nil {
		t.Fatal(err)
	}
	var mu sync.Mutex
	var took []string
	tries := map[string]int{}
	receiver := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		body, _ := io.ReadAll(r.Body)
		if err := judge.Verify(body, r.Header); err != nil {
			t.Errorf("%s: %v", body, err)
		}
		id := r.Header.Get("webhook-id")
		mu.Lock()
		tries[id]++
		try := tries[id]
		mu.Unlock()
		switch {
		case id == "dead3":
			w.WriteHeader(http.StatusInternalServerError)
		case id == "a1" && try == 1:
			w.WriteHeader(http.StatusServiceUnavailable)
		case id == "a1" && try == 2:
			<-r.Context().Done() // hangs
		case id == "b2" && try == 1:
			http.Redirect(w, r, "/elsewhere", http.StatusTemporaryRedirect)
		default:
			mu.Lock()
			took = append(took, id)
			mu.Unlock()
		}
	}))
	defer receiver.Close()
	got := ended(t, started(t, receiver.URL, true, "a", "b", "dead", "a", "dead"))
	if !slices.Equal(filter(took, "a"), []string{"a1", "a4"}) || !slices.Equal(filter(took, "d"), []string{"dead5"}) || len(took) != 4 {
		t.Errorf("taken: %v", took)
	}
	if d := got["dead3"]; d.State != flow.Dead || d.LastStatus != 500 || d.Attempts < 2 || d.LastProblem != "answered 500 Internal Server Error" {
		t.Errorf("given up: %+v", d)
	}
	if d := got["a1"]; d.State != flow.Delivered || d.Attempts != 3 || d.LastProblem != "" {
		t.Errorf("delivered at last: %+v", d)
	}
}

func filter(ids []string, first string) []string {
	return slices.DeleteFunc(slices.Clone(ids), func(id string) bool { return id[:1] != first })
}

// TestNotToPrivate: nothing reaches this machine, by its address or by a name that leads to it.
func TestNotToPrivate(t *testing.T) {
	receiver := httptest.NewServer(http.HandlerFunc(func(http.ResponseWriter, *http.Request) { t.Error("a delivery reached this machine") }))
	defer receiver.Close()
	port := netip.MustParseAddrPort(receiver.Listener.Addr().String()).Port()
	for _, host := range []string{"127.0.0.1", "localhost"} {
		url := "http://" + netip.AddrPortFrom(netip.IPv4Unspecified(), port).String()
		url = "http://" + host + url[len("http://0.0.0.0"):]
		for _, d := range ended(t, started(t, url, false, "a")) {
			if d.State != flow.Dead || d.LastStatus != 0 || d.LastProblem == "" {
				t.Errorf("%s: %+v", url, d)
			}
		}
	}
	for _, text := range []string{"127.0.0.1", "10.1.2.3", "172.31.0.1", "192.168.1.1", "169.254.169.254", "100.64.0.1", "0.0.0.0", "224.0.0.1", "255.255.255.255",
		"::1", "::", "fe80::1", "fc00::1", "ff02::1", "::ffff:10.0.0.1", "64:ff9b::a00:1", "2002:a00:1::", "2001:0:a00:1::"} {
		if flow.PublicAddress(netip.MustParseAddr(text)) {
			t.Errorf("%s passes for public", text)
		}
	}
	for _, text := range []string{"1.1.1.1", "100.128.0.1", "172.32.0.1", "2606:4700::1111"} {
		if !flow.PublicAddress(netip.MustParseAddr(text)) {
			t.Errorf("%s does not pass for public", text)
		}
	}
}
