package adjustertest

import (
	"context"
	"maps"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"testing"
	"testing/fstest"
	"time"

	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/status"

	adjusterv1 "rowdatum/proto/gen/rowdatum/adjuster/v1"
)

// broken builds the program of testdata that is any adjuster with one fault.
var broken = sync.OnceValues(func() (string, error) {
	dir, err := os.MkdirTemp("", "broken")
	if err != nil {
		return "", err
	}
	program := filepath.Join(dir, "broken.exe")
	return program, exec.Command("go", "build", "-ldflags=-s -w", "-o", program, "./testdata/broken").Run()
})

func TestMain(m *testing.M) {
	code := m.Run()
	if program, err := broken(); err == nil {
		os.RemoveAll(filepath.Dir(program))
	}
	os.Exit(code)
}

func named(t *testing.T, name string) Program {
	t.Helper()
	program, err := broken()
	if err != nil {
		t.Fatal(err)
	}
	return Program{Path: program, Args: []string{name}}
}

// faults are the faults of testdata/broken, each with the check that must find it.
func faults() map[string]string {
	return map[string]string{
		"stays":             "orphan",
		"lingers":           "stop",
		"fails":             "stop",
		"banner":            "start",
		"exits":             "start",
		"bad-id":            "style",
		"no-touch":          "style",
		"nan-style":         "style",
		"bad-schema":        "schema",
		"bare-schema":       "schema",
		"fickle-style":      "describe",
		"two-leaves":        "leave",
		"no-leave":          "leave",
		"moving-leave":      "leave",
		"not-finite":        "finite",
		"not-a-number":      "finite",
		"unordered":         "order",
		"nan-seconds":       "seconds",
		"endless-seconds":   "seconds",
		"leave-takes-time":  "seconds",
		"off-travel":        "travel",
		"no-travel":         "travel",
		"odd-setting":       "setting",
		"wrong-setting":     "setting",
		"no-way-back":       "there and back",
		"fickle":            "pure",
		"no-rows":           "options",
		"few-rows":          "many rows",
		"mixes-rows":        "pure",
		"wrong-answer":      "options",
		"silent":            "words",
		"unreadable":        "words",
		"odd-words":         "schema",
		"forgetful":         "words",
		"wordless-refusal":  "violations",
		"dies":              "hostile figures",
		"hangs":             "deadline",
		"takes-anything":    "hostile figures",
		"no-style":          "describe",
		"refuses-all":       "cases",
		"takes-any-setting": "hostile settings",
		"far-away":          "style",
		"talks-on":          "style",
		"half-spanish":      "language",
		"spanish-figures":   "language",
		"metric":            "unit",
		"metric-figures":    "unit",
		"imperial":          "unit",
		"wrong-way":         "monotone",
		"backwards-count":   "monotone",
		"too-many":          "number",
		"points-nowhere":    "violations",
		"not-at-once":       "pure",
		"another-copy":      "pure",
		"open-door":         "tls",
		"any-certificate":   "tls",
		"unwell":            "health",
		"odd-log":           "", // harmless, and must not harm the exam
	}
}

func rodCases(t *testing.T) []Case {
	t.Helper()
	cases, err := ReadCases(fstest.MapFS{"rod.json": {Data: []byte(`{"cases": [
		{"name": "four holes", "figures": {"holes": 4, "mmPerHole": 12.7}, "setting": {"hole": 2}, "count": 4, "options": [
			{"effectMm": -12.7, "count": -1, "settingAfter": {"hole": 1}, "shallowerLeftMm": 0, "deeperLeftMm": 38.1,
			 "say": "Move the pin 1 hole shallower. Keep hands clear of pinch points while anything moves.", "cautions": []}]},
		{"name": "a hundred holes", "figures": {"holes": 100, "mmPerHole": 2}, "setting": {"hole": 50}, "count": 100},
		{"name": "no such hole", "figures": {"holes": 4, "mmPerHole": 12.7}, "setting": {"hole": 9}, "violations": [{"field": "setting.hole"}]}]}`)}})
	if err != nil {
		t.Fatal(err)
	}
	return cases
}

func TestHonestPasses(t *testing.T) {
	t.Parallel()
	for name, cases := range map[string][]Case{"with cases": rodCases(t), "with questions made of the schemas": nil} {
		report, err := Run(t.Context(), named(t, "honest"), cases)
		if err != nil || !report.Passed() {
			t.Errorf("an honest adjuster %s: %+v, %v", name, report, err)
		}
		if report.Style != "pinned-rod" || report.Questions < 2 || !slices.Equal(report.Languages, []string{"en"}) {
			t.Errorf("%s: %+v", name, report)
		}
	}
}

// TestTwoControls: an adjuster with a pin and a screw passes, with its own seconds for each.
func TestTwoControls(t *testing.T) {
	t.Parallel()
	const folder = "testdata/pinandscrew"
	cases, err := ReadCases(os.DirFS(folder))
	if err != nil {
		t.Fatal(err)
	}
	program := Program{Path: Build(t, "./"+folder)}
	for name, cases := range map[string][]Case{"with cases": cases, "with questions made of the schemas": nil} {
		report, err := Run(t.Context(), program, cases)
		if err != nil || !report.Passed() {
			t.Errorf("a pin and a screw %s: %+v, %v", name, report, err)
		}
	}
}

// TestFieldsThatDecideTogether holds options to a schema in which two fields say which way is deeper.
func TestFieldsThatDecideTogether(t *testing.T) {
	both := map[string]string{"hole": larger, "click": smaller}
	options := func(settings ...string) []*adjusterv1.Option {
		var out []*adjusterv1.Option
		for i, s := range settings {
			out = append(out, &adjusterv1.Option{EffectMm: float64(i), Count: float64(i), SettingAfter: s})
		}
		return out
	}
	for _, c := range []struct {
		name    string
		options []*adjusterv1.Option
		wrong   bool
	}{
		{"one after the other", options(`{"hole":1,"click":9}`, `{"hole":1,"click":2}`, `{"hole":2,"click":9}`), false},
		{"one gives what the other takes", options(`{"hole":2,"click":9}`, `{"hole":1,"click":2}`), false},
		{"deeper by one, as deep by the other", options(`{"hole":2,"click":9}`, `{"hole":1,"click":9}`), true},
		{"deeper by both", options(`{"hole":2,"click":2}`, `{"hole":1,"click":9}`), true},
		{"not next to each other", options(`{"hole":2,"click":2}`, `{"hole":3,"click":3}`, `{"hole":2,"click":3}`), true},
	} {
		e := &exam{deeper: both, report: &Report{Checks: checks()}}
		e.monotone(c.name, c.options)
		if got := len(e.report.Findings) > 0; got != c.wrong {
			t.Errorf("%s: found %v", c.name, e.report.Findings)
		}
	}
}

// TestAgainstTheApproach: of two controls one alone going shallower need not be the one with the slack.
func TestAgainstTheApproach(t *testing.T) {
	style := &adjusterv1.Style{SlackMm: 0.5, Approach: adjusterv1.Approach_APPROACH_DEEPER}
	const from = `{"hole":2,"click":5}`
	for _, c := range []struct {
		deeper map[string]string
		effect float64
		after  string
		want   bool
	}{
		{nil, -1, `{"hole":1,"click":5}`, true},
		{nil, 1, `{"hole":3,"click":5}`, false},
		{map[string]string{"click": larger}, -1, `{"hole":2,"click":4}`, true},
		{map[string]string{"hole": larger, "click": larger}, -1, `{"hole":1,"click":5}`, false},
		{map[string]string{"hole": larger, "click": larger}, -1, `{"hole":1,"click":8}`, false},
		{map[string]string{"hole": larger, "click": larger}, -1, `{"hole":1,"click":4}`, true},
		{map[string]string{"hole": larger, "click": smaller}, -1, `{"hole":1,"click":6}`, true},
		{map[string]string{"click": larger}, -1, ``, true},
	} {
		e := &exam{style: style, deeper: c.deeper}
		if got := e.against(from, &adjusterv1.Option{EffectMm: c.effect, SettingAfter: c.after}); got != c.want {
			t.Errorf("%v from %s to %s: against is %v, want %v", c.deeper, from, c.after, got, c.want)
		}
	}
}

// TestFaultsAreFound examines more faults at once than there are processors: most of the time they wait
// for each other to end.
func TestFaultsAreFound(t *testing.T) {
	t.Parallel()
	const atOnce = 8
	places := make(chan struct{}, atOnce)
	var all sync.WaitGroup
	for name, check := range faults() {
		program, cases := named(t, name), rodCases(t)
		places <- struct{}{}
		all.Go(func() {
			defer func() { <-places }()
			report, err := run(t.Context(), program, cases, short(name))
			if err != nil {
				t.Errorf("%s: %v", name, err)
			}
			caught(t, name, check, report)
		})
	}
	all.Wait()
}

// short are limits for a test; only where the end of a second copy matters is it waited for.
func short(fault string) limits {
	l := limits{call: 2 * time.Second}
	if faults()[fault] == "" {
		l.call = 10 * time.Second // nothing may be found, however busy the machine is
	}
	if fault == "stays" || fault == "another-copy" {
		l.orphan = 200 * time.Millisecond
	}
	return l
}

// caught wants a fault found under the name of its check, with what shows it.
func caught(t *testing.T, name, check string, report *Report) {
	t.Helper()
	if check == "" {
		if len(report.Findings) > 0 {
			t.Errorf("%s: found %v", name, report.Findings)
		}
		return
	}
	at := slices.IndexFunc(report.Findings, func(f Finding) bool { return f.Check == check })
	if at < 0 {
		t.Errorf("%s: nothing was found about %q: %v", name, check, report.Findings)
		return
	}
	outside := []string{"start", "health", "tls", "stop", "orphan"}
	if f := report.Findings[at]; !slices.Contains(outside, check) && f.Request == "" {
		t.Errorf("%s: %v does not show its request", name, f)
	}
}

// TestEveryFaultIsTried: the set and its table hold the same faults, and every check finds one.
func TestEveryFaultIsTried(t *testing.T) {
	out, err := exec.CommandContext(t.Context(), named(t, "").Path, "--list").Output()
	if err != nil {
		t.Fatal(err)
	}
	if want := slices.Sorted(maps.Keys(faults())); !slices.Equal(strings.Fields(string(out)), want) {
		t.Errorf("testdata/broken has %s, the table has %v", out, want)
	}
	for _, c := range checks() {
		if found := slices.Collect(maps.Values(faults())); !slices.Contains(found, c.Name) {
			t.Errorf("no fault is caught by %q", c.Name)
		}
	}
}

// TestStuckStillLeaves: an author's code that never returns does not keep a program whose host is gone.
func TestStuckStillLeaves(t *testing.T) {
	t.Parallel()
	p, err := start(named(t, "stuck"))
	if err != nil {
		t.Fatal(err)
	}
	ctx, cancel := context.WithTimeout(t.Context(), 200*time.Millisecond)
	defer cancel()
	if _, err := p.client.Options(ctx, question(`{"holes": 4, "mmPerHole": 12.7}`, `{"hole": 2}`)); status.Code(err) != codes.DeadlineExceeded {
		t.Errorf("a stuck call ended with %v", err)
	}
	if err := p.abandon(12 * time.Second); err != nil {
		t.Error(err)
	}
}

// TestSilenceIsNotWaitedForForEver: a program that answers nothing is found out by a few questions.
func TestSilenceIsNotWaitedForForEver(t *testing.T) {
	t.Parallel()
	report, err := run(t.Context(), named(t, "stuck"), rodCases(t), limits{call: 200 * time.Millisecond})
	if err != nil || len(report.Findings) != maxSilences {
		t.Fatalf("%+v, %v", report, err)
	}
	for _, f := range report.Findings {
		if f.Check != "deadline" {
			t.Errorf("found %v", f)
		}
	}
}

func TestNoProgram(t *testing.T) {
	t.Parallel()
	report, err := Run(t.Context(), Program{Path: filepath.Join(t.TempDir(), "nothing")}, nil)
	if err != nil || len(report.Findings) != 1 || report.Findings[0].Check != "start" || report.Passed() {
		t.Errorf("a program that is not there: %+v, %v", report, err)
	}
}

// TestNoGoodCase: cases that all are wrong let nothing be asked.
func TestNoGoodCase(t *testing.T) {
	t.Parallel()
	bad := rodCases(t)[2:]
	report, err := run(t.Context(), named(t, "honest"), bad, limits{call: 5 * time.Second})
	if err != nil || len(report.Findings) != 1 || report.Findings[0].Check != "cases" {
		t.Errorf("an exam without a good case: %+v, %v", report, err)
	}
}

func FuzzCases(f *testing.F) {
	f.Add([]byte(`{"cases": [{"name": "x", "figures": {"a": 1}, "options": [{"effectMm": 1, "count": null, "settingAfter": {}}]}]}`))
	f.Add([]byte(`{"cases": [{"nam": 1}]}`))
	f.Fuzz(func(_ *testing.T, data []byte) {
		cases, err := ParseCases(data)
		if err != nil {
			return
		}
		for _, c := range cases {
			jsonText(c.Figures)
			spoiled(c.Setting)
		}
	})
}
