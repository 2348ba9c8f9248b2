package adjusters

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"maps"
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

	"google.golang.org/protobuf/proto"

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

// built is a folder with the test adjuster under each of the names.
func built(tb testing.TB, names ...string) string {
	tb.Helper()
	dir := tb.TempDir()
	program := filepath.Join(dir, ".program")
	build := exec.Command("go", "build", "-ldflags=-s -w", "-o", program, "./misbehaving")
	if out, err := build.CombinedOutput(); err != nil {
		tb.Fatalf("%v\n%s", err, out)
	}
	for _, name := range names {
		if err := os.Link(program, filepath.Join(dir, name)); err != nil {
			tb.Fatal(err)
		}
	}
	if err := os.Chmod(dir, 0o755); err != nil {
		tb.Fatal(err)
	}
	return dir
}

// speaker starts one good adjuster without a host.
func speaker(tb testing.TB) (*process, *description) {
	tb.Helper()
	dir := built(tb, "handle")
	files, _, err := look(dir)
	if err != nil || len(files) != 1 {
		tb.Fatal(files, err)
	}
	program := take(files[0], nil, filepath.Join(dir, ".copies"))
	p, err := launch(tb.Context(), program, dir, &output{log: zap.NewNop()}, nil)
	if err != nil {
		tb.Fatal(err)
	}
	tb.Cleanup(func() { p.stop(context.Background()) })
	d, err := describe(tb.Context(), p, program)
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
				base := reading(b, answer)
				b.ResetTimer()
				for b.Loop() {
					if memory != "warm" {
						fresh.settings.Purge()
					}
					if _, err := fresh.rowOptions(asked, answer.Rows); err != nil {
						b.Fatal(err)
					}
				}
				b.ReportMetric(float64(b.Elapsed())/float64(b.N)/base, "x-reading")
			})
		}
	}
}

// reading is the time in ns that it takes to read an answer off the wire.
func reading(b *testing.B, answer proto.Message) float64 {
	wire, err := proto.Marshal(answer)
	if err != nil {
		b.Fatal(err)
	}
	const rounds = 20
	begun := time.Now()
	for range rounds {
		if err := proto.Unmarshal(wire, answer.ProtoReflect().New().Interface()); err != nil {
			b.Fatal(err)
		}
	}
	return float64(time.Since(begun)) / rounds
}

// A long TMPDIR leaves no room for a socket's path.
func TestShortTempDir(t *testing.T) {
	long := filepath.Join(t.TempDir(), strings.Repeat("long", 20))
	if err := os.Mkdir(long, 0o700); err != nil {
		t.Fatal(err)
	}
	t.Setenv("TMPDIR", long)
	dir, err := newRunDir("")
	if err != nil {
		t.Fatal(err)
	}
	defer dir.remove()
	if len(dir.path) > maxRunDir {
		t.Errorf("%s is %d bytes long, sockets allow %d", dir.path, len(dir.path), maxRunDir)
	}
}

// The folder of a run that was killed is removed by the next start, that of one that lives is not.
func TestRunDirsOfTheDeadAreRemoved(t *testing.T) {
	base := t.TempDir()
	var made []runDir
	for i := range 3 { // the dead, the living, the next
		dir, err := makeRunDir(base)
		if err != nil {
			t.Fatal(err)
		}
		defer dir.inUse.Close()
		made = append(made, dir)
		if i == 1 {
			made[0].inUse.Close() // as the end of its process would
		}
	}
	for i, want := range []bool{false, true, true} {
		if _, err := os.Stat(made[i].path); (err == nil) != want {
			t.Errorf("run folder %d is there: %v, want %t", i, err, want)
		}
	}
}

// what a folder shows of one file, for tests of what is made of it.
func shown(t *testing.T, dir, name, text string) file {
	t.Helper()
	path := filepath.Join(dir, name)
	if err := os.WriteFile(path, []byte(text), 0o755); err != nil {
		t.Fatal(err)
	}
	info, err := os.Stat(path)
	if err != nil {
		t.Fatal(err)
	}
	return file{name: name, path: path, info: info}
}

// TestFolder: what changes is told once, when it has stopped changing; what goes, when it stays away.
func TestFolder(t *testing.T) {
	dir := t.TempDir()
	a, b := shown(t, dir, "a", "1"), shown(t, dir, "b", "1")
	longer := shown(t, dir, "b", "12")
	other := a
	other.refused = "Others can write it."
	f := newFolder(400*time.Millisecond, []file{a})
	start := time.Now()
	for _, step := range []struct {
		at      time.Duration
		files   []file
		changed string
		gone    string
	}{
		{0, []file{a}, "", ""},
		{200, []file{a, b}, "", ""},      // b comes
		{400, []file{a, longer}, "", ""}, // and grows
		{600, []file{a, longer}, "", ""},
		{800, []file{a, longer}, "b", ""},
		{1000, []file{a, longer}, "", ""},
		{1200, []file{longer}, "", ""}, // a is being replaced
		{1400, []file{other, longer}, "", ""},
		{1600, []file{other, longer}, "", ""},
		{1800, []file{other, longer}, "a", ""},
		{2000, []file{longer}, "", ""},
		{2200, []file{other, longer}, "", ""}, // back as it was
		{2400, nil, "", ""},
		{2600, []file{longer}, "", ""},
		{2800, []file{longer}, "", "a"},
		{3000, []file{a, longer}, "", ""}, // as new
		{3400, []file{a, longer}, "a", ""},
	} {
		changed, gone := f.looked(start.Add(step.at*time.Millisecond), step.files)
		names := func(files []file) (all string) {
			for _, f := range files {
				all += f.name
			}
			return all
		}
		if names(changed) != step.changed || names(gone) != step.gone {
			t.Errorf("at %d ms: changed %q, gone %q, want %q, %q", step.at, names(changed), names(gone), step.changed, step.gone)
		}
	}
}

const oneSum = "9f86d081884c7d659a2feaa0c55ad015a3bf4f1b2b0b822cd15d6c15b0f00a08" // SHA-256 of "test", by sha256sum

func TestParseLock(t *testing.T) {
	for text, want := range map[string]string{
		"":                       "",
		oneSum + "  a\n":         "a",
		oneSum + "  a b.exe\r\n": "a b.exe",
		oneSum + " *a\n\n" + strings.ToUpper(oneSum) + "  b": "a b",
		oneSum + "  a\n" + oneSum + "  a\n":                  `line 2 names "a" again`,
		oneSum + " a\n":                                      "line 1 is not",
		oneSum + "  \n":                                      "line 1 is not",
		oneSum[1:] + "  a\n":                                 "line 1 is not",
		oneSum + "00  a\n":                                   "line 1 is not",
		"\n# a word\n":                                       "line 2 is not",
	} {
		sums, err := parseLock(strings.NewReader(text))
		got := strings.Join(slices.Sorted(maps.Keys(sums)), " ")
		if err != nil {
			got = err.Error()
		}
		if err != nil && !strings.HasPrefix(got, want) || err == nil && got != want {
			t.Errorf("%q: got %q, want %q", text, got, want)
		}
		for name, sum := range sums {
			if fmt.Sprintf("%x", sum) != oneSum {
				t.Errorf("%q: %s has %x", text, name, sum)
			}
		}
	}
}

// FuzzParseLock: what is read as a lock is written as one and read again the same.
func FuzzParseLock(f *testing.F) {
	for _, text := range []string{"", oneSum + "  a\n", oneSum + " *a b\r\n\n", "x", oneSum} {
		f.Add([]byte(text))
	}
	f.Fuzz(func(t *testing.T, text []byte) {
		sums, err := parseLock(bytes.NewReader(text))
		if err != nil {
			return
		}
		var lines []Locked
		for name, sum := range sums {
			lines = append(lines, Locked{name, sum})
		}
		dir := t.TempDir()
		if err := writeLock(dir, lines); err != nil {
			t.Fatal(err)
		}
		again, err := os.Open(filepath.Join(dir, LockName))
		if err != nil {
			t.Fatal(err)
		}
		defer again.Close()
		if same, err := parseLock(again); err != nil || !maps.Equal(same, sums) {
			t.Errorf("%v (%v), want %v", same, err, sums)
		}
	})
}
