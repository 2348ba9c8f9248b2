package optimum

import (
	"math"
	"math/rand/v2"
	"os/exec"
	"testing"

	"rowdatum/clients/internal/absent"
)

// needSolver skips a test where glpsol is not on this machine.
func needSolver(t *testing.T) {
	t.Helper()
	if _, err := exec.LookPath(solverName); err != nil {
		absent.Skip(t, solverName+" (Debian: glpk-utils)")
	}
}

// Two rows at 50 and 54 mm, each accepted within 1 mm, each with one move to where the other is; a touch is 60 s, a miss 900 s.
// Cheapest is to leave one and move the other.
var twoRows = [][]choice{
	{{49, 51, 0}, {53, 55, 60}, {math.Inf(-1), math.Inf(1), 960}},
	{{53, 55, 0}, {49, 51, 60}, {math.Inf(-1), math.Inf(1), 960}},
}

func TestProgramOfLeastWork(t *testing.T) {
	const want = `Minimize
cost: 0 T
 + 0 z0_0
 + 960 z0_2
 + 60 z1_1
 + 960 z1_2
Subject To
one0: + z0_0
 + z0_2
 = 1
least0: -1.000000000000 z0_0
 -1.000000000000 z0_2
 - T <= 0
most0: +1.000000000000 z0_0
 +1.000000000000 z0_2
 - T >= 0
one1: + z1_1
 + z1_2
 = 1
least1: -1.000000000000 z1_1
 -1.000000000000 z1_2
 - T <= 0
most1: +1.000000000000 z1_1
 +1.000000000000 z1_2
 - T >= 0
Bounds
-1.000000000000 <= T <= 1.000000000000
Binary
 z0_0
 z0_2
 z1_1
 z1_2
End
`
	if got := leastWork(twoRows, 49, 51); got != want {
		t.Errorf("got\n%s", got)
	}
}

// Costs that are told by hand.
func TestLeastCost(t *testing.T) {
	needSolver(t)
	for name, c := range map[string]struct {
		rows [][]choice
		want float64
	}{
		"one is moved to the other": {twoRows, 60},
		"one datum does for both": {[][]choice{
			{{49, 51, 0}, {math.Inf(-1), math.Inf(1), 960}}, {{51, 55, 0}, {math.Inf(-1), math.Inf(1), 960}}}, 0},
		"a millionth too far apart": {[][]choice{
			{{49, 51, 0}, {math.Inf(-1), math.Inf(1), 960}}, {{51.000001, 55, 0}, {math.Inf(-1), math.Inf(1), 960}}}, 960},
		"it is cheaper to miss it": {[][]choice{
			{{49, 51, 0}, {math.Inf(-1), 45, 20}, {math.Inf(-1), math.Inf(1), 80}}, {{40, 44, 0}, {math.Inf(-1), math.Inf(1), 80}}}, 20},
		"all rows are stuck": {[][]choice{{{math.Inf(-1), math.Inf(1), 900}}}, 900},
		"a row is stuck":     {append([][]choice{{{math.Inf(-1), math.Inf(1), 900}}}, twoRows...), 960},
	} {
		if got, err := (solver{t.TempDir()}).leastCost(t.Context(), c.rows); err != nil || got != c.want {
			t.Errorf("%s: %v s, %v, want %v", name, got, err, c.want)
		}
	}
}

// The cost changes only at ends of choices: looking at each of them finds what the solver finds.
func TestSolverAgainstEveryEnd(t *testing.T) {
	needSolver(t)
	for n := range 6 {
		p := invent(rand.New(rand.NewPCG(9, uint64(n))), 14)
		for i := range p.mechanisms {
			p.mechanisms[i].scaleSd, p.mechanisms[i].seating, p.mechanisms[i].touch = 0.05, 0.3, 60*float64(1+i)
		}
		rows := p.figure()
		choices, want := p.allChoices(rows, near), math.Inf(1)
		for _, row := range choices {
			for _, c := range row {
				for _, end := range []float64{c.from, c.to} {
					if !math.IsInf(end, 0) {
						want = min(want, costAt(choices, end))
					}
				}
			}
		}
		if got, err := (solver{t.TempDir()}).leastCost(t.Context(), choices); err != nil || math.Abs(got-want) > 1e-6 {
			t.Errorf("planter %d costs %v s, %v, want %v", n, got, err, want)
		}
		reached, smallest := allReached(rows), math.Inf(1)
		for _, row := range reached {
			for _, o := range row {
				smallest = min(smallest, spreadFrom(reached, o.depth))
			}
		}
		if got, err := (solver{t.TempDir()}).leastSpread(t.Context(), reached); err != nil || math.Abs(got-smallest) > 1e-6 {
			t.Errorf("planter %d has a spread of %v mm, %v, want %v", n, got, err, smallest)
		}
	}
}

// Depths 1 and 7, 3 and 5, 4.5: from 1 the rows lie within 3.5 mm (1, 3, 4.5), from 3 within 4 (7, 3, 4.5), from 4.5 within 2.5 (7, 5, 4.5).
func TestLeastSpread(t *testing.T) {
	needSolver(t)
	rows := [][]option{{{depth: 1}, {depth: 7}}, {{depth: 3}, {depth: 5}}, {{depth: 4.5}}}
	if got, err := (solver{t.TempDir()}).leastSpread(t.Context(), rows); err != nil || math.Abs(got-2.5) > 1e-9 {
		t.Errorf("%v mm, %v", got, err)
	}
}
