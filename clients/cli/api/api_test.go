package api_test

import (
	"errors"
	"fmt"
	"net/http"
	"net/http/httptest"
	"strings"
	"testing"
	"time"

	"rowdatum/clients/cli/api"
)

func serve(t *testing.T, handler http.HandlerFunc) *api.Client {
	t.Helper()
	server := httptest.NewServer(handler)
	t.Cleanup(server.Close)
	return &api.Client{Base: server.URL + "/"}
}

func TestComputeHandsOnTheAnswer(t *testing.T) {
	const answer = `{"datumMm": 56.95, "rows": [{"row": 1, "predictedMm": 57.15, "aNewField": 1}]}`
	client := serve(t, func(w http.ResponseWriter, r *http.Request) {
		if r.Method != "POST" || r.URL.Path != "/v1/plans:compute" || r.Header.Get("Content-Type") != "application/json" {
			t.Errorf("got %s %s as %s", r.Method, r.URL, r.Header.Get("Content-Type"))
		}
		fmt.Fprint(w, answer)
	})
	plan, raw, err := client.Compute(t.Context(), []byte(`{}`))
	if err != nil || string(raw) != answer || plan.GetDatumMm() != 56.95 || plan.GetRows()[0].GetPredictedMm() != 57.15 {
		t.Errorf("got %v, %s, %v", plan, raw, err)
	}
}

func TestStylesReadsEveryPage(t *testing.T) {
	client := serve(t, func(w http.ResponseWriter, r *http.Request) {
		if r.URL.Query().Get("pageToken") == "" {
			fmt.Fprint(w, `{"styles": [{"name": "styles/a"}], "nextPageToken": "more=1"}`)
			return
		}
		fmt.Fprintf(w, `{"styles": [{"name": "styles/b"}, {"name": %q}]}`, r.URL.Query().Get("pageToken"))
	})
	styles, err := client.Styles(t.Context())
	if err != nil || len(styles) != 3 || styles[1].GetName() != "styles/b" || styles[2].GetName() != "more=1" {
		t.Errorf("got %v, %v", styles, err)
	}
}

func TestRefusalsArriveWhole(t *testing.T) {
	client := serve(t, func(w http.ResponseWriter, r *http.Request) {
		w.WriteHeader(http.StatusBadRequest)
		fmt.Fprint(w, `{"code": 3, "message": "Two things are wrong.", "details": [
			{"@type": "type.googleapis.com/google.rpc.ErrorInfo", "reason": "INVALID_REQUEST", "domain": "rowdatum"},
			{"@type": "type.googleapis.com/google.rpc.BadRequest", "fieldViolations": [
				{"field": "rows[3].readingsMm[0]", "description": "is 900"}, {"field": "aim.row", "description": "is 9"}]}]}`)
	})
	_, _, err := client.Compute(t.Context(), []byte(`{}`))
	var refused *api.RefusedError
	if !errors.As(err, &refused) {
		t.Fatalf("got %v", err)
	}
	const want = "Two things are wrong.\nrows[3].readingsMm[0]: is 900\naim.row: is 9"
	if refused.Error() != want || refused.Code != 3 || refused.Reason != "INVALID_REQUEST" {
		t.Errorf("got %#v", refused)
	}
}

func TestStrangeServers(t *testing.T) {
	html := func(status int) http.HandlerFunc {
		return func(w http.ResponseWriter, r *http.Request) { w.WriteHeader(status); fmt.Fprint(w, "<html>") }
	}
	tests := []struct {
		name, want string
		client     *api.Client
	}{
		{"another server", "something else than was asked for", serve(t, html(200))},
		{"a proxy's page", "answered 502 Bad Gateway", serve(t, html(502))},
		{"an endless answer", "more than 16777216 bytes", serve(t, func(w http.ResponseWriter, r *http.Request) {
			for range 17 {
				fmt.Fprint(w, strings.Repeat(" ", 1<<20))
			}
		})},
		{"nobody", "no service answers at http://127.0.0.1:1", &api.Client{Base: "http://127.0.0.1:1"}},
		{"no address", "is not the address of a service", &api.Client{Base: "http://a b"}},
	}
	for _, tt := range tests {
		if _, err := tt.client.Styles(t.Context()); err == nil || !strings.Contains(err.Error(), tt.want) {
			t.Errorf("%s: got %v, want %q in it", tt.name, err, tt.want)
		}
	}
}

func TestWaitReadyWaitsForStartingAdjusters(t *testing.T) {
	calls := 0
	client := serve(t, func(w http.ResponseWriter, r *http.Request) {
		calls++
		state := "STARTING"
		if calls == 3 {
			state = "SERVING"
		}
		fmt.Fprintf(w, `{"styles": [{"name": "styles/a", "state": %q}]}`, state)
	})
	if _, err := client.WaitReady(t.Context(), 30*time.Second); err != nil || calls != 3 {
		t.Errorf("got %v after %d calls", err, calls)
	}
	nobody := &api.Client{Base: "http://127.0.0.1:1"}
	if _, err := nobody.WaitReady(t.Context(), 50*time.Millisecond); err == nil {
		t.Error("waited for nobody and was content")
	}
}
