package adjustertest

import (
	"context"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"testing/fstest"
	"time"

	"github.com/hashicorp/go-plugin"
	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/status"
	"google.golang.org/protobuf/proto"

	"rowdatum/adjusters/adjuster"
	adjusterv1 "rowdatum/proto/gen/rowdatum/adjuster/v1"
)

// TestMain is the tests, or, started as an adjuster, the liar named by the program's name.
func TestMain(m *testing.M) {
	name := strings.TrimSuffix(filepath.Base(os.Args[0]), ".exe")
	liar, ok := liars()[name]
	switch {
	case os.Getenv(adjuster.Handshake.MagicCookieKey) == "":
		os.Exit(m.Run())
	case name == "honest":
		adjuster.Serve(rodStyle(), rod{})
	case name == "stuck":
		adjuster.Serve(rodStyle(), stuckRod{})
	case ok:
		liar.serve()
	}
}

// liar is an adjuster with one fault.
type liar struct {
	adjusterv1.AdjusterServer // the honest one
	check                     string
	describe                  func(*adjusterv1.Style)
	options                   func(*adjusterv1.OptionsRequest, *adjusterv1.OptionsResponse)
	say                       func(*adjusterv1.SayRequest, *adjusterv1.SayResponse)
	before, after             func() // around serving
}

func (l *liar) Describe(ctx context.Context, r *adjusterv1.DescribeRequest) (*adjusterv1.DescribeResponse, error) {
	out, err := l.AdjusterServer.Describe(ctx, r)
	if err == nil && l.describe != nil {
		l.describe(out.GetStyle())
	}
	return out, err
}

func (l *liar) Options(ctx context.Context, r *adjusterv1.OptionsRequest) (*adjusterv1.OptionsResponse, error) {
	out, err := l.AdjusterServer.Options(ctx, r)
	if err == nil && l.options != nil {
		l.options(r, out)
	}
	return out, err
}

func (l *liar) Say(ctx context.Context, r *adjusterv1.SayRequest) (*adjusterv1.SayResponse, error) {
	out, err := l.AdjusterServer.Say(ctx, r)
	if err == nil && l.say != nil {
		l.say(r, out)
	}
	return out, err
}

// limits are short; only a liar about leaving is left alone to see whether it leaves.
func (l *liar) limits() limits {
	if l.check == "orphan" {
		return limits{call: 2 * time.Second, orphan: 200 * time.Millisecond}
	}
	return limits{call: 2 * time.Second}
}

// serve goes past the SDK's Serve: a liar does not leave when its host is gone.
func (l *liar) serve() {
	honest, err := adjuster.New(rodStyle(), rod{})
	if err != nil {
		panic(err)
	}
	l.AdjusterServer = honest
	if l.before != nil {
		l.before()
	}
	plugin.Serve(&plugin.ServeConfig{
		HandshakeConfig: adjuster.Handshake,
		Plugins:         plugin.PluginSet{adjuster.PluginName: &adjuster.Plugin{Impl: l}},
		GRPCServer:      plugin.DefaultGRPCServer,
	})
	if l.after != nil {
		l.after()
	}
}

// each spoils every row that has options.
func each(spoil func(row *adjusterv1.RowOptions)) func(*adjusterv1.OptionsRequest, *adjusterv1.OptionsResponse) {
	return func(_ *adjusterv1.OptionsRequest, out *adjusterv1.OptionsResponse) {
		for _, row := range out.GetRows() {
			if len(row.GetOptions()) > 2 {
				spoil(row)
			}
		}
	}
}

// liars are named by their fault; check is what the exam must find.
func liars() map[string]*liar {
	calls := &atomic.Int64{}
	return map[string]*liar{
		"stays":         {check: "orphan"},
		"lingers":       {check: "stop", after: func() { time.Sleep(time.Minute) }},
		"fails":         {check: "stop", after: func() { os.Exit(4) }},
		"banner":        {check: "start", before: func() { os.Stdout.WriteString("Welcome!\n") }},
		"exits":         {check: "start", before: func() { os.Exit(3) }},
		"bad-id":        {check: "style", describe: func(s *adjusterv1.Style) { s.Id = "Rod with a pin" }},
		"no-touch":      {check: "style", describe: func(s *adjusterv1.Style) { s.TouchSeconds = 0 }},
		"nan-style":     {check: "style", describe: func(s *adjusterv1.Style) { s.ScaleSd = math.NaN() }},
		"bad-schema":    {check: "schema", describe: func(s *adjusterv1.Style) { s.FiguresSchema = `{"type": "objct"}` }},
		"bare-schema":   {check: "schema", describe: func(s *adjusterv1.Style) { s.FiguresSchema = strings.ReplaceAll(s.FiguresSchema, "title", "x-title") }},
		"fickle-style":  {check: "describe", describe: func(s *adjusterv1.Style) { s.Title = strings.Repeat("x", int(calls.Add(1))) }},
		"two-leaves":    {check: "leave", options: each(func(r *adjusterv1.RowOptions) { r.Options[0].Leave, r.Options[1].Leave = true, true })},
		"no-leave":      {check: "leave", options: each(func(r *adjusterv1.RowOptions) { leave(r).Leave = false })},
		"moving-leave":  {check: "leave", options: each(func(r *adjusterv1.RowOptions) { leave(r).Count = 1 })},
		"not-finite":    {check: "finite", options: each(func(r *adjusterv1.RowOptions) { r.Options[0].EffectMm = math.Inf(-1) })},
		"not-a-number":  {check: "finite", options: each(func(r *adjusterv1.RowOptions) { r.Options[0].Count = math.NaN() })},
		"unordered":     {check: "order", options: each(func(r *adjusterv1.RowOptions) { r.Options[0], r.Options[1] = r.Options[1], r.Options[0] })},
		"off-travel":    {check: "travel", options: each(func(r *adjusterv1.RowOptions) { r.Options[0].DeeperLeftMm = proto.Float64(1) })},
		"no-travel":     {check: "travel", options: each(func(r *adjusterv1.RowOptions) { r.Options[0].ShallowerLeftMm = nil })},
		"odd-setting":   {check: "setting", options: each(func(r *adjusterv1.RowOptions) { r.Options[0].SettingAfter = `{"hole": 1}` })},
		"wrong-setting": {check: "setting", options: each(func(r *adjusterv1.RowOptions) { r.Options[0].SettingAfter = `{"hole":"one"}` })},
		"no-way-back": {check: "there and back", options: func(r *adjusterv1.OptionsRequest, out *adjusterv1.OptionsResponse) {
			if len(r.GetRows()) > 1 {
				for _, row := range out.GetRows() {
					row.Options = []*adjusterv1.Option{leave(row)}
				}
			}
		}},
		"fickle":  {check: "pure", options: each(func(r *adjusterv1.RowOptions) { r.Options[0].Count -= float64(calls.Add(1)) })},
		"no-rows": {check: "options", options: func(_ *adjusterv1.OptionsRequest, out *adjusterv1.OptionsResponse) { out.Rows = nil }},
		"few-rows": {check: "many rows", options: func(_ *adjusterv1.OptionsRequest, out *adjusterv1.OptionsResponse) {
			out.Rows = out.Rows[:min(len(out.Rows), 100)]
		}},
		"mixes-rows": {check: "pure", options: func(r *adjusterv1.OptionsRequest, out *adjusterv1.OptionsResponse) {
			if len(r.GetRows()) == adjuster.MaxRows {
				out.Rows[0], out.Rows[1] = out.Rows[1], out.Rows[0]
			}
		}},
		"wrong-answer": {check: "options", options: each(func(r *adjusterv1.RowOptions) { r.Options[0].EffectMm -= 0.1 })},
		"silent":       {check: "words", say: func(_ *adjusterv1.SayRequest, out *adjusterv1.SayResponse) { out.Words[len(out.Words)-1].Say = "" }},
		"unreadable":   {check: "words", say: func(_ *adjusterv1.SayRequest, out *adjusterv1.SayResponse) { out.Words[0].Say = "<b>Do it</b>" }},
		"forgetful":    {check: "words", describe: func(s *adjusterv1.Style) { s.SlackMm, s.Approach = 1, adjusterv1.Approach_APPROACH_DEEPER }},
		"wordless-refusal": {check: "violations", options: func(_ *adjusterv1.OptionsRequest, out *adjusterv1.OptionsResponse) {
			for _, v := range out.GetRows()[0].GetViolations() {
				v.Message = ""
			}
		}},
		"dies": {check: "hostile figures", options: func(r *adjusterv1.OptionsRequest, _ *adjusterv1.OptionsResponse) {
			if strings.Contains(r.GetMechanisms()[0].GetFigures(), "1e+300") {
				os.Exit(2)
			}
		}},
		"hangs": {check: "hostile settings", options: func(r *adjusterv1.OptionsRequest, _ *adjusterv1.OptionsResponse) {
			if r.GetRows()[0].GetSetting() == "null" {
				time.Sleep(4 * time.Second)
			}
		}},
		"takes-anything": {check: "hostile figures", options: func(_ *adjusterv1.OptionsRequest, out *adjusterv1.OptionsResponse) {
			if row := out.GetRows()[0]; len(row.GetViolations()) > 0 && strings.HasPrefix(row.GetViolations()[0].GetField(), "figures") {
				row.Violations, row.Options = nil, []*adjusterv1.Option{{Leave: true}}
			}
		}},
	}
}

func leave(r *adjusterv1.RowOptions) *adjusterv1.Option {
	for _, o := range r.GetOptions() {
		if o.GetLeave() {
			return o
		}
	}
	return r.GetOptions()[0]
}

// named is this test's own program under another name.
func named(t *testing.T, name string) string {
	t.Helper()
	self, err := os.Executable()
	if err != nil {
		t.Fatal(err)
	}
	path := filepath.Join(t.TempDir(), name+".exe")
	if os.Link(self, path) == nil {
		return path
	}
	content, err := os.ReadFile(self)
	if err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(path, content, 0o700); err != nil {
		t.Fatal(err)
	}
	return path
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
	findings, err := Run(t.Context(), named(t, "honest"), rodCases(t))
	if err != nil || len(findings) > 0 {
		t.Errorf("an honest adjuster: %v, %v", findings, err)
	}
}

// TestLiarsAreFound examines more liars at once than there are processors: most of the time they wait
// for each other to end.
func TestLiarsAreFound(t *testing.T) {
	t.Parallel()
	const atOnce = 8
	places := make(chan struct{}, atOnce)
	var all sync.WaitGroup
	for name, l := range liars() {
		program, cases := named(t, name), rodCases(t)
		places <- struct{}{}
		all.Go(func() {
			defer func() { <-places }()
			findings, err := run(t.Context(), program, cases, l.limits())
			if err != nil {
				t.Errorf("%s: %v", name, err)
			}
			if !slices.ContainsFunc(findings, func(f Finding) bool { return f.Check == l.check }) {
				t.Errorf("%s: nothing was found about %q: %v", name, l.check, findings)
			}
		})
	}
	all.Wait()
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

func TestNoProgram(t *testing.T) {
	t.Parallel()
	findings, err := Run(t.Context(), filepath.Join(t.TempDir(), "nothing"), nil)
	if err != nil || len(findings) != 1 || findings[0].Check != "start" {
		t.Errorf("a program that is not there: %v, %v", findings, err)
	}
}

func TestNoCases(t *testing.T) {
	t.Parallel()
	findings, err := run(t.Context(), named(t, "honest"), nil, limits{call: 5 * time.Second})
	if err != nil || len(findings) != 1 || findings[0].Check != "cases" {
		t.Errorf("an exam without cases: %v, %v", findings, err)
	}
}

func FuzzCases(f *testing.F) {
	f.Add([]byte(`{"cases": [{"name": "x", "figures": {"a": 1}, "options": [{"effectMm": 1, "count": null, "settingAfter": {}}]}]}`))
	f.Add([]byte(`{"cases": [{"nam": 1}]}`))
	f.Fuzz(func(_ *testing.T, data []byte) {
		cases, err := parseCases(data)
		if err != nil {
			return
		}
		for _, c := range cases {
			jsonText(c.Figures)
			spoiled(c.Setting)
		}
	})
}
