package adjusters

import (
	"context"
	"errors"
	"fmt"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"go.uber.org/zap"
	"go.uber.org/zap/zaptest/observer"

	adjusterv1 "rowdatum/proto/gen/rowdatum/adjuster/v1"
	"rowdatum/server/leveling"
)

// TestDeaths: first restart at once, then starts lie 1, 2, 4 … seconds apart, at most a minute; long
// health forgives; five quick deaths in a row or a fault that stays are the end.
func TestDeaths(t *testing.T) {
	o := Options{}.withDefaults()
	type death struct {
		lived, pause time.Duration
		over         bool
	}
	const s, m = time.Second, time.Minute
	for name, story := range map[string][]death{
		"dies at once, again and again": {{0, 0, false}, {0, s, false}, {0, 2 * s, false}, {0, 4 * s, false}, {0, 0, true}},
		"killed by hand now and then":   {{20 * s, 0, false}, {s, 0, false}, {2 * s, 0, false}, {9 * s, 0, false}, {20 * s, 0, false}, {30 * s, 0, false}},
		"dies every eleven seconds": {{11 * s, 0, false}, {11 * s, 0, false}, {11 * s, 0, false}, {11 * s, 0, false}, {11 * s, 0, false},
			{11 * s, 5 * s, false}, {11 * s, 21 * s, false}, {11 * s, 49 * s, false}, {11 * s, 49 * s, false}},
		"long health forgives": {{0, 0, false}, {0, s, false}, {0, 2 * s, false}, {0, 4 * s, false}, {5 * m, 0, false}, {0, s, false}},
	} {
		var d deaths
		for i, want := range story {
			pause, again := d.next(o, errors.New("gone"), want.lived)
			if pause != want.pause || again == want.over {
				t.Errorf("%s, death %d: pause %v, again %v", name, i+1, pause, again)
			}
		}
	}
	if _, again := new(deaths).next(o, fmt.Errorf("starting: %w", refused("It lies.")), m); again {
		t.Error("a fault that stays is tried again")
	}
}

// TestCacheAgainstPlainTwin: the cache gives what a plain list of the most recent answers gives.
func TestCacheAgainstPlainTwin(t *testing.T) {
	const room = 100
	c, err := newCache(room)
	if err != nil {
		t.Fatal(err)
	}
	type entry struct {
		question string
		answer   any
		bytes    int
	}
	var twin []entry // the most recent last
	random := rand.New(rand.NewPCG(1, 2))
	for step := range 20_000 {
		q := string(rune('a' + random.IntN(20)))
		at := slices.IndexFunc(twin, func(e entry) bool { return e.question == q })
		if random.IntN(2) == 0 {
			got, ok := c.get(q)
			if ok != (at >= 0) || ok && got != twin[at].answer {
				t.Fatalf("step %d: %s: %v, %v", step, q, got, ok)
			}
			if ok {
				e := twin[at]
				twin = append(slices.Delete(twin, at, at+1), e)
			}
			continue
		}
		e := entry{q, step, random.IntN(40)}
		c.add(q, e.answer, e.bytes)
		if at >= 0 {
			twin = slices.Delete(twin, at, at+1)
		}
		twin = append(twin, e)
		for used(twin, func(e entry) int { return e.bytes + len(e.question) }) > room {
			twin = twin[1:]
		}
		if c.byQ.Len() != len(twin) || c.room != room-used(twin, func(e entry) int { return e.bytes + len(e.question) }) {
			t.Fatalf("step %d: %d entries, room %d", step, c.byQ.Len(), c.room)
		}
	}
	c.add("whale", 1, 10*room)
	if _, ok := c.get("whale"); ok || c.room != room {
		t.Errorf("an answer larger than the cache is kept, room %d", c.room)
	}
}

func used[E any](list []E, size func(E) int) (sum int) {
	for _, e := range list {
		sum += size(e)
	}
	return sum
}

// TestQuestionsDiffer: no two different questions have one key, whatever stands in them.
func TestQuestionsDiffer(t *testing.T) {
	d := &description{generation: "g"}
	seen := map[string]string{}
	texts := []leveling.JSON{"", "1", "1:", ";", "0:", "1;1:1"}
	for _, a := range texts {
		for _, b := range texts {
			for _, n := range []int{0, 1, 11} {
				name := fmt.Sprintf("%q %q %d", a, b, n)
				for _, q := range []question{
					key(d, "options").texts([]leveling.JSON{a, b}).settings([]leveling.RowSetting{{Mechanism: n}}),
					key(d, "options").texts([]leveling.JSON{a}).settings([]leveling.RowSetting{{Mechanism: n, Setting: b}}),
					key(d, "options").texts(nil).settings([]leveling.RowSetting{{Mechanism: n, Setting: a}, {Setting: b}}),
					key(d, "say").text(string(b)).texts([]leveling.JSON{a}).choices([]leveling.Choice{{RowSetting: leveling.RowSetting{Mechanism: n}}}),
				} {
					if other, ok := seen[string(q)]; ok {
						t.Fatalf("%s and %s have the key %q", name, other, q)
					}
					seen[string(q)] = name
				}
			}
		}
	}
}

func TestLinesOfAnyCut(t *testing.T) {
	text := "one\r\n\n" + strings.Repeat("z", maxLine+5) + "\n{\"@message\":\"two\",\"@level\":\"error\",\"a\":1}\nlast"
	for cut := 1; cut < 20; cut++ {
		core, log := observer.New(zap.DebugLevel)
		o := &output{log: zap.New(core)}
		from, to, err := os.Pipe()
		if err != nil {
			t.Fatal(err)
		}
		go func() {
			defer to.Close()
			for rest := text; rest != ""; {
				n := min(len(rest), cut*1000)
				_, _ = to.WriteString(rest[:n])
				rest = rest[n:]
			}
		}()
		o.copy("stderr", from)
		var got []string
		for _, e := range log.All() {
			got = append(got, fmt.Sprintf("%s %.5s %v", e.Level, e.Message, e.ContextMap()["truncated"]))
		}
		if want := []string{"info one <nil>", "info zzzzz true", "error two <nil>", "info last <nil>"}; !slices.Equal(got, want) {
			t.Fatalf("cut %d: %q", cut, got)
		}
	}
}

// FuzzLine: no line of an adjuster is too strange for the log.
func FuzzLine(f *testing.F) {
	for _, line := range []string{`{"@message":1}`, `{"@message":"a","@level":2}`, `{"@message":"a","@timestamp":3,"x":[{}]}`, `{`, "\xff\x00", `null`} {
		f.Add([]byte(line))
	}
	f.Fuzz(func(t *testing.T, line []byte) {
		core, log := observer.New(zap.DebugLevel)
		(&output{log: zap.New(core)}).line("stderr", line, false)
		if log.Len() != min(len(line), 1) {
			t.Errorf("%d events", log.Len())
		}
	})
}

// speaker starts one good adjuster without a host.
func speaker(tb testing.TB) (*process, *description) {
	tb.Helper()
	dir := tb.TempDir()
	build := exec.Command("go", "build", "-o", filepath.Join(dir, "handle"), "./misbehaving")
	if out, err := build.CombinedOutput(); err != nil {
		tb.Fatalf("%v\n%s", err, out)
	}
	if err := os.Chmod(dir, 0o755); err != nil {
		tb.Fatal(err)
	}
	programs, err := scan(dir)
	if err != nil || len(programs) != 1 {
		tb.Fatal(programs, err)
	}
	p, err := launch(tb.Context(), programs[0], dir, &output{log: zap.NewNop()})
	if err != nil {
		tb.Fatal(err)
	}
	tb.Cleanup(func() { p.stop(context.Background()) })
	d, err := describe(tb.Context(), p, programs[0])
	if err != nil {
		tb.Fatal(err)
	}
	return p, d
}

// BenchmarkCheck measures the checks alone: an answer as it comes off the wire, up to the largest.
func BenchmarkCheck(b *testing.B) {
	p, fresh := speaker(b)
	for _, c := range []struct {
		rows, turns int
		each        bool // every row has settings of its own
	}{{48, 39, false}, {120, 999, false}} {
		var asked []leveling.RowSetting
		request := &adjusterv1.OptionsRequest{Mechanisms: []*adjusterv1.MechanismFigures{{Figures: fmt.Sprintf(`{"mmPerTurn":6.35,"turns":%d}`, c.turns)}}}
		for i := range c.rows {
			setting := fmt.Sprintf(`{"turns":%d}`, i%(c.turns+1))
			asked = append(asked, leveling.RowSetting{Setting: leveling.JSON(setting)})
			request.Rows = append(request.Rows, &adjusterv1.RowSetting{Setting: setting})
		}
		answer, err := p.ask.Options(b.Context(), request)
		if err != nil {
			b.Fatal(err)
		}
		for _, memory := range []string{"warm", "cold", "all-different"} {
			b.Run(fmt.Sprintf("%dx%d/%s", c.rows, c.turns+1, memory), func(b *testing.B) {
				if memory == "all-different" { // white space tells them apart
					for i, row := range answer.Rows {
						for _, o := range row.Options {
							o.SettingAfter += strings.Repeat(" ", i)
						}
					}
				}
				for b.Loop() {
					if memory != "warm" {
						fresh.settings.Purge()
					}
					if _, err := fresh.rowOptions(asked, answer.Rows); err != nil {
						b.Fatal(err)
					}
				}
			})
		}
	}
}

// A long TMPDIR leaves no room for a socket's path.
func TestShortTempDir(t *testing.T) {
	long := filepath.Join(t.TempDir(), strings.Repeat("long", 20))
	if err := os.Mkdir(long, 0o700); err != nil {
		t.Fatal(err)
	}
	t.Setenv("TMPDIR", long)
	h := &Host{}
	if err := h.prepareRunDir(""); err != nil {
		t.Fatal(err)
	}
	defer os.RemoveAll(h.runDir)
	defer h.inUse.Close()
	if len(h.runDir) > maxRunDir {
		t.Errorf("%s is %d bytes long, sockets allow %d", h.runDir, len(h.runDir), maxRunDir)
	}
}

// The folder of a run that was killed is removed by the next start, that of one that lives is not.
func TestRunDirsOfTheDeadAreRemoved(t *testing.T) {
	base := t.TempDir()
	dead, living, next := &Host{}, &Host{}, &Host{}
	for _, h := range []*Host{dead, living} {
		if err := h.makeRunDir(base); err != nil {
			t.Fatal(err)
		}
	}
	dead.inUse.Close() // as the end of its process would
	if err := next.makeRunDir(base); err != nil {
		t.Fatal(err)
	}
	defer living.inUse.Close()
	defer next.inUse.Close()
	for dir, want := range map[string]bool{dead.runDir: false, living.runDir: true, next.runDir: true} {
		if _, err := os.Stat(dir); (err == nil) != want {
			t.Errorf("%s is there: %v, want %t", dir, err, want)
		}
	}
}
