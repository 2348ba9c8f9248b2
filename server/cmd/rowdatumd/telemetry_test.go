package main

import (
	"bytes"
	"encoding/hex"
	"io"
	"net/http"
	"net/http/httptest"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"sync"
	"testing"
	"time"

	collector "go.opentelemetry.io/proto/otlp/collector/trace/v1"
	tracepb "go.opentelemetry.io/proto/otlp/trace/v1"
	"go.yaml.in/yaml/v3"
	"google.golang.org/protobuf/proto"

	pb "rowdatum/proto/gen/rowdatum/v1"
)

func fetched(t *testing.T, address string) string {
	t.Helper()
	res, err := http.Get(address)
	if err != nil {
		t.Fatal(err)
	}
	defer res.Body.Close()
	text, err := io.ReadAll(res.Body)
	if err != nil || res.StatusCode != http.StatusOK {
		t.Fatalf("%s: %s %s %v", address, res.Status, text, err)
	}
	return string(text)
}

// TestMetrics: what is done is counted, nothing names a shop or a job, and every metric that the alerts and
// the page name is there.
func TestMetrics(t *testing.T) {
	dir := t.TempDir()
	service := startWith(t, &flags{GRPC: "127.0.0.1:0", HTTP: "127.0.0.1:0", MetricsHTTP: "127.0.0.1:0", Store: filepath.Join(dir, "rowdatum.db"),
		Adjusters: bundle(), AddrFile: filepath.Join(dir, "addr")})
	ways := waysTo(t, service.addresses)
	job := openJob(t, ways[1], "secret-job", handles(2))
	for range 3 {
		must[*pb.AppendResponse](t)(ways[1].jobs().AddReadings(t.Context(), &pb.AddReadingsRequest{Name: job.Name, Person: ada, Readings: inMM(1, 0, 50)}))
	}
	plan := oneRow("notched-stop", 1, "mmPerNotch", "notches")
	for range 2 { // the second is remembered
		must[*pb.Plan](t)(pb.NewPlanServiceClient(service.conn).ComputePlan(t.Context(), plan))
	}
	_, _ = http.Get(service.url("/made/up/secret-path"))

	text := fetched(t, service.url("/metrics"))
	for deadline := time.Now().Add(10 * time.Second); !strings.Contains(text, "rowdatum_adjuster_memory_bytes{") && time.Now().Before(deadline); {
		time.Sleep(50 * time.Millisecond) // the meter looks once a second
		text = fetched(t, service.url("/metrics"))
	}
	for _, line := range []string{
		`rowdatum_grpc_calls_total{code="OK",method="/rowdatum.v1.JobService/AddReadings"} 3`,
		`rowdatum_grpc_call_seconds_count{method="/rowdatum.v1.PlanService/ComputePlan"} 2`,
		`rowdatum_http_requests_total{method="POST",route="/v1/{name=planters/*/jobs/*}:addReadings",status="200"} 3`,
		`rowdatum_http_requests_total{method="GET",route="none",status="404"} 1`,
		`rowdatum_adjuster_state{program="notchedstop",state="serving"} 1`,
		`rowdatum_adjuster_state{program="notchedstop",state="restarting"} 0`,
		`rowdatum_adjuster_restarts_total{program="notchedstop"} 0`,
		`rowdatum_adjuster_question_seconds_count{outcome="answered",program="notchedstop",question="options"} 1`,
		`rowdatum_store_write_errors_total 0`,
		`rowdatum_grpc_streams_open 0`,
	} {
		if !strings.Contains(text, line+"\n") {
			t.Errorf("no line %s", line)
		}
	}
	for _, some := range []string{`rowdatum_store_writes_total [1-9]`, `rowdatum_store_commit_seconds_count [1-9]`, `rowdatum_folded_jobs_remembered_total [1-9]`,
		`rowdatum_adjuster_answers_remembered_total [1-9]`, `rowdatum_build_info{`, `\ngo_goroutines `, `\nprocess_resident_memory_bytes `} {
		if !regexp.MustCompile(some).MatchString(text) {
			t.Errorf("nothing like %s", some)
		}
	}
	for _, word := range []string{"secret", job.GetName(), "local"} {
		if strings.Contains(text, word) {
			t.Errorf("the metrics speak of %q", word)
		}
	}
	if alone := fetched(t, "http://"+service.Metrics+"/metrics"); !strings.Contains(alone, "rowdatum_store_writes_total") {
		t.Error("--metrics-http serves others")
	}
	namedMetrics(t, text)
}

// namedMetrics looks for every metric that the list of alerts and the page name in what was served.
func namedMetrics(t *testing.T, served string) {
	t.Helper()
	text, err := os.ReadFile("../../../gateway/docs/alerts.yml")
	if err != nil {
		t.Fatal(err)
	}
	var list struct {
		Groups []struct {
			Name  string
			Rules []struct {
				Alert, Expr, For    string
				Labels, Annotations map[string]string
			}
		}
	}
	strict := yaml.NewDecoder(bytes.NewReader(text))
	strict.KnownFields(true)
	if err := strict.Decode(&list); err != nil {
		t.Fatalf("alerts.yml: %v", err)
	}
	metric := regexp.MustCompile(`\b(?:rowdatum|process|go)_[a-z_]*[a-z]`)
	is := func(name string) bool {
		return regexp.MustCompile(`(?m)^`+name+`(\{| )`).MatchString(served) || strings.Contains(served, "# TYPE "+name+" ")
	}
	rules := 0
	for _, group := range list.Groups {
		for _, rule := range group.Rules {
			rules++
			names := metric.FindAllString(rule.Expr, -1)
			if len(names) == 0 && rule.Alert != "RowdatumDown" || rule.Labels["severity"] == "" || rule.Annotations["summary"] == "" || rule.Annotations["action"] == "" {
				t.Errorf("the alert %q says too little: %+v", rule.Alert, rule)
			}
			if strings.Count(rule.Expr, "(") != strings.Count(rule.Expr, ")") || strings.Count(rule.Expr, "[") != strings.Count(rule.Expr, "]") {
				t.Errorf("%s: brackets of %s", rule.Alert, rule.Expr)
			}
			if _, err := time.ParseDuration(rule.For); err != nil && rule.For != "" {
				t.Errorf("%s: for %q", rule.Alert, rule.For)
			}
			for _, name := range names {
				if !is(name) {
					t.Errorf("%s looks at %s, which is not there", rule.Alert, name)
				}
			}
		}
	}
	if rules < 8 {
		t.Errorf("only %d alerts", rules)
	}
	page, err := os.ReadFile("../../../gateway/docs/running.md")
	if err != nil {
		t.Fatal(err)
	}
	for _, name := range metric.FindAllString(string(page), -1) {
		if !is(name) && strings.HasPrefix(name, "rowdatum_") {
			t.Errorf("the page names %s, which is not there", name)
		}
	}
	for _, line := range regexp.MustCompile(`# TYPE (rowdatum_\S+)`).FindAllStringSubmatch(served, -1) {
		if !strings.Contains(string(page), "`"+line[1]+"`") {
			t.Errorf("the page does not name %s", line[1])
		}
	}
}

// otlp is a collector that keeps what it is sent.
type otlp struct {
	mu    sync.Mutex
	spans []*tracepb.Span
}

func (o *otlp) ServeHTTP(w http.ResponseWriter, r *http.Request) {
	body, err := io.ReadAll(r.Body)
	var sent collector.ExportTraceServiceRequest
	if err != nil || r.URL.Path != "/v1/traces" || proto.Unmarshal(body, &sent) != nil {
		http.Error(w, "not a trace", http.StatusBadRequest)
		return
	}
	o.mu.Lock()
	defer o.mu.Unlock()
	for _, from := range sent.GetResourceSpans() {
		for _, scope := range from.GetScopeSpans() {
			o.spans = append(o.spans, scope.GetSpans()...)
		}
	}
	w.Header().Set("Content-Type", "application/x-protobuf")
}

// named returns the spans of a name.
func (o *otlp) named(name string) (found []*tracepb.Span) {
	o.mu.Lock()
	defer o.mu.Unlock()
	for _, s := range o.spans {
		if s.GetName() == name {
			found = append(found, s)
		}
	}
	return found
}

// TestOneTrace: a plan that is asked for by HTTP is one trace, from the caller's own over gateway and service
// to the adjuster, each the parent of the next; probes leave none, and a watch still streams.
func TestOneTrace(t *testing.T) {
	var sink otlp
	collects := httptest.NewServer(&sink)
	defer collects.Close()
	const callers = "4bf92f3577b34da6a3ce929d0e0e4736"
	t.Run("service", func(t *testing.T) { // its spans are all sent when it has stopped
		dir := t.TempDir()
		service := startWith(t, &flags{GRPC: "127.0.0.1:0", HTTP: "127.0.0.1:0", Store: filepath.Join(dir, "rowdatum.db"),
			Adjusters: bundle(), AddrFile: filepath.Join(dir, "addr"), OTLP: collects.URL})
		fetched(t, service.url("/readyz"))
		text, err := os.ReadFile("../../../testdata/requests/contract-example.json")
		if err != nil {
			t.Fatal(err)
		}
		req, err := http.NewRequest(http.MethodPost, service.url("/v1/plans:compute"), bytes.NewReader(text))
		if err != nil {
			t.Fatal(err)
		}
		req.Header.Set("Content-Type", "application/json")
		req.Header.Set("X-Request-Id", "my-plan")
		req.Header.Set("Traceparent", "00-"+callers+"-00f067aa0ba902b7-01")
		res, err := http.DefaultClient.Do(req)
		if err != nil {
			t.Fatal(err)
		}
		res.Body.Close()
		if res.StatusCode != http.StatusOK {
			t.Fatal(res.Status)
		}
		ways := waysTo(t, service.addresses)
		job := openJob(t, ways[1], "one", handles(2))
		watchAsBrowser(t, service.addresses, job.GetName(), "")
	})
	edge, call := sink.named("POST /v1/plans:compute"), sink.named("rowdatum.v1.PlanService/ComputePlan")
	var options []*tracepb.Span
	for _, s := range sink.named("rowdatum.adjuster.v1.Adjuster/Options") {
		if hex.EncodeToString(s.GetTraceId()) == callers {
			options = append(options, s)
		}
	}
	if len(edge) != 1 || len(call) != 1 || len(options) != 3 {
		t.Fatalf("%d spans of the gateway, %d of the service, %d of questions to the three adjusters", len(edge), len(call), len(options))
	}
	if got := hex.EncodeToString(edge[0].GetTraceId()); got != callers {
		t.Errorf("the trace is %s, not the caller's", got)
	}
	if !bytes.Equal(call[0].GetParentSpanId(), edge[0].GetSpanId()) || call[0].GetKind() != tracepb.Span_SPAN_KIND_SERVER {
		t.Errorf("the service's span does not follow from the gateway's: %v", call[0])
	}
	for _, s := range options {
		if !bytes.Equal(s.GetParentSpanId(), call[0].GetSpanId()) {
			t.Errorf("the question does not follow from the service's call: %v", s)
		}
	}
	if !strings.Contains(edge[0].String(), "my-plan") {
		t.Errorf("the span does not name the request: %v", edge[0])
	}
	sink.mu.Lock()
	defer sink.mu.Unlock()
	for _, s := range sink.spans {
		if strings.Contains(s.GetName(), "ealth") || strings.Contains(s.GetName(), "readyz") || strings.Contains(s.GetName(), "ListStyles") && len(s.GetParentSpanId()) > 0 {
			t.Errorf("a probe left the span %s", s.GetName())
		}
	}
}
