package plan_test

import (
	"flag"
	"fmt"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"rowdatum/server/leveling"
	"rowdatum/server/leveling/estimate"
	"rowdatum/server/leveling/plan"
)

// With -update the stories are recorded again. Read the difference before keeping it.
var update = flag.Bool("update", false, "record the stories again")

const storyLine = "----\n"

// Stories: testdata/plans holds problems as a person writes them, a line a thing, and below the dashes
// the plan as it is drawn. They must not differ by a byte on any processor.
func TestStories(t *testing.T) {
	files, err := filepath.Glob("../../../testdata/plans/*.txt")
	if err != nil || len(files) == 0 {
		t.Fatalf("no stories: %v", err)
	}
	for _, file := range files {
		t.Run(strings.TrimSuffix(filepath.Base(file), ".txt"), func(t *testing.T) {
			text, err := os.ReadFile(file)
			if err != nil {
				t.Fatal(err)
			}
			problem, want, _ := strings.Cut(string(text), storyLine)
			got := plan.Compute(parseStory(t, problem)).Describe()
			if *update {
				if err := os.WriteFile(file, []byte(problem+storyLine+got), 0o644); err != nil {
					t.Fatal(err)
				}
				return
			}
			if got != want {
				t.Errorf("the plan is now\n%s", got)
			}
		})
	}
}

// storyReader reads the lines of a story:
//
//	fixture resolution=1.5875 repeatability=0.5 floor=0
//	aim LEAST_WORK tolerance=3.175 confidence=0.9 miss=900 read=20 row=1 datum=50.8 zero=0.2
//	reach shallower=20 deeper=30
//	mechanism NAME threaded-handle mmPerTurn=6.35 smallestTurn=0.25 totalTurns=16
//	mechanism NAME notched-stop mmPerNotch=4 notches=20 | depths=0,4,8
//	mechanism NAME shimmed-arm leverRatio=1.8 kit=0.5,1,2,3 stackMax=12
//	reference 2 5
//	voice es 16
//	row 1 NAME SETTING READING...
//
// SETTING is turns, a notch, the shims in the stack joined by commas, or ? where nobody knows.
type storyReader struct {
	fixture    leveling.Fixture
	problem    plan.Problem
	mechanisms map[string]mechanism
}

type mechanism struct {
	group   int
	style   *leveling.Style
	options func(setting string) []leveling.Option
}

func parseStory(t *testing.T, text string) plan.Problem {
	t.Helper()
	s := storyReader{fixture: leveling.DefaultFixture(), problem: plan.Problem{Aim: leveling.DefaultAim()}, mechanisms: map[string]mechanism{}}
	for line := range strings.Lines(text) {
		words := strings.Fields(line)
		if len(words) == 0 || words[0] == "#" {
			continue
		}
		values := map[string]string{}
		for _, w := range words[1:] {
			if key, value, ok := strings.Cut(w, "="); ok {
				values[key] = value
			}
		}
		s.read(t, words, values)
	}
	return s.problem
}

func (s *storyReader) read(t *testing.T, words []string, values map[string]string) {
	number := func(text string) float64 {
		x, err := strconv.ParseFloat(text, 64)
		if err != nil {
			t.Fatalf("%q: %v", words, err)
		}
		return x
	}
	set := func(key string, to *float64) {
		if v, ok := values[key]; ok {
			*to = number(v)
		}
	}
	p := &s.problem
	switch words[0] {
	case "fixture":
		set("resolution", &s.fixture.ResolutionMm)
		set("repeatability", &s.fixture.RepeatabilityMm)
		set("floor", &s.fixture.FloorMm)
		p.ResolutionMm = s.fixture.ResolutionMm
	case "aim":
		for k := leveling.LeastWork; k <= leveling.SetDepth; k++ {
			if k.String() == words[1] {
				p.Aim.Kind = k
			}
		}
		set("tolerance", &p.Aim.ToleranceMm)
		set("confidence", &p.Aim.Confidence)
		set("miss", &p.Aim.MissSeconds)
		set("read", &p.Aim.ReadSeconds)
		set("zero", &p.Aim.ZeroUncertaintyMm)
		var row, datum float64
		set("row", &row)
		set("datum", &datum)
		p.Aim.Row, p.Aim.DatumMm = int(row), &datum
	case "reach":
		set("shallower", &p.Reach.ShallowerMm)
		set("deeper", &p.Reach.DeeperMm)
	case "voice":
		p.Voice = leveling.Voice{Language: leveling.Language(words[1]), PerInch: int(number(words[2]))}
	case "reference":
		for _, w := range words[1:] {
			p.ReferenceRows = append(p.ReferenceRows, int(number(w)))
		}
	case "mechanism":
		s.mechanisms[words[1]] = readMechanism(t, len(s.mechanisms), words[2], values, number)
	case "row":
		var readings []float64
		for _, w := range words[4:] {
			readings = append(readings, number(w))
		}
		m, ok := s.mechanisms[words[2]]
		if !ok {
			t.Fatalf("%q: unknown mechanism", words)
		}
		r := rowOf(int(number(words[1])), m.group, m.style, estimate.Stay(s.fixture, readings), m.options(words[3]))
		r.Mechanism = words[2]
		p.Rows = append(p.Rows, r)
	default:
		t.Fatalf("%q: unknown word", words)
	}
}

func readMechanism(t *testing.T, group int, style string, values map[string]string, number func(string) float64) mechanism {
	list := func(text string) []float64 {
		var out []float64
		for _, w := range strings.FieldsFunc(text, func(r rune) bool { return r == ',' }) {
			out = append(out, number(w))
		}
		return out
	}
	switch style {
	case "threaded-handle":
		return mechanism{group, &threadedHandle, func(setting string) []leveling.Option {
			turns := -1.0
			if setting != "?" {
				turns = number(setting)
			}
			return handle(number(values["mmPerTurn"]), number(values["smallestTurn"]), number(values["totalTurns"]), turns)
		}}
	case "notched-stop":
		depths := list(values["depths"])
		if depths == nil {
			depths = even(int(number(values["notches"])), number(values["mmPerNotch"]))
		}
		return mechanism{group, &notchedStop, func(setting string) []leveling.Option {
			if setting == "?" {
				return stop(depths, 0)
			}
			return stop(depths, int(number(setting)))
		}}
	case "shimmed-arm":
		return mechanism{group, &shimmedArm, func(setting string) []leveling.Option {
			return shims(number(values["leverRatio"]), list(values["kit"]), number(values["stackMax"]), list(setting))
		}}
	}
	t.Fatalf("unknown style %q", style)
	return mechanism{}
}

// 23 even rows and one worn-out row: the 23 stay untouched.
func TestOneWornOutRowMovesNobody(t *testing.T) {
	f := leveling.DefaultFixture()
	p := plan.Problem{Aim: leveling.DefaultAim()}
	for i := 1; i <= 24; i++ {
		depth, turns := 50.8, 8.0
		if i == 24 {
			depth, turns = 35, 16 // at its deepest stop already
		}
		p.Rows = append(p.Rows, rowOf(i, 0, &threadedHandle, estimate.Stay(f, []float64{depth, depth}), handle(6.35, 0.25, 16, turns)))
	}
	got := plan.Compute(p)
	for _, r := range got.Rows[:23] {
		if r.Part != plan.Left || !r.Option.Leave {
			t.Errorf("row %d: %s", r.Row, r.Why)
		}
	}
	if r := got.Rows[23]; r.Part != plan.Nearest || !r.Option.Leave || r.Verdict != leveling.Off || got.TouchedRows != 0 {
		t.Errorf("touched %d; row 24: %s", got.TouchedRows, r.Why)
	}
}

// Rows that read alike, and one that is off by a quarter inch: one row is moved, the others are left, whatever
// the ruling.
func TestOneOddRowIsTheOneMoved(t *testing.T) {
	for _, perInch := range []float64{4, 8} {
		for _, alike := range []int{5, 11, 15, 23} {
			for _, off := range []float64{-25.4 / 4, 25.4 / 4} {
				f := leveling.Fixture{ResolutionMm: 25.4 / perInch, RepeatabilityMm: 0.5}
				p := plan.Problem{Aim: leveling.DefaultAim(), ResolutionMm: f.ResolutionMm}
				for i := 1; i <= alike+1; i++ {
					depth := 50.8
					if i == 3 {
						depth += off
					}
					p.Rows = append(p.Rows, rowOf(i, 0, &threadedHandle, estimate.Stay(f, []float64{depth}), handle(6.35, 0.25, 16, 8)))
				}
				got := plan.Compute(p)
				t.Logf("%d alike and one %+.2f mm, 1/%g inch: moved %d, read again %d, %v s", alike, off, perInch, got.TouchedRows, got.RereadRows, got.WorkSeconds)
				if r := got.Rows[2]; got.TouchedRows != 1 || r.Option.Leave {
					t.Errorf("%d alike and one %+.2f mm, ruled in 1/%g inch:\n%s", alike, off, perInch, got.Describe())
				}
			}
		}
	}
}

func ExampleSolve() {
	fmt.Print(plan.Solve(workedExample()).Describe())
	// Output:
	// LEAST_WORK: datum 56.9500 mm, tolerance 3.175 mm at 0.9
	// spread 12.7000 -> 0.7000 mm, touch 2, read again 0, work 120 s, provable 1.1156 mm
	// row   1 ........o...[...x...]............  50.8000 u 0.4809 OFF    0.00000 move +6.3500 mm, count +1 {"turns":9} -> 57.1500 0.99995
	// row   2 o...........[..x|...]............  44.5000 u 0.6782 OFF    0.00000 move +12.0000 mm, count +3 {"notch":12} -> 56.5000 0.99779
	// row   3 ............[...o...]............  57.2000 u 0.6782 EVEN   0.99999 leave -> 57.2000 0.99999
}
