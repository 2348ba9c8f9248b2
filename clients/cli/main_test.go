package main

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"io"
	"net/http"
	"net/http/httptest"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// fake is a service that lists one style and answers every plan alike; it keeps what it was asked.
type fake struct {
	status int
	answer string
	asked  []byte
}

func (f *fake) ServeHTTP(w http.ResponseWriter, r *http.Request) {
	if r.URL.Path == "/v1/styles" {
		fmt.Fprint(w, `{"styles": [{"name": "styles/threaded-handle", "state": "SERVING", "countUnit": {"one": "turn", "other": "turns"},
			"figuresSchema": {"properties": {"mmPerTurn": {"type": "number"}}}, "settingSchema": {"properties": {"turns": {"type": "number"}}}}]}`)
		return
	}
	f.asked, _ = io.ReadAll(r.Body)
	w.WriteHeader(f.status)
	fmt.Fprint(w, f.answer)
}

const plainSheet = `unit,in
tolerance,1/8
aim,set-depth=2
mechanism,handle,threaded-handle,mmPerTurn=6.35
row,setting,reading 1
1,8,2
2,8,40
`

// outcome is what one run of the program left.
type outcome struct {
	code           int
	stdout, stderr string
}

// ask runs the program against f.
func ask(t *testing.T, f *fake, stdin string, args ...string) outcome {
	t.Helper()
	server := httptest.NewServer(f)
	defer server.Close()
	var stdout, stderr bytes.Buffer
	code := run(t.Context(), append(args, "--service", server.URL), strings.NewReader(stdin), &stdout, &stderr)
	return outcome{code, stdout.String(), stderr.String()}
}

func TestPlanSendsTheSheet(t *testing.T) {
	f := &fake{status: 200, answer: `{"datumMm": 50.8, "rows": [{"row": 1, "estimateMm": 50.8, "verdict": "EVEN", "chance": 1}]}`}
	got := ask(t, f, plainSheet, "plan", "-")
	if got.code != exitOK || got.stderr != "" || !strings.Contains(got.stdout, "LEVELING PLAN") {
		t.Fatalf("got %+v", got)
	}
	wantAim(t, f.asked, `{"kind": "SET_DEPTH", "datumMm": 50.8, "toleranceMm": 3.175}`)
}

// wantAim compares the aim of a request.
func wantAim(t *testing.T, request []byte, want string) {
	t.Helper()
	var asked struct{ Aim any }
	var wanted any
	if err := json.Unmarshal(request, &asked); err != nil {
		t.Fatal(err)
	}
	if err := json.Unmarshal([]byte(want), &wanted); err != nil {
		t.Fatal(err)
	}
	if fmt.Sprint(asked.Aim) != fmt.Sprint(wanted) {
		t.Errorf("the aim asked for is %v, want %v", asked.Aim, wanted)
	}
}

func TestFlagsAreOverTheFile(t *testing.T) {
	tests := []struct {
		file string
		args []string
		want string
	}{
		{plainSheet, []string{"--aim", "closest"}, `{"kind": "CLOSEST", "toleranceMm": 3.175}`},
		{plainSheet, []string{"--aim", "match-row=2", "--tolerance", "3,2mm"}, `{"kind": "MATCH_ROW", "row": 2, "toleranceMm": 3.2}`},
		{plainSheet, []string{"--aim", "set-depth=1 3/4in"}, `{"kind": "SET_DEPTH", "datumMm": 44.45, "toleranceMm": 3.175}`},
		{`{"aim": {"tolerance_mm": 9, "datum_mm": 1, "new": 1}}`, []string{"--tolerance", "1/8in", "--aim", "least-work"}, `{"kind": "LEAST_WORK", "toleranceMm": 3.175, "new": 1}`},
		{`{"rows": []}`, []string{"--confidence", "0.95"}, `{"confidence": 0.95}`},
	}
	for _, tt := range tests {
		f := &fake{status: 200, answer: `{}`}
		if got := ask(t, f, tt.file, append([]string{"plan", "-", "--json"}, tt.args...)...); got.code != exitOK || got.stdout != "{}\n" {
			t.Errorf("%v: got %+v", tt.args, got)
		}
		wantAim(t, f.asked, tt.want)
	}
}

func TestJSONIsHandedOnAsItIs(t *testing.T) {
	const request = `{"rows": [{"row": 1e0, "unknwon": NaN}]`
	f := &fake{status: 400, answer: `{"code": 3, "message": "That is no JSON.", "details": []}`}
	got := ask(t, f, request, "plan", "-", "--tolerance=2mm")
	if string(f.asked) != request || got.code != exitFailed || !strings.Contains(got.stderr, "That is no JSON.") {
		t.Errorf("asked %s, got %+v", f.asked, got)
	}
}

func TestRefusalNamesTheCell(t *testing.T) {
	f := &fake{status: 400, answer: `{"code": 3, "message": "4 things in the request are wrong.", "details": [{"fieldViolations": [
		{"field": "rows[1].readingsMm[0]", "description": "is 1016, must be from -20 to 300 mm"},
		{"field": "aim.datumMm", "description": "is odd"}, {"field": "aim.toleranceMm", "description": "is odd"}, {"field": "pageSize", "description": "is odd"}]}]}`}
	got := ask(t, f, plainSheet, "plan", "-", "--tolerance", "3mm")
	const want = `rowdatum: - was refused: 4 things in the request are wrong.
  line 3, column B (aim): is odd
  line 7, column C (reading 1): is 1016, must be from -20 to 300 mm
  --tolerance: is odd
  pageSize: is odd
`
	if got.code != exitFailed || got.stdout != "" || got.stderr != want {
		t.Errorf("got %+v, want\n%s", got, want)
	}
}

// What the service finds wrong with the rest of a file is told with what could not be read of it.
func TestMistakesAtOnce(t *testing.T) {
	f := &fake{status: 400, answer: `{"code": 3, "message": "Two things.", "details": [{"@type": "type.googleapis.com/google.rpc.BadRequest", "fieldViolations": [
		{"field": "rows[0].readingsMm[0]", "description": "is odd"}, {"field": "rows[1].readingsMm", "description": "is empty"}]}]}`}
	got := ask(t, f, strings.Replace(plainSheet, "2,8,40", "2,8,2 1/0", 1), "plan", "-")
	if got.code != exitFailed || !strings.HasPrefix(got.stderr, "rowdatum: - has 2 mistakes;") || !strings.Contains(got.stderr, "is odd") || strings.Contains(got.stderr, "is empty") {
		t.Errorf("got %+v", got)
	}
}

func TestMistakesAreNotPlanned(t *testing.T) {
	f := &fake{status: 200, answer: `{}`}
	got := ask(t, f, strings.Replace(plainSheet, "2,8,40", "2,8,2 1/0\n2,8,x", 1), "plan", "-")
	if got.code != exitFailed || got.stdout != "" || !strings.HasPrefix(got.stderr, "rowdatum: - has 3 mistakes; nothing came of it\n  line 7, column C (reading 1): ") {
		t.Errorf("asked %s, got %+v", f.asked, got)
	}
	got = ask(t, f, strings.Repeat("x\n", 500), "plan", "-")
	if n := strings.Count(got.stderr, "\n"); n != maxMistakes+2 || !strings.Contains(got.stderr, "and 461 more") {
		t.Errorf("%d lines end with %.100s", n, got.stderr[max(0, len(got.stderr)-100):])
	}
}

func TestUsage(t *testing.T) {
	tests := []struct {
		args []string
		code int
		want string // in stderr, or in stdout where the code is 0
	}{
		{[]string{"--help"}, exitOK, "Usage: rowdatum <command>"},
		{[]string{"plan", "--help"}, exitOK, "Usage: rowdatum plan <file>"},
		{nil, exitUsage, "expected one of"},
		{[]string{"plan"}, exitUsage, "<file>"},
		{[]string{"plan", "x", "--aim", "best"}, exitUsage, `"best" is not an aim`},
		{[]string{"plan", "x", "--tolerance", "3"}, exitUsage, `"3" is not a length with its unit`},
		{[]string{"plan", "x", "--confidence", "NaN"}, exitUsage, `"NaN" is not a number`},
		{[]string{"plan", "no-such-file.csv"}, exitFailed, "there is no file no-such-file.csv"},
		{[]string{"plan", "."}, exitFailed, ". cannot be read"},
		{[]string{"styles", "--service", "http://127.0.0.1:1"}, exitFailed, "no service answers at http://127.0.0.1:1"},
		{[]string{"demo", "--wait", "0s", "--service", "http://127.0.0.1:1"}, exitFailed, "no service answers"},
	}
	for _, tt := range tests {
		var stdout, stderr bytes.Buffer
		code := run(t.Context(), tt.args, strings.NewReader(""), &stdout, &stderr)
		said, silent := stderr.String(), stdout.String()
		if tt.code == exitOK {
			said, silent = silent, said
		}
		if code != tt.code || !strings.Contains(said, tt.want) || silent != "" {
			t.Errorf("%v: got %d, stdout %q, stderr %q", tt.args, code, &stdout, &stderr)
		}
	}
}

func TestLargeFile(t *testing.T) {
	var stdout, stderr bytes.Buffer
	code := run(t.Context(), []string{"plan", "-"}, strings.NewReader(strings.Repeat("#", maxFile+1)), &stdout, &stderr)
	if code != exitFailed || !strings.Contains(stderr.String(), "larger than 1 MiB") {
		t.Errorf("got %d, %s", code, &stderr)
	}
}

func TestEnvironmentNamesTheService(t *testing.T) {
	server := httptest.NewServer(&fake{status: 200})
	defer server.Close()
	t.Setenv("ROWDATUM_SERVICE", server.URL)
	t.Setenv("ROWDATUM_JSON", "true")
	var stdout, stderr bytes.Buffer
	if code := run(context.Background(), []string{"styles"}, nil, &stdout, &stderr); code != exitOK || !json.Valid(stdout.Bytes()) {
		t.Errorf("got %d, %s, %s", code, &stdout, &stderr)
	}
}

func TestDemoPlansThePlanterOfTheScenario(t *testing.T) {
	want, err := os.ReadFile(filepath.Join("..", "..", "testdata", "planters", "depot-sixteen.csv"))
	if err != nil {
		t.Fatal(err)
	}
	if !bytes.Equal(demoPlanter, want) {
		t.Error("demo.csv differs from the scenario's sixteen-row planter; copy it anew")
	}
}
