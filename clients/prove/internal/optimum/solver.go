package optimum

import (
	"bufio"
	"context"
	"fmt"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
)

// solverName is Debian's glpk-utils. It stops at a proven optimum: no gap is allowed for.
const solverName = "glpsol"

// solver solves programs in a folder of its own, one at a time.
type solver struct{ folder string }

// stretches is into how many pieces a range is cut: with fewer a solver has to search, with more it is only started.
const stretches = 12

// leastCost is the cost of least work.
func (s solver) leastCost(ctx context.Context, rows [][]choice) (float64, error) {
	var ends []float64
	for _, choices := range rows {
		for _, c := range choices {
			ends = append(ends, c.from, c.to)
		}
	}
	cuts, least := cut(ends, stretches), math.Inf(1)
	for i, from := range cuts[:len(cuts)-1] {
		cost, err := s.leastCostIn(ctx, rows, from, cuts[i+1])
		if err != nil {
			return 0, err
		}
		least = min(least, cost)
	}
	return least, nil
}

// leastCostIn is the cost of least work with the datum in a stretch. A solver takes what misses by little for whole numbers,
// a little of the lengths of its program: where its datum does not keep what it says, the stretch is halved.
func (s solver) leastCostIn(ctx context.Context, rows [][]choice, from, to float64) (float64, error) {
	cost, datum, err := s.solve(ctx, leastWork(rows, from, to))
	if err != nil {
		return 0, err
	}
	middle := (from + to) / 2
	switch {
	case costAt(rows, middle+datum) <= cost+near:
		return cost, nil
	case to-from < near:
		return 0, fmt.Errorf("%s says %v s at a datum of %v mm, where it is %v s", solverName, cost, middle+datum, costAt(rows, middle+datum))
	}
	shallower, err := s.leastCostIn(ctx, rows, from, middle)
	if err != nil {
		return 0, err
	}
	deeper, err := s.leastCostIn(ctx, rows, middle, to)
	return min(shallower, deeper), err
}

// costAt is the cost of the cheapest choices at one datum, ends counted generously by what a solver prints.
func costAt(rows [][]choice, datum float64) (sum float64) {
	const printed = 1e-8 // what a solver's datum may miss an end by
	for _, choices := range rows {
		cheapest := math.Inf(1)
		for _, c := range choices {
			if c.from-printed <= datum && datum <= c.to+printed {
				cheapest = min(cheapest, c.cost)
			}
		}
		sum += cheapest
	}
	return sum
}

// leastSpread is the smallest spread; 0 where there are no rows.
func (s solver) leastSpread(ctx context.Context, rows [][]option) (float64, error) {
	if len(rows) == 0 {
		return 0, nil
	}
	var ends []float64
	for _, options := range rows {
		for _, o := range options {
			ends = append(ends, o.depth)
		}
	}
	cuts, least := cut(ends, stretches), math.Inf(1)
	for i, from := range cuts[:len(cuts)-1] {
		text := closest(rows, from, cuts[i+1], least)
		if text == "" {
			continue
		}
		spread, shallowest, err := s.solve(ctx, text)
		if err != nil {
			return 0, err
		}
		shallowest += (from + cuts[i+1]) / 2
		if holds := spreadFrom(rows, shallowest); math.Abs(holds-spread) > 1e-7 {
			return 0, fmt.Errorf("%s says a spread of %v from %v, where it is %v", solverName, spread, shallowest, holds)
		}
		least = min(least, spread)
	}
	return least, nil
}

// spreadFrom is the spread where no row is shallower than a depth.
func spreadFrom(rows [][]option, shallowest float64) float64 {
	const printed = 1e-8 // what a solver's datum may miss an end by
	deepest := shallowest
	for _, options := range rows {
		nearest := math.Inf(1)
		for _, o := range options {
			if o.depth >= shallowest-printed {
				nearest = min(nearest, o.depth)
			}
		}
		deepest = max(deepest, nearest)
	}
	return deepest - shallowest
}

// solve returns a program's optimum and the value of its first variable there.
func (s solver) solve(ctx context.Context, text string) (optimum, first float64, err error) {
	program, solution := filepath.Join(s.folder, "program.lp"), filepath.Join(s.folder, "solution.txt")
	if err := os.WriteFile(program, []byte(text), 0o600); err != nil {
		return 0, 0, err
	}
	if said, err := exec.CommandContext(ctx, solverName, "--lp", program, "--write", solution).CombinedOutput(); err != nil {
		return 0, 0, fmt.Errorf("%s: %w\n%s", solverName, err, said)
	}
	return readSolution(solution)
}

// readSolution reads what the solver wrote: a line "s mip ROWS COLUMNS o OPTIMUM" where the optimum is proven, and a line
// "j 1 VALUE" for the first variable.
func readSolution(file string) (optimum, first float64, err error) {
	in, err := os.Open(file)
	if err != nil {
		return 0, 0, err
	}
	defer in.Close()
	optimum, first = math.NaN(), math.NaN()
	lines := bufio.NewScanner(in)
	for lines.Scan() {
		var columns, rows int
		switch line := lines.Text(); {
		case strings.HasPrefix(line, "s "):
			_, err = fmt.Sscanf(line, "s mip %d %d o %g", &rows, &columns, &optimum)
		case strings.HasPrefix(line, "j 1 "):
			_, err = fmt.Sscanf(line, "j 1 %g", &first)
		}
		if err != nil {
			return 0, 0, fmt.Errorf("%s has proven no optimum: %q", solverName, lines.Text())
		}
	}
	if math.IsNaN(optimum + first) {
		return 0, 0, fmt.Errorf("%s wrote no optimum", solverName)
	}
	return optimum, first, lines.Err()
}
