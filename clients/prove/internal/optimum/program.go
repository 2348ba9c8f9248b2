package optimum

import (
	"fmt"
	"math"
	"slices"
	"strings"
)

// The programs are mixed-integer programs as a text that solvers read (the LP format). The range of the datum is cut into
// stretches, and each is a program of its own: the least of their optima is the optimum, and lengths stay small, so that a
// solver's tolerances are worth less than what is compared.

// leastWork is the program whose optimum is the cost of least work with the datum T in a stretch: for every row one of its
// choices z, which holds T between its ends.
func leastWork(rows [][]choice, from, to float64) string {
	origin := (from + to) / 2
	var cost, ties, kinds strings.Builder
	for i, choices := range rows {
		var one, least, most strings.Builder
		for k, c := range choices {
			if c.to < from || c.from > to {
				continue
			}
			z := fmt.Sprintf("z%d_%d", i, k)
			fmt.Fprintf(&cost, " + %g %s\n", c.cost, z)
			fmt.Fprintf(&one, " + %s\n", z)
			fmt.Fprintf(&least, " %+.12f %s\n", math.Max(c.from, from)-origin, z)
			fmt.Fprintf(&most, " %+.12f %s\n", math.Min(c.to, to)-origin, z)
			fmt.Fprintf(&kinds, " %s\n", z)
		}
		fmt.Fprintf(&ties, "one%d:%s = 1\nleast%d:%s - T <= 0\nmost%d:%s - T >= 0\n", i, &one, i, &least, i, &most)
	}
	return fmt.Sprintf("Minimize\ncost: 0 T\n%sSubject To\n%sBounds\n%.12f <= T <= %.12f\nBinary\n%sEnd\n",
		&cost, &ties, from-origin, to-origin, &kinds)
}

// closest is the program whose optimum is the smallest spread with the shallowest row L in a stretch: of every row one of its
// options z, none shallower than L or deeper than U. Spreads from limit on are not looked for. It is empty where a row has
// nothing to offer.
func closest(rows [][]option, from, to, limit float64) string {
	origin := (from + to) / 2
	var ties, kinds strings.Builder
	for i, options := range rows {
		var one, depth strings.Builder
		for k, o := range options {
			if o.depth < from || o.depth > to+limit {
				continue
			}
			z := fmt.Sprintf("z%d_%d", i, k)
			fmt.Fprintf(&one, " + %s\n", z)
			fmt.Fprintf(&depth, " %+.12f %s\n", o.depth-origin, z)
			fmt.Fprintf(&kinds, " %s\n", z)
		}
		if one.Len() == 0 {
			return ""
		}
		fmt.Fprintf(&ties, "one%d:%s = 1\nleast%d:%s - L >= 0\nmost%d:%s - U <= 0\n", i, &one, i, &depth, i, &depth)
	}
	return fmt.Sprintf("Minimize\nspread: - L + U\nSubject To\n%sBounds\n%.12f <= L <= %.12f\nU free\nBinary\n%sEnd\n",
		&ties, from-origin, to-origin, &kinds)
}

// cut cuts a range into stretches with about as many ends in each; nothing lies outside of them. Without any end one depth is
// as good as another.
func cut(ends []float64, stretches int) []float64 {
	ends = slices.DeleteFunc(ends, func(x float64) bool { return math.IsInf(x, 0) })
	if len(ends) == 0 {
		return []float64{0, 1}
	}
	slices.Sort(ends)
	cuts := []float64{ends[0] - 1}
	for s := 1; s < stretches; s++ {
		if at := ends[s*len(ends)/stretches]; at > cuts[s-1] {
			cuts = append(cuts, at)
		} else {
			cuts = append(cuts, cuts[s-1])
		}
	}
	return slices.Compact(append(cuts, ends[len(ends)-1]+1))
}
