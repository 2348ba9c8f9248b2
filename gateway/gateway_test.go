package gateway

import (
	"bufio"
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"net"
	"net/http"
	"net/http/httptest"
	"os"
	"slices"
	"strings"
	"testing"
	"time"

	"go.uber.org/zap"
	"go.uber.org/zap/zapcore"
	"go.uber.org/zap/zaptest/observer"
	"google.golang.org/genproto/googleapis/rpc/errdetails"
	statuspb "google.golang.org/genproto/googleapis/rpc/status"
	"google.golang.org/grpc"
	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/credentials/insecure"
	"google.golang.org/grpc/health/grpc_health_v1"
	"google.golang.org/grpc/status"
	"google.golang.org/protobuf/encoding/protojson"
	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/types/known/anypb"
	"google.golang.org/protobuf/types/known/durationpb"
	"google.golang.org/protobuf/types/known/structpb"

	"rowdatum/clients/page"
	pb "rowdatum/proto/gen/rowdatum/v1"
)

// TestWholeRequestArrives sends the contract's example and wants it at the service word for word.
func TestWholeRequestArrives(t *testing.T) {
	body, err := os.ReadFile("../testdata/requests/contract-example.json")
	if err != nil {
		t.Fatal(err)
	}
	f := &fakeService{plan: &pb.Plan{DatumMm: 56.95, Rows: []*pb.RowPlan{{Row: 3, Verdict: pb.Verdict_EVEN, PredictedMm: proto.Float64(57.2), Why: "a < b"}}}}
	front := serve(t, f, Options{})
	got := compute(t, front, string(body))
	const want = `{"datumMm":56.95,"spreadBeforeMm":0,"spreadAfterMm":0,"touchedRows":0,"rereadRows":0,"workSeconds":0,"provableToleranceMm":0,"planterChance":0,"planterChanceAfter":0,` +
		`"rows":[{"row":3,"estimateMm":0,"uncertaintyMm":0,"verdict":"EVEN","chance":0,"predictedMm":57.2,"readingsToSettle":0,"why":"a < b","expectedEven":false}],"tradeoff":[],"marks":[],"cautions":[]}`
	if got.StatusCode != 200 || got.text != want || got.Header.Get("Content-Type") != "application/json" {
		t.Errorf("%s\n got %s\nwant %s", got.Status, got.text, want)
	}
	sent := &pb.ComputePlanRequest{}
	if err := protojson.Unmarshal(body, sent); err != nil {
		t.Fatal(err)
	}
	if !proto.Equal(f.asked, sent) {
		t.Errorf("arrived %v\nsent %v", f.asked, sent)
	}
}

// TestFirstPageShowsTheExample keeps the request in the pages and the one in testdata the same.
func TestFirstPageShowsTheExample(t *testing.T) {
	page, err := os.ReadFile("docs/index.md")
	if err != nil {
		t.Fatal(err)
	}
	_, rest, _ := strings.Cut(string(page), "```json first-plan.json\n")
	shown, _, _ := strings.Cut(rest, "```")
	file, err := os.ReadFile("../testdata/requests/contract-example.json")
	if err != nil {
		t.Fatal(err)
	}
	a, b := &pb.ComputePlanRequest{}, &pb.ComputePlanRequest{}
	if err := errors.Join(protojson.Unmarshal([]byte(shown), a), protojson.Unmarshal(file, b)); err != nil {
		t.Fatal(err)
	}
	if !proto.Equal(a, b) {
		t.Error("docs/index.md shows another request than testdata/requests/contract-example.json")
	}
}

func TestStrictness(t *testing.T) {
	f := &fakeService{}
	front := serve(t, f, Options{})
	for _, c := range []struct {
		name, method, path, body string
		want                     []string
	}{
		{"unknown field, unknown word, NaN, all at once", "POST", computePath, `{"aim":{"toleranceMM":2,"kind":"BEST"},"rows":[{"row":1,"readingsMm":["NaN",1e999]}]}`, []string{
			"aim.toleranceMM: unknown field; did you mean toleranceMm?",
			`aim.kind: "BEST" is not known, must be LEAST_WORK, CLOSEST, MATCH_ROW or SET_DEPTH`,
			`rows[0].readingsMm[0]: is the text "NaN", must be an ordinary number`,
			"rows[0].readingsMm[1]: is 1e999, which is too large"}},
		{"twice", "POST", computePath, `{"rows":[],"rows":[]}`, []string{"rows: is given more than once"}},
		{"fraction", "POST", computePath, `{"rows":[{"row":3.5}]}`, []string{"rows[0].row: is 3.5, must be a whole number from -2147483648 to 2147483647"}},
		{"empty", "POST", computePath, ``, []string{"body: line 1, column 1: found the end, expected an object"}},
		{"malformed", "POST", computePath, "{\"rows\":\n  [}", []string{`rows[0]: line 2, column 4: found "}", expected an object`}},
		{"behind the value", "POST", computePath, `{}{}`, []string{`body: line 1, column 3: found "{", expected the end of the text`}},
		{"query on a call with a body", "POST", computePath + "?aim.kind=CLOSEST", `{}`, []string{`["aim.kind"]: unknown query parameter; this call takes none`}},
		{"unknown query parameter", "GET", "/v1/styles?pagesize=3", ``, []string{"pagesize: unknown query parameter; did you mean pageSize?"}},
		{"bad number in the query", "GET", "/v1/styles?pageSize=ten", ``, []string{`pageSize: is the text "ten", must be a whole number from -2147483648 to 2147483647`}},
		{"token of a wrong kind", "GET", "/v1/styles?pageToken=%ff", ``, []string{"pageToken: is not UTF-8 text"}},
		{"token twice", "GET", "/v1/styles?pageToken=a&page_token=b", ``, []string{"pageToken: is given more than once"}},
		{"query that is none", "GET", "/v1/styles?pageSize=%zz", ``, []string{"query: cannot be read; it must be name=value pairs with & between them, anything but letters and digits as %XX"}},
		{"bound by the address", "GET", "/v1/styles/a?name=styles/b", ``, []string{"name: unknown query parameter; known here: lengthUnit"}},
		{"name that is no text", "GET", "/v1/styles/%ff", ``, []string{"name: is not UTF-8 text"}},
	} {
		t.Run(c.name, func(t *testing.T) {
			got := send(t, front, c.method, c.path, c.body, "Content-Type", "application/json")
			p := got.problem(t)
			if got.StatusCode != 400 || p.Code != int(codes.InvalidArgument) || !slices.Equal(p.violations(), c.want) {
				t.Errorf("%s %s\n got %q\nwant %q", got.Status, p.Message, p.violations(), c.want)
			}
		})
	}
	if f.asked != nil || f.page != nil || f.name != "" {
		t.Error("a refused request reached the service")
	}
}

func TestQueryArrives(t *testing.T) {
	f := &fakeService{}
	front := serve(t, f, Options{})
	if got := send(t, front, "GET", "/v1/styles?pageSize=7&page_token=x", ""); got.StatusCode != 200 || got.text != `{"styles":[],"nextPageToken":""}` {
		t.Errorf("%s %s", got.Status, got.text)
	}
	if f.page.GetPageSize() != 7 || f.page.GetPageToken() != "x" {
		t.Errorf("arrived %v", f.page)
	}
	if got := send(t, front, "GET", "/v1/styles/threaded-handle", ""); got.StatusCode != 200 || f.name != "styles/threaded-handle" {
		t.Errorf("%s, arrived %q", got.Status, f.name)
	}
}

func TestRefusedAtTheDoor(t *testing.T) {
	f := &fakeService{}
	front := serve(t, f, Options{})
	for _, c := range []struct {
		name, method, path, body string
		headers                  []string
		status                   int
		code                     codes.Code
		reason                   string
	}{
		{"no such path", "GET", "/v1/plans", "", nil, 404, codes.NotFound, "NO_SUCH_PATH"},
		{"nothing there", "GET", "/favicon.ico", "", nil, 404, codes.NotFound, "NO_SUCH_PATH"},
		{"wrong method", "GET", computePath, "", nil, 405, codes.Unimplemented, "METHOD_NOT_ALLOWED"},
		{"wrong method of a page", "POST", "/docs", "", nil, 405, codes.Unimplemented, "METHOD_NOT_ALLOWED"},
		{"method override", "POST", "/v1/styles", "", []string{"X-HTTP-Method-Override", "GET", "Content-Type", "application/x-www-form-urlencoded"}, 405, codes.Unimplemented, "METHOD_NOT_ALLOWED"},
		{"form to a reading route", "POST", "/v1/styles", "pageSize=1", []string{"Content-Type", "application/x-www-form-urlencoded"}, 405, codes.Unimplemented, "METHOD_NOT_ALLOWED"},
		{"form to a writing route", "POST", computePath, "rows=1", []string{"Content-Type", "application/x-www-form-urlencoded"}, 415, codes.InvalidArgument, "NOT_JSON"},
		{"text", "POST", computePath, "{}", []string{"Content-Type", "text/plain"}, 415, codes.InvalidArgument, "NOT_JSON"},
		{"no type", "POST", computePath, "{}", nil, 415, codes.InvalidArgument, "NOT_JSON"},
		{"other charset", "POST", computePath, "{}", []string{"Content-Type", "application/json; charset=latin1"}, 415, codes.InvalidArgument, "NOT_JSON"},
		{"compressed", "POST", computePath, "{}", []string{"Content-Type", "application/json", "Content-Encoding", "gzip"}, 415, codes.InvalidArgument, "NOT_JSON"},
		{"too large", "POST", computePath, `{"rows":[` + strings.Repeat(" ", 1<<20) + `]}`, []string{"Content-Type", "application/json"}, 413, codes.ResourceExhausted, "BODY_TOO_LARGE"},
	} {
		t.Run(c.name, func(t *testing.T) {
			got := send(t, front, c.method, c.path, c.body, c.headers...)
			p := got.problem(t)
			if got.StatusCode != c.status || p.Code != int(c.code) || p.Details[0].Reason != c.reason {
				t.Errorf("%s %s", got.Status, got.text)
			}
		})
	}
	if f.asked != nil || f.page != nil {
		t.Error("a refused request reached the service")
	}
	for path, want := range map[string]string{computePath: "POST", "/v1/styles": "GET", "/v1/styles/a": "GET", "/docs": "GET, HEAD"} {
		if got := send(t, front, "DELETE", path, "").Header.Get("Allow"); got != want {
			t.Errorf("%s: Allow %q, want %q", path, got, want)
		}
	}
	if got := compute(t, front, "{}", "Content-Type", "application/json; charset=UTF-8"); got.StatusCode != 200 {
		t.Errorf("charset UTF-8: %s", got.Status)
	}
}

func TestErrorsOfTheService(t *testing.T) {
	detailed := func(c codes.Code, message string, more ...proto.Message) error {
		s := &statuspb.Status{Code: int32(c), Message: message}
		for _, d := range append([]proto.Message{&errdetails.ErrorInfo{Reason: "TOLD", Domain: "rowdatum", Metadata: map[string]string{"style": "notched-stop"}}}, more...) {
			packed, err := anypb.New(d)
			if err != nil {
				t.Fatal(err)
			}
			s.Details = append(s.Details, packed)
		}
		return status.FromProto(s).Err()
	}
	f := &fakeService{}
	front := serve(t, f, Options{})
	const words = "The adjuster for notched-stop is down (rows 2, 5)."
	for _, c := range []struct {
		err        error
		status     int
		message    string
		header     string
		headerWant string
	}{
		{detailed(codes.FailedPrecondition, words), 400, words, "", ""},
		{detailed(codes.NotFound, words), 404, words, "", ""},
		{detailed(codes.Aborted, words), 409, words, "", ""},
		{detailed(codes.AlreadyExists, words), 409, words, "", ""},
		{detailed(codes.PermissionDenied, words), 403, words, "Www-Authenticate", "Bearer"},
		{detailed(codes.Unauthenticated, words), 401, words, "Www-Authenticate", "Bearer"},
		{detailed(codes.ResourceExhausted, words, &errdetails.RetryInfo{RetryDelay: durationpb.New(2500 * time.Millisecond)}), 429, words, "Retry-After", "3"},
		{detailed(codes.Unavailable, words), 503, words, "Retry-After", "1"},
		{detailed(codes.Internal, words), 500, words, "", ""},
		{detailed(codes.DeadlineExceeded, words), 504, words, "", ""},
		{status.Error(codes.Unavailable, `connection error: desc = "transport: error while dialing"`), 503, neutral[codes.Unavailable], "Retry-After", "1"},
		{status.Error(codes.Internal, "grpc: error unmarshalling request: proto: wrong wireType"), 500, neutral[codes.Internal], "", ""},
		{status.Error(codes.Unknown, "runtime error: nil pointer"), 500, neutral[codes.Internal], "", ""},
		{status.Error(codes.Unimplemented, "unknown service rowdatum.v1.PlanService"), 501, neutral[codes.Unimplemented], "", ""},
		{errors.New("bare"), 500, neutral[codes.Internal], "", ""},
	} {
		f.err = c.err
		got := compute(t, front, "{}")
		p := got.problem(t)
		if got.StatusCode != c.status || p.Message != c.message || got.Header.Get(c.header) != c.headerWant {
			t.Errorf("%v: %s %s %s %q", c.err, got.Status, got.text, c.header, got.Header.Get(c.header))
		}
		if c.message == words && (p.Details[0].Reason != "TOLD" || p.Details[0].Metadata["style"] != "notched-stop") {
			t.Errorf("details lost: %s", got.text)
		}
	}
	f.err = status.FromProto(&statuspb.Status{Code: int32(codes.Internal), Message: words, Details: []*anypb.Any{{TypeUrl: "type.googleapis.com/none.Such"}}}).Err()
	if got := compute(t, front, "{}"); got.StatusCode != 500 || got.text != `{"code":13,"message":"`+words+`","details":[]}` {
		t.Errorf("unknown detail: %s %s", got.Status, got.text)
	}
}

// TestAnswerWithoutAPrintableForm has the service answer what JSON cannot say.
func TestAnswerWithoutAPrintableForm(t *testing.T) {
	nan := &structpb.Struct{Fields: map[string]*structpb.Value{"turns": structpb.NewNumberValue(nanValue())}}
	f := &fakeService{plan: &pb.Plan{Rows: []*pb.RowPlan{{Move: &pb.Move{SettingAfter: nan}}}}}
	got := compute(t, serve(t, f, Options{}), "{}")
	if p := got.problem(t); got.StatusCode != 500 || p.Code != int(codes.Internal) {
		t.Errorf("%s %s", got.Status, got.text)
	}
}

func nanValue() float64 { zero := 0.0; return zero / zero }

func TestHeadersBothWays(t *testing.T) {
	f := &fakeService{}
	front := serve(t, f, Options{})
	got := compute(t, front, "{}", "X-Request-Id", "job-7.a_B", "Grpc-Metadata-Shop", "mine", "Grpc-Metadata-X-Request-Id", "evil", "Grpc-Timeout", "1n",
		"Grpcgateway-Host", "evil", "X-Forwarded-For", "203.0.113.9", "X-Forwarded-Host", "evil.example", "Cookie", "a=b", "Te", "trailers", "Authorization", "Bearer k")
	if got.StatusCode != 200 {
		t.Fatalf("%s %s", got.Status, got.text)
	}
	for key, values := range f.meta {
		switch key {
		case "x-request-id":
			if !slices.Equal(values, []string{"job-7.a_B"}) {
				t.Errorf("x-request-id arrived as %q", values)
			}
		case "authorization":
			if !slices.Equal(values, []string{"Bearer k"}) {
				t.Errorf("authorization arrived as %q", values)
			}
		case "x-forwarded-for":
			if !slices.Equal(values, []string{"127.0.0.1"}) {
				t.Errorf("x-forwarded-for arrived as %q", values)
			}
		case "x-forwarded-host":
			if !slices.Equal(values, []string{strings.TrimPrefix(front.URL, "http://")}) {
				t.Errorf("x-forwarded-host arrived as %q", values)
			}
		case "x-forwarded-proto":
			if !slices.Equal(values, []string{"http"}) {
				t.Errorf("x-forwarded-proto arrived as %q", values)
			}
		case ":authority", "content-type", "user-agent", "grpc-accept-encoding":
		default:
			t.Errorf("%s travelled on: %q", key, values)
		}
	}
	if ids := got.Header.Values("X-Request-Id"); !slices.Equal(ids, []string{"job-7.a_B"}) {
		t.Errorf("X-Request-Id came back as %q", ids)
	}
	for name := range got.Header {
		if strings.Contains(strings.ToLower(name), "grpc") || strings.Contains(name, "Secret") {
			t.Errorf("%s came out", name)
		}
	}
	if len(got.Trailer) > 0 {
		t.Errorf("trailers came out: %v", got.Trailer)
	}
}

func TestRequestID(t *testing.T) {
	for given, kept := range map[string]bool{"a": true, strings.Repeat("a", 64): true, "": false, strings.Repeat("a", 65): false, "a b": false, "a\tb": false, "ä": false, `a"b`: false} {
		got := requestID(given)
		if !isPlainID(got) || kept != (got == given) {
			t.Errorf("%q became %q", given, got)
		}
	}
}

func TestSecureHeadersEverywhere(t *testing.T) {
	front := serve(t, &fakeService{}, Options{})
	for _, path := range []string{"/", "/docs", "/docs/api", "/docs/style.css", "/openapi.json", "/healthz", "/readyz", "/v1/styles", "/none", computePath} {
		h, want := send(t, front, "GET", path, "").Header, policy
		if path == "/" {
			want = page.Policy
		}
		if h.Get("Content-Security-Policy") != want || h.Get("X-Content-Type-Options") != "nosniff" || h.Get("Referrer-Policy") != "no-referrer" || !slices.Contains(h.Values("Vary"), "Origin") || h.Get("X-Request-Id") == "" {
			t.Errorf("%s: %v", path, h)
		}
	}
}

func TestOrigins(t *testing.T) {
	front := serve(t, &fakeService{}, Options{AllowedOrigins: []string{"https://shop.example"}})
	ask := []string{"Access-Control-Request-Method", "POST", "Access-Control-Request-Headers", "content-type"}
	yes := send(t, front, "OPTIONS", computePath, "", append(ask, "Origin", "https://shop.example")...)
	if yes.StatusCode != 204 || yes.Header.Get("Access-Control-Allow-Origin") != "https://shop.example" || !strings.Contains(yes.Header.Get("Access-Control-Allow-Headers"), "Content-Type") || yes.Header.Get("Access-Control-Allow-Credentials") != "" {
		t.Errorf("asked by a friend: %s %v", yes.Status, yes.Header)
	}
	if got := compute(t, front, "{}", "Origin", "https://shop.example"); got.StatusCode != 200 || got.Header.Get("Access-Control-Allow-Origin") != "https://shop.example" || !strings.Contains(got.Header.Get("Access-Control-Expose-Headers"), "ETag") {
		t.Errorf("called by a friend: %s %v", got.Status, got.Header)
	}
	for _, origin := range []string{"https://other.example", "https://shop.example.evil", "http://shop.example", "null"} {
		got := send(t, front, "OPTIONS", computePath, "", append(ask, "Origin", origin)...)
		if got.StatusCode != 405 || got.Header.Get("Access-Control-Allow-Origin") != "" {
			t.Errorf("asked by %s: %s %v", origin, got.Status, got.Header)
		}
	}
	for _, bad := range []string{"*", "shop.example", "https://shop.example/", "https://shop.example/path", "ftp://shop.example", "null", ""} {
		if _, err := New(Options{Conn: failing{}, AllowedOrigins: []string{bad}}); err == nil {
			t.Errorf("origin %q taken", bad)
		}
	}
}

// failing is a connection whose every call panics.
type failing struct{ grpc.ClientConnInterface }

func (failing) Invoke(context.Context, string, any, any, ...grpc.CallOption) error {
	panic("thrown rod")
}

func TestPanicBecomesAnAnswer(t *testing.T) {
	core, log := observer.New(zapcore.DebugLevel)
	h, err := New(Options{Conn: failing{}, Log: zap.New(core)})
	if err != nil {
		t.Fatal(err)
	}
	front := httptest.NewServer(h)
	defer front.Close()
	for range 2 { // the second call proves that the first did no harm
		got := compute(t, front, "{}")
		if p := got.problem(t); got.StatusCode != 500 || p.Code != int(codes.Internal) || strings.Contains(got.text, "rod") {
			t.Errorf("%s %s", got.Status, got.text)
		}
	}
	if lines := log.FilterLevelExact(zapcore.ErrorLevel).All(); len(lines) != 2 || !strings.Contains(fmt.Sprint(lines[0].ContextMap()["error"]), "thrown rod") {
		t.Errorf("log: %v", lines)
	}
}

func TestLogLine(t *testing.T) {
	core, log := observer.New(zapcore.InfoLevel)
	front := serve(t, &fakeService{}, Options{Log: zap.New(core)})
	compute(t, front, `{"rows":[{"mechanism":"do-not-log"}]}`, "X-Request-Id", "r1")
	send(t, front, "GET", "/healthz", "")
	send(t, front, "GET", "/v1/styles/do-not-log", "")
	lines := log.All()
	if len(lines) != 2 {
		t.Fatalf("%d lines: %v", len(lines), lines)
	}
	m := lines[0].ContextMap()
	if m["requestId"] != "r1" || m["method"] != "POST" || m["route"] != computePath || m["status"] != int64(200) || m["bytes"].(int64) < 50 {
		t.Errorf("%v", m)
	}
	if m := lines[1].ContextMap(); m["route"] != "/v1/{name=styles/*}" {
		t.Errorf("%v", m)
	}
	if text := fmt.Sprint(lines); strings.Contains(text, "do-not-log") {
		t.Errorf("the log has what callers sent: %s", text)
	}
}

func TestDeadlines(t *testing.T) {
	f := &fakeService{delay: 3 * time.Second}
	front := serve(t, f, Options{Timeout: 100 * time.Millisecond})
	start := time.Now()
	got := compute(t, front, "{}", "Grpc-Timeout", "1H")
	if p := got.problem(t); got.StatusCode != 504 || p.Code != int(codes.DeadlineExceeded) || time.Since(start) > 2*time.Second {
		t.Errorf("slow service: %s after %v: %s", got.Status, time.Since(start), got.text)
	}
}

// TestSlowBody sends a head and half a body, and then nothing.
func TestSlowBody(t *testing.T) {
	f := &fakeService{}
	front := serve(t, f, Options{Timeout: 100 * time.Millisecond})
	conn, err := net.Dial("tcp", strings.TrimPrefix(front.URL, "http://"))
	if err != nil {
		t.Fatal(err)
	}
	defer conn.Close()
	fmt.Fprintf(conn, "POST %s HTTP/1.1\r\nHost: x\r\nContent-Type: application/json\r\nContent-Length: 100\r\n\r\n{\"rows\":", computePath)
	_ = conn.SetReadDeadline(time.Now().Add(5 * time.Second))
	resp, err := http.ReadResponse(bufio.NewReader(conn), nil)
	if err != nil {
		t.Fatal(err)
	}
	text, _ := io.ReadAll(resp.Body)
	if p := (answer{resp, string(text)}).problem(t); resp.StatusCode != 408 || p.Details[0].Reason != "BODY_TOO_SLOW" || f.asked != nil {
		t.Errorf("%s %s", resp.Status, text)
	}
}

// TestConnectionOutlivesDeadlines keeps one connection over several calls, past the time of the first.
func TestConnectionOutlivesDeadlines(t *testing.T) {
	front := serve(t, &fakeService{}, Options{Timeout: 50 * time.Millisecond})
	for range 3 {
		if got := compute(t, front, "{}"); got.StatusCode != 200 {
			t.Fatalf("%s %s", got.Status, got.text)
		}
		time.Sleep(60 * time.Millisecond)
	}
}

func TestReady(t *testing.T) {
	f := &fakeService{styles: []*pb.Style{{Name: "styles/a", State: pb.StyleState_SERVING}, {Name: "styles/b", State: pb.StyleState_QUARANTINED, StateReason: "It died five times."}}}
	front := serve(t, f, Options{})
	const styles = `"styles":[{"name":"styles/a","state":"SERVING"},{"name":"styles/b","state":"QUARANTINED","reason":"It died five times."}]`
	step := func(name string, wantStatus int, want string) {
		t.Helper()
		if got := send(t, front, "GET", "/readyz", ""); got.StatusCode != wantStatus || got.text != want {
			t.Errorf("%s: %s\n got %s\nwant %s", name, got.Status, got.text, want)
		}
		if got := send(t, front, "GET", "/healthz", ""); got.StatusCode != 200 || got.text != `{"status":"SERVING"}` {
			t.Errorf("%s: /healthz %s %s", name, got.Status, got.text)
		}
	}
	step("all well", 200, `{"ready":true,"service":{"state":"SERVING"},"store":{"state":"SERVING"},`+styles+`}`)
	f.SetServingStatus("store", grpc_health_v1.HealthCheckResponse_NOT_SERVING)
	step("store full", 503, `{"ready":false,"service":{"state":"SERVING"},"store":{"state":"NOT_SERVING","reason":"The store cannot be written; the service's log says why."},`+styles+`}`)
	f.SetServingStatus("store.intact", grpc_health_v1.HealthCheckResponse_NOT_SERVING)
	step("store damaged", 503, `{"ready":false,"service":{"state":"SERVING"},"store":{"state":"NOT_SERVING","reason":"The store is damaged: nothing is written to it any more. The service's log names the newest backup."},`+styles+`}`)
	f.SetServingStatus("store", grpc_health_v1.HealthCheckResponse_SERVING)
	f.err = status.Error(codes.Internal, "broken")
	step("styles unknown", 200, `{"ready":true,"service":{"state":"SERVING"},"store":{"state":"SERVING"},"styles":[],"stylesReason":"The styles could not be asked."}`)
	f.Shutdown()
	if got := send(t, front, "GET", "/readyz", ""); got.StatusCode != 503 {
		t.Errorf("stopping: %s %s", got.Status, got.text)
	}
}

// TestServiceUnreachable has a gateway alone, with nobody at the address.
func TestServiceUnreachable(t *testing.T) {
	conn, err := grpc.NewClient("passthrough:///memory", grpc.WithTransportCredentials(insecure.NewCredentials()),
		grpc.WithContextDialer(func(context.Context, string) (net.Conn, error) { return nil, errors.New("nobody there") }))
	if err != nil {
		t.Fatal(err)
	}
	defer conn.Close()
	h, err := New(Options{Conn: conn})
	if err != nil {
		t.Fatal(err)
	}
	front := httptest.NewServer(h)
	defer front.Close()
	got := compute(t, front, "{}")
	if p := got.problem(t); got.StatusCode != 503 || p.Code != int(codes.Unavailable) || got.Header.Get("Retry-After") == "" {
		t.Errorf("%s %s", got.Status, got.text)
	}
	ready := send(t, front, "GET", "/readyz", "")
	var body readiness
	if err := json.Unmarshal([]byte(ready.text), &body); err != nil || ready.StatusCode != 503 || body.Ready || body.Service.State != "UNREACHABLE" || body.Store.State != "UNREACHABLE" {
		t.Errorf("%s %s", ready.Status, ready.text)
	}
}

func TestNewNeedsAConnection(t *testing.T) {
	if _, err := New(Options{}); err == nil {
		t.Error("a gateway without a connection")
	}
}

// FuzzBody holds the whole JSON path to its promise: any body is answered, in the one shape where it
// is refused, and nothing of it reaches the service in another meaning.
func FuzzBody(f *testing.F) {
	for _, seed := range []string{`{}`, `{"rows":[{"row":1,"readingsMm":[1e400]}]}`, `{"aim":null}`, `[`, "\x00", `{"rows":[{"setting":{"a":[{}]}}]}`} {
		f.Add([]byte(seed))
	}
	echo := &direct{}
	h, err := New(Options{Conn: echo})
	if err != nil {
		f.Fatal(err)
	}
	f.Fuzz(func(t *testing.T, body []byte) {
		echo.asked = nil
		w := httptest.NewRecorder()
		r := httptest.NewRequest("POST", computePath, bytes.NewReader(body))
		r.Header.Set("Content-Type", "application/json")
		h.ServeHTTP(w, r)
		if w.Code == 200 {
			want := &pb.ComputePlanRequest{}
			if err := protojson.Unmarshal(body, want); err != nil || !proto.Equal(echo.asked, want) {
				t.Errorf("%q arrived as %v, %v", body, echo.asked, err)
			}
			return
		}
		p := (answer{w.Result(), w.Body.String()}).shape(t)
		if w.Code != 400 || len(p.violations()) == 0 || echo.asked != nil {
			t.Errorf("%q: %d %s", body, w.Code, w.Body)
		}
	})
}

// shape reads an error without looking at its words, which may be the fuzzer's own.
func (a answer) shape(t testing.TB) (p problem) {
	t.Helper()
	if err := json.Unmarshal([]byte(a.text), &p); err != nil || p.Code == 0 {
		t.Errorf("no error in the one shape: %s %q", a.Status, a.text)
	}
	return p
}

// direct is a connection that keeps the question and answers nothing much.
type direct struct {
	grpc.ClientConnInterface
	asked *pb.ComputePlanRequest
}

func (d *direct) Invoke(_ context.Context, _ string, req, _ any, _ ...grpc.CallOption) error {
	d.asked, _ = req.(*pb.ComputePlanRequest)
	return nil
}

// BenchmarkJSONPath is one plan request of ordinary size through the whole gateway, without a service
// behind it, and what that is in times of decoding the same JSON alone.
func BenchmarkJSONPath(b *testing.B) {
	body, err := os.ReadFile("../testdata/requests/wings-thirty-six.json")
	if err != nil {
		b.Fatal(err)
	}
	h, err := New(Options{Conn: &direct{}})
	if err != nil {
		b.Fatal(err)
	}
	const times = 200
	start := time.Now()
	for range times {
		if err := protojson.Unmarshal(body, &pb.ComputePlanRequest{}); err != nil {
			b.Fatal(err)
		}
	}
	bare := float64(time.Since(start).Nanoseconds()) / times
	b.ReportAllocs()
	b.SetBytes(int64(len(body)))
	for b.Loop() {
		r := httptest.NewRequest("POST", computePath, bytes.NewReader(body))
		r.Header.Set("Content-Type", "application/json")
		w := httptest.NewRecorder()
		if h.ServeHTTP(w, r); w.Code != 200 {
			b.Fatal(w.Body)
		}
	}
	b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N)/bare, "x-decoding")
}
