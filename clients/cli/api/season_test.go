package api_test

import (
	"encoding/json"
	"fmt"
	"io"
	"net/http"
	"testing"

	"google.golang.org/protobuf/proto"

	"rowdatum/clients/cli/api"
	rowdatumv1 "rowdatum/proto/gen/rowdatum/v1"
)

// TestQuestionsOfTheSeason: every question goes where the contract has it, in the language that is wanted.
func TestQuestionsOfTheSeason(t *testing.T) {
	var asked string
	client := serve(t, func(w http.ResponseWriter, r *http.Request) {
		asked = r.Method + " " + r.URL.RequestURI() + " " + r.Header.Get("Accept-Language")
		fmt.Fprint(w, `{"name": "planters/p/digs/d"}`)
	})
	client.Language = "es"
	for _, tt := range []struct {
		want string
		ask  func() error
	}{
		{"GET /v1/planters/p:fieldMove?deltaMm=-6.35 es", func() error { _, _, err := client.FieldMove(t.Context(), "planters/p", -6.35); return err }},
		{"GET /v1/planters/p:indexCard es", func() error { _, _, err := client.IndexCard(t.Context(), "planters/p"); return err }},
		{"GET /v1/planters/p:wear es", func() error { _, _, err := client.Wear(t.Context(), "planters/p", nil); return err }},
		{"GET /v1/planters/p:wear?confidence=0.95 es", func() error { _, _, err := client.Wear(t.Context(), "planters/p", proto.Float64(0.95)); return err }},
		{"GET /v1/planters/p/digs/d es", func() error { _, err := client.Dig(t.Context(), "planters/p/digs/d"); return err }},
		{"GET /v1/planters/p/digs?pageSize=200 es", func() error { _, err := client.Digs(t.Context(), "planters/p"); return err }},
		{"GET /v1/planters/p/digs/d:analyze?aim.confidence=0.8&aim.withinMm=0 es", func() error {
			_, _, err := client.AnalyzeDig(t.Context(), "planters/p/digs/d", &rowdatumv1.DigAim{Confidence: proto.Float64(0.8), WithinMm: proto.Float64(0)})
			return err
		}},
		{"GET /v1/planters/p/jobs/j:sheet?format=PDF&paper=LETTER es", func() error {
			_, err := client.Sheet(t.Context(), "planters/p/jobs/j", rowdatumv1.GetJobSheetRequest_PDF, rowdatumv1.GetJobSheetRequest_LETTER)
			return err
		}},
		{"GET /v1/fixtures/f es", func() error { _, err := client.Fixture(t.Context(), "fixtures/f"); return err }},
	} {
		if err := tt.ask(); err != nil || asked != tt.want {
			t.Errorf("asked %s, want %s (%v)", asked, tt.want, err)
		}
	}
}

// TestStudyCarriesAnID: what may change something has an id, and its name is in the address alone.
func TestStudyCarriesAnID(t *testing.T) {
	client := serve(t, func(w http.ResponseWriter, r *http.Request) {
		text, _ := io.ReadAll(r.Body)
		var body map[string]any
		if err := json.Unmarshal(text, &body); err != nil || r.Method != "POST" || r.URL.Path != "/v1/fixtures/f:study" || body["requestId"] == nil || body["name"] != nil {
			t.Errorf("%s got %s", r.URL, text)
		}
		fmt.Fprint(w, `{"verdict": "Good enough."}`)
	})
	study, _, err := client.StudyFixture(t.Context(), &rowdatumv1.StudyFixtureRequest{Name: "fixtures/f", Apply: true})
	if err != nil || study.GetVerdict() != "Good enough." {
		t.Errorf("got %v, %v", study, err)
	}
}

// TestNamesThatAreNone never reach another method's address.
func TestNamesThatAreNone(t *testing.T) {
	client := serve(t, func(w http.ResponseWriter, r *http.Request) { t.Errorf("asked %s", r.URL) })
	for _, name := range []string{"", "planters/", "planters/p:wear", "planters/p/jobs/j", "fixtures/f"} {
		if _, _, err := client.Planter(t.Context(), name); err == nil {
			t.Errorf("%q is taken for a planter's name", name)
		}
	}
}

func TestSheetIsHandedOnAsItIs(t *testing.T) {
	client := serve(t, func(w http.ResponseWriter, r *http.Request) { fmt.Fprint(w, "%PDF-1.7 \xff") })
	if text, err := client.Sheet(t.Context(), "planters/p/jobs/j", rowdatumv1.GetJobSheetRequest_PDF, 0); err != nil || string(text) != "%PDF-1.7 \xff" {
		t.Errorf("got %q, %v", text, err)
	}
	if _, err := (&api.Client{Base: "http://127.0.0.1:1"}).Sheet(t.Context(), "planters/p/jobs/j", 0, 0); err == nil {
		t.Error("nobody answered, and that is no error")
	}
}
