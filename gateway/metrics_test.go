package gateway

import (
	"context"
	"fmt"
	"net/http"
	"slices"
	"strings"
	"sync"
	"testing"

	pb "rowdatum/proto/gen/rowdatum/v1"
)

// TestMetricsAreGuarded: open to the machine's own callers where those need no key; elsewhere a shop's key
// opens them, and a link does not.
func TestMetricsAreGuarded(t *testing.T) {
	numbers := http.HandlerFunc(func(w http.ResponseWriter, _ *http.Request) { fmt.Fprint(w, "numbers 1\n") })
	keys := map[string]*pb.Session{
		"rd_READER": {Shop: "creek", Role: pb.Role_READER},
		"rd_LINK":   {Shop: "creek", Role: pb.Role_READER, Job: "planters/p/jobs/j"},
	}
	near := serve(t, &fakeService{keys: keys}, Options{Metrics: numbers})
	far := serve(t, &fakeService{keys: keys}, Options{Metrics: numbers, KeysOnly: true})
	for _, c := range []struct {
		name, host, key string
		keysOnly        bool
		status          int
	}{
		{"own machine", "", "", false, 200},
		{"another name", "shop.example", "", false, 401},
		{"another name, with a key", "shop.example", "rd_READER", false, 200},
		{"keys only", "", "", true, 401},
		{"keys only, with a key", "", "rd_READER", true, 200},
		{"keys only, with a link", "", "rd_LINK", true, 403},
		{"keys only, with a wrong key", "", "rd_WRONG", true, 401},
	} {
		front := near
		if c.keysOnly {
			front = far
		}
		req, err := http.NewRequest("GET", front.URL+"/metrics", nil)
		if err != nil {
			t.Fatal(err)
		}
		req.Host = c.host
		if c.key != "" {
			req.Header.Set("Authorization", "Bearer "+c.key)
		}
		res, err := front.Client().Do(req)
		if err != nil {
			t.Fatal(err)
		}
		res.Body.Close()
		if res.StatusCode != c.status {
			t.Errorf("%s: %s, want %d", c.name, res.Status, c.status)
		}
	}
	if got := send(t, serve(t, &fakeService{}, Options{}), "GET", "/metrics", ""); got.StatusCode != 404 {
		t.Errorf("a gateway without metrics: %s", got.Status)
	}
}

// TestProbeWithoutAKey: where keys are asked for, a probe hears of service and store, and the service is not
// asked what it would refuse. With a key it hears of the styles too.
func TestProbeWithoutAKey(t *testing.T) {
	f := &fakeService{styles: []*pb.Style{{Name: "styles/a", State: pb.StyleState_SERVING}}}
	front := serve(t, f, Options{KeysOnly: true})
	got := send(t, front, "GET", "/readyz", "")
	if got.StatusCode != 200 || f.page != nil || !strings.Contains(got.text, `"styles":[]`) {
		t.Errorf("%s %s; the styles were asked for: %v", got.Status, got.text, f.page)
	}
	got = send(t, front, "GET", "/readyz", "", "Authorization", "Bearer rd_ANY")
	if got.StatusCode != 200 || f.page == nil || !strings.Contains(got.text, "styles/a") {
		t.Errorf("with a key: %s %s", got.Status, got.text)
	}
}

// TestSeen hears of every request, and of nothing that a caller makes up.
func TestSeen(t *testing.T) {
	var mu sync.Mutex
	var seen []string
	front := serve(t, &fakeService{}, Options{Seen: func(_ context.Context, s Seen) {
		mu.Lock()
		defer mu.Unlock()
		seen = append(seen, fmt.Sprint(s.Method, " ", s.Route, " ", s.Status, " ", s.RequestID))
	}})
	compute(t, front, "{}", "X-Request-Id", "a")
	send(t, front, "GET", "/made/up", "", "X-Request-Id", "b")
	send(t, front, "BREW", "/v1/styles/pot", "", "X-Request-Id", "c")
	send(t, front, "GET", "/v1/styles/pot", "", "X-Request-Id", "d")
	mu.Lock()
	defer mu.Unlock()
	want := []string{"POST /v1/plans:compute 200 a", "GET none 404 b", "other none 405 c", "GET /v1/{name=styles/*} 200 d"}
	if !slices.Equal(seen, want) {
		t.Errorf("seen\n%q\nwant\n%q", seen, want)
	}
}
