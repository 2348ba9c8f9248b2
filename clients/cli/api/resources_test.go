package api_test

import (
	"encoding/json"
	"fmt"
	"io"
	"net/http"
	"regexp"
	"strings"
	"sync"
	"testing"
	"time"

	"rowdatum/clients/cli/api"
	rowdatumv1 "rowdatum/proto/gen/rowdatum/v1"
)

// hangUp breaks the connection without an answer.
func hangUp(t *testing.T, w http.ResponseWriter) {
	t.Helper()
	conn, _, err := http.NewResponseController(w).Hijack()
	if err != nil {
		t.Error(err)
		return
	}
	conn.Close()
}

func TestWriteIsSentOnceMoreWithTheSameID(t *testing.T) {
	uuid := regexp.MustCompile(`^[0-9a-f]{8}-[0-9a-f]{4}-4[0-9a-f]{3}-[89ab][0-9a-f]{3}-[0-9a-f]{12}$`)
	for broken := range 3 {
		var mu sync.Mutex // a connection that breaks orders nothing
		var ids []string
		client := serve(t, func(w http.ResponseWriter, r *http.Request) {
			mu.Lock()
			defer mu.Unlock()
			body, _ := io.ReadAll(r.Body)
			var asked struct {
				RequestID string `json:"requestId"`
				Person    string
			}
			if err := json.Unmarshal(body, &asked); err != nil || asked.Person != "Ada" || r.URL.Path != "/v1/planters/p/jobs/j:addNotes" {
				t.Errorf("got %s with %s", r.URL.Path, body)
			}
			if ids = append(ids, asked.RequestID); len(ids) <= broken {
				hangUp(t, w)
				return
			}
			fmt.Fprint(w, `{"job": {"revision": 2}}`)
		})
		done, _, err := client.Append(t.Context(), "planters/p/jobs/j", &rowdatumv1.AddNotesRequest{Person: "Ada"})
		mu.Lock()
		if len(ids) != min(broken+1, 2) || !uuid.MatchString(ids[0]) || ids[len(ids)-1] != ids[0] {
			t.Errorf("%d broken: sent with the ids %v", broken, ids)
		}
		if fails := broken == 2; (err != nil) != fails || !fails && done.GetJob().GetRevision() != 2 {
			t.Errorf("%d broken: got %v, %v", broken, done, err)
		}
		mu.Unlock()
	}
}

func TestRefusedWriteIsNotSentAgain(t *testing.T) {
	sent := 0
	client := serve(t, func(w http.ResponseWriter, r *http.Request) {
		sent++
		w.WriteHeader(http.StatusServiceUnavailable)
		fmt.Fprint(w, `{"code": 14, "message": "The adjuster is down.", "details": []}`)
	})
	if _, _, err := client.CreatePlanter(t.Context(), "", []byte(`{}`)); err == nil || sent != 1 {
		t.Errorf("sent %d times, got %v", sent, err)
	}
}

func TestCreateSaysWhatIsWanted(t *testing.T) {
	var ids []string
	client := serve(t, func(w http.ResponseWriter, r *http.Request) {
		query := r.URL.Query()
		ids = append(ids, query.Get("requestId"))
		if query.Get("jobId") != "spring" || query.Has("person") || r.Header.Get("Authorization") != "Bearer secret" {
			t.Errorf("got %s with %v", r.URL, r.Header)
		}
		fmt.Fprint(w, `{"name": "planters/p/jobs/spring"}`)
	})
	client.Key = "secret"
	for range 2 {
		job, _, err := client.CreateJob(t.Context(), "planters/p", "spring", "", &rowdatumv1.Job{})
		if err != nil || job.GetName() != "planters/p/jobs/spring" {
			t.Errorf("got %v, %v", job, err)
		}
	}
	if ids[0] == ids[1] {
		t.Errorf("two writes share the id %s", ids[0])
	}
}

// news is one line of a watch.
func news(stage string, revisions ...int) string {
	var events []string
	for _, revision := range revisions {
		events = append(events, fmt.Sprintf(`{"revision": %d}`, revision))
	}
	return fmt.Sprintf(`{"result": {"events": [%s], "job": {"stage": %q}}}`+"\n", strings.Join(events, ","), stage)
}

func TestWatchGoesOnWhereItBroke(t *testing.T) {
	var mu sync.Mutex
	var after []string
	client := serve(t, func(w http.ResponseWriter, r *http.Request) {
		mu.Lock()
		defer mu.Unlock()
		after = append(after, r.URL.Query().Get("afterRevision"))
		switch len(after) {
		case 1:
			fmt.Fprint(w, news("OPEN", 1, 2), `{"result": {}}`+"\n", news("OPEN", 3)) // and it ends
		case 2:
			hangUp(t, w)
		case 3:
			fmt.Fprint(w, news("OPEN", 4), `{"result": {"eve`) // cut off
		case 4:
			fmt.Fprint(w, `{"error": {"code": 8, "message": "News were not taken in time."}}`+"\n")
		default:
			fmt.Fprint(w, news("SIGNED", 5), news("SIGNED", 6))
		}
	})
	var seen []int32
	lost := 0
	watcher := api.Watcher{Client: client, Job: "planters/p/jobs/j", Pause: time.Millisecond, Lost: func(error) { lost++ },
		News: func(m *rowdatumv1.WatchJobResponse, raw []byte) error {
			for _, e := range m.GetEvents() {
				seen = append(seen, e.GetRevision())
			}
			if !json.Valid(raw) {
				t.Errorf("got %s", raw)
			}
			return nil
		}}
	err := watcher.Run(t.Context())
	mu.Lock()
	defer mu.Unlock()
	if err != nil || fmt.Sprint(seen) != "[1 2 3 4 5]" || fmt.Sprintf("%q", after) != `["" "3" "3" "4" "4"]` || lost != 3 {
		t.Errorf("saw %v after asking behind %q, %d times lost, %v", seen, after, lost, err)
	}
}

func TestWatchThatCannotBeginFails(t *testing.T) {
	refusing := serve(t, func(w http.ResponseWriter, r *http.Request) {
		w.WriteHeader(http.StatusNotFound)
		fmt.Fprint(w, `{"code": 5, "message": "There is no such job."}`)
	})
	for want, client := range map[string]*api.Client{"There is no such job.": refusing, "no service answers": {Base: "http://127.0.0.1:1"}} {
		watcher := api.Watcher{Client: client, Job: "planters/p/jobs/j", Pause: time.Millisecond}
		if err := watcher.Run(t.Context()); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("got %v, want %s", err, want)
		}
	}
}
