package main

import (
	"bytes"
	"context"
	"encoding/json"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"rowdatum/adjusters/adjustertest"
	"rowdatum/clients/cli/api"
	"rowdatum/clients/internal/absent"
	"rowdatum/clients/internal/service"
	rowdatumv1 "rowdatum/proto/gen/rowdatum/v1"
)

// TestAdjusterAuthors goes the way of somebody who makes an adjuster, with the programs as they are
// shipped: to a plan by a service that was running all the while, in Go and in another language.
func TestAdjusterAuthors(t *testing.T) {
	t.Parallel()
	s := startShop(t)
	t.Run("new", s.newToServed)
	t.Run("node", s.nodeToServed)
}

// shop is a running service with the bundled adjusters, asked for plans all the while.
type shop struct {
	bin, adjusters, url string
}

func startShop(t *testing.T) *shop {
	t.Helper()
	bin := buildAll(t)
	s := &shop{bin: bin, adjusters: filepath.Join(bin, "adjusters")}
	running, err := service.Start(t.Context(), service.Options{Program: filepath.Join(bin, "rowdatumd"), Adjusters: s.adjusters})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(running.End)
	s.url = running.URL()
	if _, err := (&api.Client{Base: s.url}).WaitReady(t.Context(), maxSettle); err != nil {
		t.Fatal(err)
	}
	request, err := os.ReadFile("../../testdata/requests/contract-example.json")
	if err != nil {
		t.Fatal(err)
	}
	s.load(t, request)
	return s
}

// load asks for a plan again and again until the test ends; none may fail.
func (s *shop) load(t *testing.T, request []byte) {
	ctx, cancel := context.WithCancel(context.Background())
	var asking sync.WaitGroup
	asking.Go(func() {
		for ; ctx.Err() == nil; time.Sleep(20 * time.Millisecond) {
			if _, _, err := (&api.Client{Base: s.url}).Compute(ctx, request); err != nil && ctx.Err() == nil {
				t.Errorf("a plan failed while adjusters were dropped: %v", err)
				return
			}
		}
	})
	t.Cleanup(func() { cancel(); asking.Wait() })
}

// newToServed needs no more than Go: write, test, build, check, drop, plan; then a better one the same way.
func (s *shop) newToServed(t *testing.T) {
	t.Parallel()
	begun := time.Now()
	sources, err := filepath.Abs("../..")
	if err != nil {
		t.Fatal(err)
	}
	work := t.TempDir()
	said := runIn(t, work, s.rowdatum(), "adjuster", "new", "holed-bar", "--sdk", sources)
	if !strings.Contains(said, "rowdatum adjuster check ./holed-bar") {
		t.Errorf("new said %s", said)
	}
	module := filepath.Join(work, "holed-bar")
	runIn(t, module, "go", "test", "./...")
	runIn(t, module, "go", "build", ".")
	runIn(t, module, s.rowdatum(), "adjuster", "check", "./holed-bar")
	s.drop(t, filepath.Join(module, "holed-bar"), "0.1.0")
	const sheet = `mechanism,bar,holed-bar,mmPerStep=5,steps=12
row,mechanism,setting,reading 1
1,bar,6,50
2,bar,6,40
3,bar,6,50
`
	if plan := s.plan(t, sheet); !strings.Contains(plan, "Move the adjuster 2 steps deeper, to step 8.") {
		t.Errorf("the plan is:\n%s", plan)
	}
	t.Logf("from new to a served plan: %v", time.Since(begun).Round(100*time.Millisecond))
	wantFew(t, module)

	s.load(t, []byte(`{"mechanisms": [{"id": "bar", "style": "holed-bar", "figures": {"mmPerStep": 5, "steps": 12}}],
		"rows": [{"row": 1, "mechanism": "bar", "setting": {"step": 6}, "readingsMm": [50]}, {"row": 2, "mechanism": "bar", "setting": {"step": 6}, "readingsMm": [40]}]}`))
	replace(t, filepath.Join(module, "words.go"), `"0.1.0"`, `"0.2.0"`)
	replace(t, filepath.Join(module, "mechanism.go"), "Move the adjuster", "Move the bar")
	runIn(t, module, "go", "build", ".")
	s.drop(t, filepath.Join(module, "holed-bar"), "0.2.0")
	if plan := s.plan(t, sheet); !strings.Contains(plan, "Move the bar 2 steps deeper, to step 8.") {
		t.Errorf("the plan of the better one is:\n%s", plan)
	}
}

func (s *shop) rowdatum() string { return filepath.Join(s.bin, "rowdatum") }

func replace(t *testing.T, file, old, with string) {
	t.Helper()
	text, err := os.ReadFile(file)
	if err != nil || !bytes.Contains(text, []byte(old)) {
		t.Fatalf("%s has no %s: %v", file, old, err)
	}
	if err := os.WriteFile(file, bytes.ReplaceAll(text, []byte(old), []byte(with)), 0o600); err != nil {
		t.Fatal(err)
	}
}

// wantFew: an author inherits the library that speaks to the service, and none of what the service needs.
func wantFew(t *testing.T, module string) {
	t.Helper()
	said := runIn(t, module, "go", "version", "-m", "holed-bar")
	const most = 16 // libraries, rowdatum's own module among them
	if n := strings.Count(said, "\tdep\t"); n > most {
		t.Errorf("the program is made of %d libraries, at most %d are meant:\n%s", n, most, said)
	}
	for _, heavy := range []string{"modernc.org/sqlite", "jackc/pgx", "pressly/goose", "grpc-gateway", "uber.org/zap"} {
		if strings.Contains(said, heavy) {
			t.Errorf("the program holds %s", heavy)
		}
	}
}

// nodeToServed takes the worked example in JavaScript the same way: one file of it is checked, dropped
// and asked for a plan.
func (s *shop) nodeToServed(t *testing.T) {
	t.Parallel()
	begun := time.Now()
	need(t, "node", "npm")
	work := filepath.Join(t.TempDir(), "screw-jack")
	copyExample(t, "../../adjusters/examples/node-screw-jack", work)
	runIn(t, work, "npm", "ci", "--no-audit", "--no-fund", "--prefer-offline", "--loglevel=error")
	runIn(t, work, "npm", "run", "--silent", "build")
	runIn(t, work, "npm", "test", "--silent")
	program := filepath.Join(work, "dist", "screw-jack")
	said := runIn(t, work, s.rowdatum(), "adjuster", "check", "--cases", "cases.json", program)
	if !strings.Contains(said, "languages: en, es") {
		t.Errorf("the check says:\n%s", said)
	}
	runIn(t, work, s.rowdatum(), "adjuster", "check", program)
	s.drop(t, program, "1.0.0")
	plan := s.plan(t, `mechanism,jack,screw-jack,pitchMm=4,leverRatio=1.6,holesPerTurn=6,holes=96
row,mechanism,setting,reading 1
1,jack,24,50
2,jack,24,45
3,jack,24,50
`)
	t.Logf("from npm ci to a served plan: %v", time.Since(begun).Round(100*time.Millisecond))
	if !strings.Contains(plan, "turn the plate 12 holes deeper, to hole 36") {
		t.Errorf("the plan is:\n%s", plan)
	}
}

// TestExampleSpeaksTheContract: the example reads its own copy of the contract, as an author elsewhere does.
func TestExampleSpeaksTheContract(t *testing.T) {
	contract, err := os.ReadFile("../../proto/rowdatum/adjuster/v1/adjuster.proto")
	if err != nil {
		t.Fatal(err)
	}
	own, err := os.ReadFile("../../adjusters/examples/node-screw-jack/proto/adjuster.proto")
	if err != nil || !bytes.Equal(own, contract) {
		t.Errorf("the example's adjuster.proto is not the contract; copy it anew (%v)", err)
	}
}

// copyExample copies a folder without what npm made in it.
func copyExample(t *testing.T, from, to string) {
	t.Helper()
	if err := os.Mkdir(to, 0o755); err != nil {
		t.Fatal(err)
	}
	entries, err := os.ReadDir(from)
	if err != nil {
		t.Fatal(err)
	}
	for _, entry := range entries {
		source, target := filepath.Join(from, entry.Name()), filepath.Join(to, entry.Name())
		switch {
		case entry.Name() == "node_modules" || entry.Name() == "dist":
		case entry.IsDir():
			err = os.CopyFS(target, os.DirFS(source))
		default:
			var text []byte
			if text, err = os.ReadFile(source); err == nil {
				err = os.WriteFile(target, text, 0o600)
			}
		}
		if err != nil {
			t.Fatal(err)
		}
	}
}

// runIn runs a command in a folder, wants it to succeed, and returns what it said.
func runIn(t *testing.T, folder, name string, args ...string) string {
	t.Helper()
	cmd := exec.CommandContext(t.Context(), name, args...)
	cmd.Dir = folder
	out, err := cmd.CombinedOutput()
	if err != nil {
		t.Fatalf("%s %v: %v\n%s", name, args, err, out)
	}
	return string(out)
}

// drop puts a program into the folder of the running service, and waits until that version of its style
// is served. The service has two seconds for it; a busy machine is given more.
func (s *shop) drop(t *testing.T, program, version string) {
	t.Helper()
	text, err := os.ReadFile(program)
	if err != nil {
		t.Fatal(err)
	}
	name := filepath.Base(program)
	hidden := filepath.Join(s.adjusters, "."+name)
	if err := os.WriteFile(hidden, text, 0o755); err != nil {
		t.Fatal(err)
	}
	if err := os.Rename(hidden, filepath.Join(s.adjusters, name)); err != nil {
		t.Fatal(err)
	}
	dropped := time.Now()
	for time.Since(dropped) < 20*time.Second {
		styles, err := (&api.Client{Base: s.url}).Styles(t.Context())
		if err != nil {
			t.Fatal(err)
		}
		if slices.ContainsFunc(styles, func(style *rowdatumv1.Style) bool {
			return style.GetName() == "styles/"+name && style.GetVersion() == version && style.GetState() == rowdatumv1.StyleState_SERVING
		}) {
			t.Logf("%s %s is served %v after it was dropped", name, version, time.Since(dropped).Round(10*time.Millisecond))
			return
		}
		time.Sleep(50 * time.Millisecond)
	}
	t.Fatalf("%s %s is not served", name, version)
}

// plan has the running service plan a sheet; words are unwrapped.
func (s *shop) plan(t *testing.T, sheet string) string {
	t.Helper()
	file := filepath.Join(t.TempDir(), "readings.csv")
	if err := os.WriteFile(file, []byte("unit,mm\ntolerance,3\n"+sheet), 0o600); err != nil {
		t.Fatal(err)
	}
	return strings.Join(strings.Fields(runIn(t, s.bin, s.rowdatum(), "plan", "--service", s.url, file)), " ")
}

// need skips a test where one of the programs is not on this machine.
func need(t *testing.T, programs ...string) {
	t.Helper()
	for _, name := range programs {
		if _, err := exec.LookPath(name); err != nil {
			absent.Skip(t, name)
		}
	}
}

func TestAdjusterNewMistakes(t *testing.T) {
	full := t.TempDir()
	if err := os.WriteFile(filepath.Join(full, "letter"), nil, 0o600); err != nil {
		t.Fatal(err)
	}
	tests := []struct {
		args []string
		code int
		want string
	}{
		{[]string{"holed-bar"}, exitUsage, "--sdk"},
		{[]string{"Holed Bar", "--sdk", "../.."}, exitFailed, `"Holed Bar" cannot be a style's id`},
		{[]string{"rowdatum", "--sdk", "../.."}, exitFailed, `"rowdatum" cannot be a style's id`},
		{[]string{"holed-bar", "--sdk", full}, exitFailed, "is not the folder of rowdatum's sources"},
		{[]string{"holed-bar", "--sdk", "../..", "--into", full}, exitFailed, "is there already"},
	}
	for _, tt := range tests {
		var stdout, stderr bytes.Buffer
		code := run(t.Context(), append([]string{"adjuster", "new"}, tt.args...), nil, &stdout, &stderr)
		if code != tt.code || !strings.Contains(stderr.String(), tt.want) || stdout.Len() > 0 {
			t.Errorf("%v: got %d, %s, %s", tt.args, code, &stdout, &stderr)
		}
	}
	if entries, err := os.ReadDir(full); err != nil || len(entries) != 1 {
		t.Errorf("a folder in use now holds %v, %v", entries, err)
	}
}

// check runs rowdatum adjuster check.
func check(t *testing.T, args ...string) outcome {
	t.Helper()
	var stdout, stderr bytes.Buffer
	code := run(t.Context(), append([]string{"adjuster", "check"}, args...), nil, &stdout, &stderr)
	return outcome{code, stdout.String(), stderr.String()}
}

// TestAdjusterCheckTellsFaults examines a program that answers in the wrong order.
func TestAdjusterCheckTellsFaults(t *testing.T) {
	t.Parallel()
	broken := adjustertest.Build(t, "../../adjusters/adjustertest/testdata/broken")
	got := check(t, broken, "unordered")
	for _, want := range []string{
		"pinned-rod 1.0.0  Rod with a pin\n",
		"  ok        start ",
		"  FAILED    order ",
		"\norder: it does not hold that the program gives its options by rising effect\n  figures 1, setting 2 of the schemas\n    rows[0].options[1].effectMm\n",
		"    asked: Options {\"mechanisms\":[{\"figures\":",
	} {
		if !strings.Contains(got.stdout, want) {
			t.Errorf("%q is missing from:\n%s", want, got.stdout)
		}
	}
	if got.code != exitFailed || got.stderr != "rowdatum: "+broken+" does not pass\n" {
		t.Errorf("got %d, %s", got.code, got.stderr)
	}
}

// TestAdjusterCheckJSON has the report as JSON, here of a program that is not an adjuster.
func TestAdjusterCheckJSON(t *testing.T) {
	t.Parallel()
	broken := adjustertest.Build(t, "../../adjusters/adjustertest/testdata/broken")
	got := check(t, broken, "banner", "--json")
	var report struct {
		Passed *bool
		Checks []adjustertest.Check
		adjustertest.Report
	}
	if err := json.Unmarshal([]byte(got.stdout), &report); err != nil || got.code != exitFailed {
		t.Fatalf("got %+v: %v", got, err)
	}
	if report.Passed == nil || *report.Passed || len(report.Findings) != 1 || report.Findings[0].Check != "start" {
		t.Errorf("got %s", got.stdout)
	}
	if slices.ContainsFunc(report.Checks, func(c adjustertest.Check) bool { return c.Made != (c.Name == "start") }) {
		t.Errorf("checks were made of a program that did not start: %v", report.Checks)
	}
}

func TestAdjusterCheckKeepsTheTerminal(t *testing.T) {
	report := &adjustertest.Report{Style: "rod", Title: "\x1b[2J", Checks: []adjustertest.Check{{Name: "order", Failed: 5}},
		Findings: slices.Repeat([]adjustertest.Finding{{Check: "order", Where: "\x00", Message: "one\ntwo\a"}}, 5)}
	got := printable(drawReport(report))
	if strings.ContainsAny(got, "\x1b\x00\a") || !strings.HasSuffix(got, "    one\n    two\uFFFD\n  and 2 more\n") {
		t.Errorf("got %q", got)
	}
}

func TestAdjusterCheckMistakes(t *testing.T) {
	cases := filepath.Join(t.TempDir(), "cases.json")
	if err := os.WriteFile(cases, []byte(`{"cases": [{"nam": "x"}]}`), 0o600); err != nil {
		t.Fatal(err)
	}
	tests := []struct {
		args []string
		code int
		want string
	}{
		{nil, exitUsage, "<program>"},
		{[]string{"no-such-program"}, exitFailed, "no-such-program does not pass"},
		{[]string{"x", "--cases", "no-such-file.json"}, exitFailed, "there is no file no-such-file.json"},
		{[]string{"x", "--cases", cases}, exitFailed, "is not a file of cases: json: unknown field"},
	}
	for _, tt := range tests {
		if got := check(t, tt.args...); got.code != tt.code || !strings.Contains(got.stderr, tt.want) {
			t.Errorf("%v: got %+v", tt.args, got)
		}
	}
}
