package adjusters_test

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"slices"
	"strconv"
	"strings"
	"sync"
	"sync/atomic"
	"syscall"
	"testing"
	"time"

	"go.uber.org/zap"
	"go.uber.org/zap/zapcore"
	"go.uber.org/zap/zaptest/observer"

	"rowdatum/server/internal/adjusters"
	"rowdatum/server/leveling"
)

// misbehaving is the built test adjuster; its file name is its fault.
var misbehaving string

func TestMain(m *testing.M) {
	dir, err := os.MkdirTemp("", "misbehaving-")
	if err != nil {
		panic(err)
	}
	misbehaving = filepath.Join(dir, "misbehaving")
	build := exec.Command("go", "build", "-ldflags=-s -w", "-o", misbehaving, "./misbehaving")
	if out, err := build.CombinedOutput(); err != nil {
		panic(fmt.Sprintf("%v\n%s", err, out))
	}
	code := m.Run()
	os.RemoveAll(dir)
	os.Exit(code)
}

// install puts copies of the test adjuster into a new folder.
func install(t testing.TB, names ...string) string {
	t.Helper()
	dir := t.TempDir()
	must(t, os.Chmod(dir, 0o755))
	for _, name := range names {
		must(t, os.Link(misbehaving, filepath.Join(dir, name)))
	}
	return dir
}

// hosted is a running host with its log.
type hosted struct {
	*adjusters.Host
	log *observer.ObservedLogs
}

// host starts a host and closes it at the end; then nothing may be left of it.
func host(t testing.TB, o adjusters.Options) hosted {
	t.Helper()
	core, log := observer.New(zap.DebugLevel)
	o.Log = zap.New(core)
	h, err := adjusters.Start(context.Background(), o)
	must(t, err)
	t.Cleanup(func() {
		must(t, h.Close(context.Background()))
		within(t, soon, "nothing is left running", func() bool { return len(running(t, cmp.Or(o.Dir, "/no adjusters"))) == 0 })
	})
	return hosted{h, log}
}

func must(t testing.TB, err error) {
	t.Helper()
	if err != nil {
		t.Fatal(err)
	}
}

// running lists the processes, zombies included, whose program was taken from dir.
func running(t testing.TB, dir string) []int {
	t.Helper()
	all, err := filepath.Glob("/proc/[0-9]*")
	must(t, err)
	var pids []int
	for _, p := range all {
		_, err := os.Readlink(p + "/exe")
		program := calledAs(p)
		stat, _ := os.ReadFile(p + "/stat")
		fields := strings.Fields(string(stat[strings.LastIndexByte(string(stat), ')')+1:]))
		ourZombie := err != nil && len(fields) > 1 && fields[0] == "Z" && fields[1] == strconv.Itoa(os.Getpid())
		if strings.HasPrefix(program, dir+"/") || ourZombie {
			pid, _ := strconv.Atoi(filepath.Base(p))
			pids = append(pids, pid)
		}
	}
	return pids
}

// calledAs is the name under which a process was started: for an adjuster, where its file lies.
func calledAs(process string) string {
	line, _ := os.ReadFile(process + "/cmdline")
	name, _, _ := strings.Cut(string(line), "\x00")
	return name
}

// within polls until good, or fails after a while.
func within(t testing.TB, d time.Duration, what string, good func() bool) time.Duration {
	t.Helper()
	start := time.Now()
	for !good() {
		if time.Since(start) > d {
			t.Fatalf("not within %v: %s", d, what)
		}
		time.Sleep(5 * time.Millisecond)
	}
	return time.Since(start)
}

func (h hosted) state(t testing.TB, id string) (leveling.StyleState, string) {
	t.Helper()
	s, err := h.Style(t.Context(), id, leveling.Voice{})
	must(t, err)
	return s.State, s.StateReason
}

// replaced says whether the program serves in another process than pid.
func (h hosted) replaced(t testing.TB, dir, program string, pid int) bool {
	t.Helper()
	now := pidsOf(dir, program)
	state, _ := h.state(t, program)
	return state == leveling.Serving && len(now) == 1 && now[0] != pid
}

// ask is a question for rows that stand at the given turns; fault goes to the adjuster.
func ask(fault string, turns ...int) leveling.OptionsQuestion {
	figures := `{"mmPerTurn":6.35}`
	if fault != "" {
		figures = fmt.Sprintf(`{"fault":%q,"mmPerTurn":6.35}`, fault)
	}
	q := leveling.OptionsQuestion{Figures: []leveling.JSON{leveling.JSON(figures)}}
	for _, n := range turns {
		q.Rows = append(q.Rows, leveling.RowSetting{Setting: leveling.JSON(fmt.Sprintf(`{"turns":%d}`, n))})
	}
	return q
}

// wantError checks kind, reason and the style in the metadata.
func wantError(t testing.TB, err error, kind leveling.Kind, reason, words string) {
	t.Helper()
	e, ok := errors.AsType[*leveling.Error](err)
	if !ok || e.Kind != kind || e.Reason != reason || e.Metadata["style"] == "" || !strings.Contains(e.Message, words) {
		t.Errorf("got %#v (%v), want kind %d, %s, %q", e, err, kind, reason, words)
	}
	for _, word := range []string{"rpc error", "proto", "goroutine", "nil", "context"} {
		if ok && strings.Contains(e.Message, word) {
			t.Errorf("the message speaks of %s: %s", word, e.Message)
		}
	}
}

func TestGoodAdjusters(t *testing.T) {
	start := time.Now()
	h := host(t, adjusters.Options{Dir: install(t, "a-handle", "b-handle", "c-handle")})
	t.Logf("three adjusters ready after %v", time.Since(start))
	styles, err := h.Styles(t.Context(), leveling.Voice{})
	must(t, err)
	for i, id := range []string{"a-handle", "b-handle", "c-handle"} {
		if s := styles[i]; s.ID != id || s.State != leveling.Serving || s.StateReason != "" || s.TouchSeconds != 60 || *s.InspectionPoints[0].Limit != 1.5 {
			t.Errorf("%+v", s)
		}
	}
	q := ask("", 8, 0)
	q.Rows = append(q.Rows, leveling.RowSetting{}) // nobody knows where it stands
	rows, err := h.Options(t.Context(), "b-handle", q)
	must(t, err)
	if len(rows) != 3 || len(rows[0].Options) != 41 || rows[0].Violations != nil {
		t.Fatalf("%+v", rows)
	}
	// Common practice, no source: a quarter inch a turn.
	want := leveling.Option{EffectMm: 6.35, Count: 1, SettingAfter: `{"turns":9}`, TravelKnown: true, ShallowerLeftMm: 9 * 6.35, DeeperLeftMm: 31 * 6.35}
	if got := rows[0].Options[9]; got != want {
		t.Errorf("got %+v, want %+v", got, want)
	}
	if got := rows[2].Options[0]; got.SettingAfter != "" || got.TravelKnown || got.EffectMm != -20*6.35 {
		t.Errorf("%+v", got)
	}
	choices := []leveling.Choice{{RowSetting: q.Rows[0], Option: rows[0].Options[9]}, {RowSetting: q.Rows[1], Option: rows[1].Options[0]}}
	said, err := h.Say(t.Context(), "b-handle", q.Figures, choices, leveling.Voice{Language: "en"})
	must(t, err)
	if said[0].Say != "Turn the handle 1 turns." || said[1].Say != "" || said[1].Cautions[0] != "Both gauge wheels down." {
		t.Errorf("%+v", said)
	}
	if none, err := h.Options(t.Context(), "b-handle", leveling.OptionsQuestion{}); err != nil || len(none) != 0 {
		t.Errorf("no rows: %v, %v", none, err)
	}
}

func TestUnknownStyle(t *testing.T) {
	h := host(t, adjusters.Options{Dir: install(t, "a-handle")})
	_, err := h.Options(t.Context(), "z-handle", ask("", 1))
	wantError(t, err, leveling.FailedState, "STYLE_NOT_INSTALLED", `"z-handle" is not installed. Installed: a-handle.`)
	_, err = h.Say(t.Context(), "z-handle", nil, nil, leveling.Voice{})
	wantError(t, err, leveling.FailedState, "STYLE_NOT_INSTALLED", "a-handle")
	_, err = h.Style(t.Context(), "z-handle", leveling.Voice{})
	wantError(t, err, leveling.NotFound, "STYLE_NOT_FOUND", "z-handle")
	empty := host(t, adjusters.Options{})
	_, err = empty.Options(t.Context(), "z-handle", ask("", 1))
	wantError(t, err, leveling.FailedState, "STYLE_NOT_INSTALLED", "No style is installed.")
	if _, err := adjusters.Start(t.Context(), adjusters.Options{Dir: filepath.Join(t.TempDir(), "none")}); err == nil {
		t.Error("a missing folder is no error")
	}
}

// TestStartGivenUp: a start that is cancelled leaves nothing behind.
func TestStartGivenUp(t *testing.T) {
	dir := install(t, "silent", "handle")
	ctx, cancel := context.WithTimeout(t.Context(), 300*time.Millisecond)
	defer cancel()
	if _, err := adjusters.Start(ctx, adjusters.Options{Dir: dir}); !errors.Is(err, context.DeadlineExceeded) {
		t.Errorf("got %v", err)
	}
	if left := running(t, dir); len(left) > 0 {
		t.Errorf("left running: %v", left)
	}
}

// TestWithoutHealth: a program that has no health service, or another name for it, still serves; one that
// calls itself unwell is started again.
func TestWithoutHealth(t *testing.T) {
	dir := install(t, "no-health", "unwell")
	h := host(t, adjusters.Options{Dir: dir, PingEvery: 10 * time.Millisecond, SilentFor: 100 * time.Millisecond, BackoffMin: 10 * time.Millisecond})
	well, unwell := pidOf(t, dir, "no-health"), map[int]bool{}
	within(t, 3*time.Second, "the unwell one is started again", func() bool {
		for _, pid := range pidsOf(dir, "unwell") { // none between an end and a start
			unwell[pid] = true
		}
		return len(unwell) > 1
	})
	if state, reason := h.state(t, "no-health"); state != leveling.Serving || pidOf(t, dir, "no-health") != well {
		t.Errorf("%v %s", state, reason)
	}
}

// TestBadPrograms: whatever is wrong with a program is said of it, and the good one beside it serves.
func TestBadPrograms(t *testing.T) {
	cases := []struct{ program, reason string }{
		{"exit-at-start", "ended while starting (exit status 3)"},
		{"banner", "first words were not an adjuster's"},
		{"long-banner", "first words were not an adjuster's"},
		{"other-version", "first words were not an adjuster's"},
		{"net-rpc", "first words were not an adjuster's"},
		{"script", "cannot be run on this machine"},
		{"no-style", `its id is ""`},
		{"bad-id", `its id is "Bad Id"`},
		{"touch-zero", "its touchSeconds is 0"},
		{"negative-sd", "its scaleSd is -0.1"},
		{"nan-seating", "its seatingMm is not a number"},
		{"odd-approach", "its approach is not known"},
		{"escape-title", "its title has characters that cannot be shown"},
		{"huge-schema", "the schema of its figures is 65"},
		{"remote-schema", "the schema of its setting refers to https://example.com/setting.json, which is outside itself"},
		{"endless-schema", "the schema of its setting refers to itself without end"},
		{"half-limit", `the inspection point "thread" must have a limit`},
		{"twin.b", `Its style "twin" is served by the program twin.a`},
	}
	var names []string
	for _, c := range cases {
		if c.program != "script" {
			names = append(names, c.program)
		}
	}
	dir := install(t, append(names, "good", "twin.a")...)
	must(t, os.WriteFile(filepath.Join(dir, "script"), []byte("#!/no/such/interpreter\n"), 0o755))
	h := host(t, adjusters.Options{Dir: dir, BackoffMin: time.Millisecond, BackoffMax: 2 * time.Millisecond, StartTimeout: 8 * time.Second})
	if _, err := h.Options(t.Context(), "good", ask("", 1)); err != nil {
		t.Fatal(err)
	}
	within(t, 20*time.Second, "every bad program is set aside", func() bool {
		styles, err := h.Styles(t.Context(), leveling.Voice{})
		must(t, err)
		return !slices.ContainsFunc(styles, func(s leveling.Style) bool {
			return (s.ID != "good" && s.ID != "twin") != (s.State == leveling.Quarantined)
		})
	})
	styles, err := h.Styles(t.Context(), leveling.Voice{})
	must(t, err)
	if !slices.IsSortedFunc(styles, func(a, b leveling.Style) int { return strings.Compare(a.ID, b.ID) }) || len(styles) != len(cases)+2 {
		t.Errorf("%d styles, or not sorted", len(styles))
	}
	for _, c := range cases {
		i := slices.IndexFunc(styles, func(s leveling.Style) bool { return s.ID == c.program })
		if i < 0 || !strings.Contains(styles[i].StateReason, c.reason) {
			t.Errorf("%s: got %+v, want %q", c.program, styles[max(i, 0)].StateReason, c.reason)
		}
	}
	_, err = h.Options(t.Context(), "exit-at-start", ask("", 1))
	wantError(t, err, leveling.Unavailable, "ADJUSTER_DOWN", "ended while starting")
}

// TestSilentPrograms: a program that never shakes hands, or never says what it is, is ended in time.
func TestSilentPrograms(t *testing.T) {
	h := host(t, adjusters.Options{Dir: install(t, "silent", "slow-describe"), StartTimeout: 1500 * time.Millisecond, StartBound: time.Minute, QuickDeaths: 1})
	for id, words := range map[string]string{"silent": "did not start in time", "slow-describe": "did not say in time what it is"} {
		if state, reason := h.state(t, id); state != leveling.Quarantined || !strings.Contains(reason, words) {
			t.Errorf("%s: %v %q", id, state, reason)
		}
	}
	bounded := time.Now()
	host(t, adjusters.Options{Dir: install(t, "silent"), StartBound: 100 * time.Millisecond})
	if took := time.Since(bounded); took > time.Second {
		t.Errorf("start waited %v for a silent program", took)
	}
}

// TestWrongAnswers: what an adjuster says wrongly is named and never passed on, nor remembered.
func TestWrongAnswers(t *testing.T) {
	h := host(t, adjusters.Options{Dir: install(t, "handle")})
	for fault, words := range map[string]string{
		"nan-effect":       "an effect is not a number",
		"infinite-count":   "a count is infinite",
		"no-leave":         "0 options leave the row alone",
		"two-leaves":       "2 options leave the row alone",
		"leave-moves":      "leaving the row alone has an effect",
		"no-options":       "there are 0 options, must be 1 to 1000",
		"too-many-options": "there are 1001 options",
		"wrong-order":      "not by rising effect",
		"too-few-rows":     "asked for 2 rows and answered for 1",
		"too-many-rows":    "asked for 2 rows and answered for 3",
		"off-schema":       "off its own schema: setting.turns is -1, must be 0 or more",
		"part-of-a-count":  "setting.turns is 1.5, must be a whole number",
		"malformed":        "not valid JSON",
		"no-setting":       "exactly where the setting is known",
		"long-setting":     "at most 1024 are taken",
		"negative-travel":  "a travel left is -1",
		"nan-travel":       "a travel left is not a number",
		"nan-seconds":      "an option's seconds is not a number",
		"endless-seconds":  "must be from 0 to 86400",
		"negative-seconds": "an option's seconds is -1",
		"leave-takes-time": "a count or seconds",
		"no-travel":        "exactly where the setting is known",
		"both":             "options and called the row wrong at once",
		"odd-violation":    `about "settings"`,
		"mute-violation":   "message is empty",
		"error":            "failed over this question",
		"big":              "failed over this question",
	} {
		_, err := h.Options(t.Context(), "handle", ask(fault, 8, 9))
		wantError(t, err, leveling.Internal, "ADJUSTER_WRONG", words)
	}
	rows, err := h.Options(t.Context(), "handle", ask("violations", 8, 9))
	must(t, err)
	if v := rows[0].Violations; len(v) != 1 || v[0].Field != "setting.turns" || rows[0].Options != nil || len(rows[1].Options) != 41 {
		t.Errorf("%+v, %d options", rows[0], len(rows[1].Options))
	}
	unknown := leveling.OptionsQuestion{Figures: ask("no-leave").Figures, Rows: []leveling.RowSetting{{}}}
	_, err = h.Options(t.Context(), "handle", unknown)
	wantError(t, err, leveling.Internal, "ADJUSTER_WRONG", "0 options")
}

// TestOptionsKeepTheirOrder: options of one effect stay in the adjuster's own order, each with its seconds.
func TestOptionsKeepTheirOrder(t *testing.T) {
	h := host(t, adjusters.Options{Dir: install(t, "handle")})
	for range 2 { // the second answer is a remembered one
		rows, err := h.Options(t.Context(), "handle", ask("two-controls", 8))
		must(t, err)
		last := rows[0].Options[len(rows[0].Options)-2:]
		if last[0].EffectMm != last[1].EffectMm || last[0].Seconds != 120 || last[1].Seconds != 45 || last[0].SettingAfter != `{"turns":9}` {
			t.Errorf("the two ways to one depth became %+v", last)
		}
		if rows[0].Options[0].Seconds != 0 {
			t.Errorf("an option without seconds has %v", rows[0].Options[0].Seconds)
		}
	}
}

func TestWrongWords(t *testing.T) {
	h := host(t, adjusters.Options{Dir: install(t, "handle")})
	q := ask("", 8)
	rows, err := h.Options(t.Context(), "handle", q)
	must(t, err)
	for fault, words := range map[string]string{
		"mute":          "the words for a move is empty",
		"long-words":    "at most 2000 are taken",
		"escape-words":  "characters that cannot be shown",
		"many-cautions": "cautions are 1000",
		"too-few-words": "words of 1 choices and gave 0",
	} {
		choice := leveling.Choice{RowSetting: q.Rows[0], Option: rows[0].Options[0]}
		_, err := h.Say(t.Context(), "handle", ask(fault).Figures, []leveling.Choice{choice}, leveling.Voice{})
		wantError(t, err, leveling.Internal, "ADJUSTER_WRONG", words)
	}
	leave := leveling.Choice{RowSetting: q.Rows[0], Option: rows[0].Options[8]}
	_, err = h.Say(t.Context(), "handle", ask("talks-of-leaving").Figures, []leveling.Choice{leave}, leveling.Voice{})
	wantError(t, err, leveling.Internal, "ADJUSTER_WRONG", "left alone")
	_, err = h.Say(t.Context(), "handle", []leveling.JSON{`{"mmPerTurn":0}`}, []leveling.Choice{leave}, leveling.Voice{})
	if e := leveling.AsError(err); e.Kind != leveling.Invalid || e.Violations[0].Field != "figures.mmPerTurn" {
		t.Errorf("%+v", e)
	}
}

// TestSchemas: figures and settings off the schema are answered before the wire; other rows are not
// harmed.
func TestSchemas(t *testing.T) {
	h := host(t, adjusters.Options{Dir: install(t, "handle")})
	q := leveling.OptionsQuestion{
		Figures: []leveling.JSON{`{"mmPerTurn":0,"pitch":1}`, `{"mmPerTurn":6.35}`},
		Rows: []leveling.RowSetting{
			{Mechanism: 0, Setting: `{}`},
			{Mechanism: 1, Setting: `{"turns":8}`},
			{Mechanism: 1, Setting: `{"turns":8.5}`},
			{Mechanism: 1, Setting: `[`},
			{Mechanism: 0},
		},
	}
	rows, err := h.Options(t.Context(), "handle", q)
	must(t, err)
	figures := []leveling.Violation{
		{Field: "figures.mmPerTurn", Say: leveling.Text("is 0, must be above 0")},
		{Field: "figures.pitch", Say: leveling.Text("is not known; known here: fault, mmPerTurn, turns")},
	}
	for i, want := range [][]leveling.Violation{
		append(slices.Clip(figures), leveling.Violation{Field: "setting.turns", Say: leveling.Text("is missing")}),
		nil,
		{{Field: "setting.turns", Say: leveling.Text("is 8.5, must be a whole number")}},
		{{Field: "setting", Say: leveling.Text("is not valid JSON")}},
		figures,
	} {
		if got, want := leveling.Violations(rows[i].Violations).Err(), leveling.Violations(want).Err(); fmt.Sprint(got) != fmt.Sprint(want) {
			t.Errorf("row %d: got %v, want %v", i, got, want)
		}
	}
	if len(rows[1].Options) != 41 {
		t.Errorf("the good row: %d options", len(rows[1].Options))
	}
	if _, err := h.Options(t.Context(), "handle", leveling.OptionsQuestion{Rows: q.Rows[:1]}); err == nil {
		t.Error("a row without a mechanism is no error")
	}
	if _, err := h.Options(t.Context(), "handle", ask("", make([]int, 121)...)); err == nil {
		t.Error("121 rows are no error")
	}
}

// TestHeals: under load, an adjuster that is killed or halted is replaced in time, and those who ask do
// not notice, nor those who ask another.
func TestHeals(t *testing.T) {
	for _, signal := range []syscall.Signal{syscall.SIGKILL, syscall.SIGSTOP} {
		t.Run(signal.String(), func(t *testing.T) {
			dir := install(t, "handle", "other")
			h := host(t, adjusters.Options{Dir: dir})
			ctx, stop := context.WithCancel(t.Context())
			var load sync.WaitGroup
			var asked, slowest atomic.Int64
			for worker := range 4 {
				style := []string{"handle", "other"}[worker%2]
				load.Go(func() {
					for n := 0; ctx.Err() == nil; n++ {
						q := ask("", n%41)
						q.Figures[0] = leveling.JSON(fmt.Sprintf(`{"mmPerTurn":%d.%d}`, worker+1, n)) // never asked before
						from := time.Now()
						if _, err := h.Options(t.Context(), style, q); err != nil {
							t.Errorf("%s: %v", style, err)
						}
						asked.Add(1)
						slowest.Store(max(slowest.Load(), int64(time.Since(from))))
					}
				})
			}
			time.Sleep(100 * time.Millisecond)
			pid := pidOf(t, dir, "handle")
			hit := time.Now()
			must(t, syscall.Kill(pid, signal))
			within(t, served, "another process serves", func() bool { return h.replaced(t, dir, "handle", pid) })
			if _, err := h.Options(t.Context(), "handle", ask("", 3)); err != nil {
				t.Error(err)
			}
			healed := time.Since(hit)
			stop()
			load.Wait()
			t.Logf("healed after %v; %d questions, slowest %v", healed, asked.Load(), time.Duration(slowest.Load()))
		})
	}
}

func pidsOf(dir, program string) (pids []int) {
	all, _ := filepath.Glob("/proc/[0-9]*")
	for _, p := range all {
		if calledAs(p) == filepath.Join(dir, program) {
			pid, _ := strconv.Atoi(filepath.Base(p))
			pids = append(pids, pid)
		}
	}
	return pids
}

func pidOf(t testing.TB, dir, program string) int {
	t.Helper()
	pids := pidsOf(dir, program)
	if len(pids) != 1 {
		t.Fatalf("%s runs as %v", program, pids)
	}
	return pids[0]
}

// TestHangs: a call that hangs ends in time; a program that only hangs is started again.
func TestHangs(t *testing.T) {
	dir := install(t, "handle")
	h := host(t, adjusters.Options{Dir: dir, CallTimeout: 200 * time.Millisecond})
	pid := pidOf(t, dir, "handle")
	for range 3 {
		_, err := h.Options(t.Context(), "handle", ask("hang", 1))
		wantError(t, err, leveling.DeadlineExceeded, "ADJUSTER_SLOW", "did not answer in time")
	}
	within(t, 3*time.Second, "it is started again", func() bool { return h.replaced(t, dir, "handle", pid) })
	_, err := h.Options(t.Context(), "handle", ask("", 1))
	must(t, err)
	short, cancel := context.WithTimeout(t.Context(), 50*time.Millisecond)
	defer cancel()
	_, err = h.Options(short, "handle", ask("hang", 2))
	wantError(t, err, leveling.DeadlineExceeded, "ADJUSTER_SLOW", "did not answer in time")
	gone, leave := context.WithCancel(t.Context())
	leave()
	if _, err = h.Options(gone, "handle", ask("hang", 3)); !errors.Is(err, context.Canceled) {
		t.Errorf("a caller that has left gets %v", err)
	}
}

// TestDies: a question over which the program dies is asked once more; what was answered before is
// answered while it is down; a program that keeps dying is set aside.
func TestDies(t *testing.T) {
	h := host(t, adjusters.Options{Dir: install(t, "handle", "other"), QuickDeaths: 4, BackoffMin: 50 * time.Millisecond})
	if _, err := h.Options(t.Context(), "handle", ask("exit-once", 1)); err != nil {
		t.Errorf("asked once more: %v", err)
	}
	known, err := h.Options(t.Context(), "handle", ask("", 1))
	must(t, err)
	_, err = h.Options(t.Context(), "handle", ask("exit", 1))
	wantError(t, err, leveling.Unavailable, "ADJUSTER_DOWN", "ended twice over this question")
	_, err = h.Options(t.Context(), "handle", ask("panic", 1))
	wantError(t, err, leveling.Unavailable, "ADJUSTER_DOWN", "")
	within(t, 3*time.Second, "it is set aside", func() bool { state, _ := h.state(t, "handle"); return state == leveling.Quarantined })
	if _, reason := h.state(t, "handle"); !strings.Contains(reason, "ended (exit status 2)") {
		t.Errorf("reason: %q", reason)
	}
	again, err := h.Options(t.Context(), "handle", ask("", 1))
	must(t, err)
	if !slices.Equal(again[0].Options, known[0].Options) {
		t.Error("the remembered answer is another")
	}
	start := time.Now()
	_, err = h.Options(t.Context(), "handle", ask("", 2))
	wantError(t, err, leveling.Unavailable, "ADJUSTER_DOWN", "set aside")
	if time.Since(start) > time.Second {
		t.Error("waited for a program that is set aside")
	}
	_, err = h.Options(t.Context(), "other", ask("", 2))
	must(t, err)
}

// TestCallersDoNotHurtEachOther: equal questions share a call; one caller leaves, the others get the
// answer; where one goes on from its answer the others do not see it.
func TestCallersDoNotHurtEachOther(t *testing.T) {
	h := host(t, adjusters.Options{Dir: install(t, "handle")})
	leaving, leave := context.WithCancel(t.Context())
	var callers sync.WaitGroup
	callers.Go(func() {
		if _, err := h.Options(leaving, "handle", ask("slow", 1)); !errors.Is(err, context.Canceled) {
			t.Errorf("the caller that left got %v", err)
		}
	})
	time.Sleep(50 * time.Millisecond)
	for range 8 {
		callers.Go(func() {
			rows, err := h.Options(t.Context(), "handle", ask("slow", 1))
			if err != nil {
				t.Error(err)
				return
			}
			if rows[0].Options[0].EffectMm != -6.35 {
				t.Errorf("somebody else's answer: %v", rows[0].Options[0])
			}
			_ = append(rows[0].Options, leveling.Option{})
		})
	}
	leave()
	callers.Wait()
	start := time.Now()
	rows, err := h.Options(t.Context(), "handle", ask("slow", 1))
	must(t, err)
	if rows[0].Options[0].EffectMm != -6.35 || len(rows[0].Options) != 41 {
		t.Error("the remembered answer was changed")
	}
	if time.Since(start) > 200*time.Millisecond {
		t.Error("the answer was not remembered")
	}
	style, err := h.Style(t.Context(), "handle", leveling.Voice{})
	must(t, err)
	*style.InspectionPoints[0].Limit, style.Cautions[0] = 99, "none"
	again, err := h.Style(t.Context(), "handle", leveling.Voice{})
	must(t, err)
	if *again.InspectionPoints[0].Limit != 1.5 || again.Cautions[0] == "none" {
		t.Error("the style was changed")
	}
}

func TestLanguages(t *testing.T) {
	h := host(t, adjusters.Options{Dir: install(t, "handle")})
	for language, title := range map[leveling.Language]string{
		"": "A handle", "en": "A handle", "es": "Una manivela", "de": "A handle",
		"xx": "A handle", // an empty title there: English stands in
		"yy": "A handle", // other constants there
		leveling.Language(strings.Repeat("e", 40)): "A handle", "e\ns": "A handle",
	} {
		style, err := h.Style(t.Context(), "handle", leveling.Voice{Language: language})
		must(t, err)
		if style.Title != title || style.TouchSeconds != 60 || style.State != leveling.Serving {
			t.Errorf("%q: %q", language, style.Title)
		}
	}
	if n := h.log.FilterMessage("adjuster describes itself wrongly").Len(); n != 2 {
		t.Errorf("said %d times in the log, want once each", n)
	}
}

// TestClose: whatever a program does when asked to leave, it is gone soon, with all that it started.
func TestClose(t *testing.T) {
	for _, c := range []struct {
		name, program string
		halt          bool
		patience      time.Duration // of the caller
		most          time.Duration
	}{
		{"good", "handle", false, time.Minute, 500 * time.Millisecond},
		{"ignores being asked", "stubborn", false, time.Minute, 2500 * time.Millisecond},
		{"halted", "handle", true, time.Minute, 2500 * time.Millisecond},
		{"halted and no time left", "handle", true, 50 * time.Millisecond, time.Second},
		{"a child holds its output open", "stubborn-children", false, time.Minute, 2 * time.Second},
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			dir := install(t, c.program)
			core, log := observer.New(zap.WarnLevel)
			h, err := adjusters.Start(t.Context(), adjusters.Options{Dir: dir, Log: zap.New(core), PingEvery: time.Hour})
			must(t, err)
			pid := pidOf(t, dir, c.program)
			group, err := exec.Command("pgrep", "-g", strconv.Itoa(pid)).Output()
			must(t, err)
			if c.halt {
				must(t, syscall.Kill(pid, syscall.SIGSTOP))
				within(t, time.Second, "it is halted", func() bool {
					stat, err := os.ReadFile(fmt.Sprintf("/proc/%d/stat", pid))
					return err == nil && strings.Contains(string(stat), ") T ")
				})
			}
			ctx, cancel := context.WithTimeout(t.Context(), c.patience)
			defer cancel()
			start := time.Now()
			must(t, h.Close(ctx))
			took := time.Since(start)
			t.Logf("%s: closed in %v", c.name, took)
			if took > c.most {
				t.Errorf("closed in %v, want at most %v", took, c.most)
			}
			for _, member := range strings.Fields(string(group)) {
				if stat, err := os.ReadFile("/proc/" + member + "/stat"); err == nil && !strings.Contains(string(stat), ") Z 1 ") {
					t.Errorf("left behind: %s", stat)
				}
			}
			var want []string // an exit that was asked for is not warned of
			if c.program == "stubborn" {
				want = []string{"adjuster did not leave when asked, and was ended"}
			}
			if got := messages(log); !c.halt && !slices.Equal(got, want) {
				t.Errorf("logged %q, want %q", got, want)
			}
			_, err = h.Options(t.Context(), c.program, ask("", 1))
			wantError(t, err, leveling.Unavailable, "ADJUSTER_DOWN", "")
			must(t, h.Close(ctx)) // again
		})
	}
}

func TestRunDir(t *testing.T) {
	dir, err := os.MkdirTemp("", "run-")
	must(t, err)
	defer os.RemoveAll(dir)
	must(t, os.MkdirAll(filepath.Join(dir, "plugin-dir123", "old"), 0o700))
	must(t, os.WriteFile(filepath.Join(dir, "kept"), nil, 0o600))
	h, err := adjusters.Start(t.Context(), adjusters.Options{Dir: install(t, "handle"), RunDir: dir})
	must(t, err)
	sockets, err := filepath.Glob(filepath.Join(dir, "plugin-dir*", "*"))
	must(t, err)
	if len(sockets) != 1 || strings.Contains(sockets[0], "plugin-dir123/") {
		t.Errorf("sockets: %v", sockets)
	}
	must(t, h.Close(t.Context()))
	left, err := os.ReadDir(dir)
	must(t, err)
	if len(left) != 1 || left[0].Name() != "kept" {
		t.Errorf("left: %v", left)
	}
	if _, err := adjusters.Start(t.Context(), adjusters.Options{RunDir: filepath.Join(dir, strings.Repeat("x", 80))}); err == nil {
		t.Error("a run folder too long for sockets is no error")
	}
}

// TestLogs: what an adjuster prints comes out as events of the service's log, whatever it looks like.
func TestLogs(t *testing.T) {
	dir := install(t, "odd-log")
	h := host(t, adjusters.Options{Dir: dir})
	_, err := h.Options(t.Context(), "odd-log", ask("print", 1))
	must(t, err)
	event := func(message string) zapcore.Entry {
		t.Helper()
		var found []observer.LoggedEntry
		within(t, soon, message, func() bool { found = h.log.FilterMessage(message).All(); return len(found) > 0 })
		if found[0].ContextMap()["style"] != "odd-log" {
			t.Errorf("%q is not logged under its style: %v", message, found[0].ContextMap())
		}
		return found[0].Entry
	}
	for message, level := range map[string]zapcore.Level{
		`{"@message":1}`: zap.InfoLevel, "plain words": zap.InfoLevel, "[1,2": zap.InfoLevel, "spring is weak": zap.WarnLevel,
		strings.Repeat("y", 8<<10): zap.InfoLevel, "printed on stdout": zap.InfoLevel, "printed on stderr": zap.InfoLevel,
	} {
		if got := event(message).Level; got != level {
			t.Errorf("%.20q: level %v, want %v", message, got, level)
		}
	}
	long := h.log.FilterMessage(strings.Repeat("y", 8<<10))
	if long.Len() != 1 || long.FilterField(zap.Bool("truncated", true)).Len() != 1 {
		t.Errorf("a long line makes %d events, or is not marked", long.Len())
	}
	must(t, h.Close(context.Background()))
	event("last words without an end")
}

// TestFlood: a program that prints without end is no harm, and its flood is counted, not kept.
func TestFlood(t *testing.T) {
	h := host(t, adjusters.Options{Dir: install(t, "flood")})
	for i := range 20 {
		_, err := h.Options(t.Context(), "flood", ask("", i))
		must(t, err)
	}
	within(t, 4*time.Second, "lines are dropped", func() bool {
		return h.log.FilterMessage("the adjuster printed more than is kept").Len() > 0
	})
	if n := h.log.Len(); n > 2000 {
		t.Errorf("%d events", n)
	}
}

// TestEnvironment: of the service's environment an adjuster gets what it needs to run, and no secret.
func TestEnvironment(t *testing.T) {
	t.Setenv("ROWDATUM_STORE", "postgres://secret")
	h := host(t, adjusters.Options{Dir: install(t, "environment")})
	var said string
	within(t, soon, "the environment is printed", func() bool {
		for _, e := range h.log.All() {
			if strings.HasPrefix(e.Message, "environment:") {
				said = e.Message
			}
		}
		return said != ""
	})
	if strings.Contains(said, "secret") || !strings.Contains(said, `"PATH=`) || !strings.Contains(said, `"HOME=`) {
		t.Error(said)
	}
}

// TestWhoMayWrite: what others can write is not run; what is no program is not seen.
func TestWhoMayWrite(t *testing.T) {
	dir := install(t, "good")
	program, err := os.ReadFile(misbehaving)
	must(t, err)
	for name, mode := range map[string]os.FileMode{"by-group": 0o775, "by-all": 0o757, ".hidden": 0o755, "README.md": 0o644, "unreadable": 0o311} {
		must(t, os.WriteFile(filepath.Join(dir, name), program, 0o700))
		must(t, os.Chmod(filepath.Join(dir, name), mode))
	}
	must(t, os.Mkdir(filepath.Join(dir, "folder"), 0o755))
	h := host(t, adjusters.Options{Dir: dir})
	styles, err := h.Styles(t.Context(), leveling.Voice{})
	must(t, err)
	var got []string
	for _, s := range styles {
		got = append(got, fmt.Sprintf("%s %d", s.ID, s.State))
		if strings.HasPrefix(s.ID, "by-") && !strings.Contains(s.StateReason, "can be written by others") {
			t.Errorf("%s: %s", s.ID, s.StateReason)
		}
	}
	want := []string{"by-all 4", "by-group 4", "good 2", "unreadable 4"}
	if os.Geteuid() == 0 { // root reads everything
		want[3] = "unreadable 2"
	}
	if !slices.Equal(got, want) {
		t.Errorf("got %v, want %v", got, want)
	}
	open := install(t, "handle")
	must(t, os.Chmod(open, 0o777))
	if state, reason := host(t, adjusters.Options{Dir: open}).state(t, "handle"); state != leveling.Quarantined || !strings.Contains(reason, "folder can be written by others") {
		t.Errorf("%v %s", state, reason)
	}
}

// TestTooMany: a folder of programs that are no adjusters is not run.
func TestTooMany(t *testing.T) {
	dir := t.TempDir()
	for i := range 101 {
		must(t, os.WriteFile(filepath.Join(dir, fmt.Sprintf("tool%d", i)), nil, 0o755))
	}
	_, err := adjusters.Start(t.Context(), adjusters.Options{Dir: dir})
	if err == nil || !strings.Contains(err.Error(), "101 programs, at most 100") {
		t.Errorf("got %v", err)
	}
}

func messages(log *observer.ObservedLogs) (all []string) {
	for _, e := range log.All() {
		all = append(all, e.Message)
	}
	return all
}

// TestSaysWhich: whatever a program does to its machine, it is ended and named, the service does not grow
// with it, and the one beside it serves.
func TestSaysWhich(t *testing.T) {
	for _, c := range []struct{ program, reason string }{
		{"leak", "MiB of memory, at most 100 are allowed"},
		{"leak-first", "MiB of memory, at most 100 are allowed"},
		{"forks", "The adjuster ran 21 processes, at most 8 are allowed"},
		{"rubbish-first", "first words were not an adjuster's"},
	} {
		t.Run(c.program, func(t *testing.T) {
			t.Parallel()
			dir := install(t, c.program, "good")
			h := host(t, adjusters.Options{Dir: dir, MemoryBytes: 100 << 20, MaxProcesses: 8, QuickDeaths: 1})
			within(t, 10*time.Second, "it is set aside", func() bool {
				state, reason := h.state(t, c.program)
				return state == leveling.Quarantined && strings.Contains(reason, c.reason)
			})
			if said := h.log.FilterMessage("adjuster is set aside").FilterField(zap.String("style", c.program)); said.Len() != 1 {
				t.Errorf("said %d times in the log", said.Len())
			}
			if left := pidsOf(dir, c.program); len(left) > 0 {
				t.Errorf("left running: %v", left)
			}
			_, err := h.Options(t.Context(), "good", ask("", 1))
			must(t, err)
		})
	}
}

// TestRubbish: a program that prints 64 MiB without a line's end serves on, and the service keeps little of it.
func TestRubbish(t *testing.T) {
	h := host(t, adjusters.Options{Dir: install(t, "rubbish")})
	var before, after runtime.MemStats
	runtime.ReadMemStats(&before)
	until := time.Now().Add(1500 * time.Millisecond)
	for n := 0; time.Now().Before(until); n++ {
		_, err := h.Options(t.Context(), "rubbish", ask("", n%41))
		must(t, err)
	}
	runtime.ReadMemStats(&after)
	if grown := int64(after.HeapSys) - int64(before.HeapSys); grown > 32<<20 {
		t.Errorf("the service has grown by %d MiB", grown>>20)
	}
	must(t, h.Close(context.Background()))
	kept := 0
	for _, e := range h.log.FilterField(zap.String("stream", "stdout")).All() {
		kept += len(e.Message)
	}
	if kept == 0 || kept > 64<<10 {
		t.Errorf("%d bytes of it are in the log", kept)
	}
}
