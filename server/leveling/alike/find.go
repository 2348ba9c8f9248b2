package alike

import (
	"math"
	"math/rand/v2"
	"slices"

	"rowdatum/server/leveling"
)

// Row is one row as it was first read.
type Row struct {
	Number  int
	DepthMm float64
	Rank    leveling.Rank
}

// Problem is all rows that were read, by rising number, and what is known of the frame they stand on.
type Problem struct {
	Rows     []Row
	Sections []leveling.Section // none: thirds of the rows
	RulingMm float64            // a difference up to this is no finding
}

// Finding is a group of rows that read unlike the rest together.
type Finding struct {
	Rows    []int   // by rising number
	ApartMm float64 // their mean minus that of the rest: positive deeper
	P       float64 // how often equal rows would show as much in any group, at most 0.05
}

const (
	significance = 0.05
	orders       = 199 // random orders of the depths; with the real one 200. More cost time in every plan and find little more
	mostAsLarge  = significance * (orders + 1)
)

// Find gives the group that stands out most, nil where none does.
func Find(p Problem) *Finding {
	t := newTrial(p)
	if len(t.groups) == 0 {
		return nil
	}
	best, largest := t.largest(t.depths)
	apart := t.apart(best)
	if math.Abs(apart) <= p.RulingMm {
		return nil
	}
	asLarge := t.asLarge(largest)
	if asLarge > mostAsLarge {
		return nil
	}
	out := &Finding{ApartMm: apart, P: float64(asLarge) / (orders + 1)}
	for _, i := range t.groups[best] {
		out.Rows = append(out.Rows, p.Rows[i].Number)
	}
	return out
}

// trial is the depths about their mean, and the groups of rows as indexes of them.
type trial struct {
	depths []float64
	groups [][]int
}

func newTrial(p Problem) trial {
	t := trial{groups: groups(p)}
	mean := 0.0
	for _, r := range p.Rows {
		mean += r.DepthMm / float64(len(p.Rows))
	}
	for _, r := range p.Rows {
		t.depths = append(t.depths, r.DepthMm-mean)
	}
	return t
}

// largest gives the group with the largest t in some order of the depths, and its sum of squares between group and
// rest. The total sum of squares is the same in every order, so t rises with this sum and the two rank alike.
func (t trial) largest(depths []float64) (group int, between float64) {
	n := float64(len(depths))
	for g, rows := range t.groups {
		sum := 0.0
		for _, i := range rows {
			sum += depths[i]
		}
		in := float64(len(rows))
		if b := sum * sum * n / (in * (n - in)); b > between {
			group, between = g, b
		}
	}
	return group, between
}

// apart is a group's mean minus that of the rest.
func (t trial) apart(group int) float64 {
	sum, n := 0.0, float64(len(t.depths))
	for _, i := range t.groups[group] {
		sum += t.depths[i]
	}
	in := float64(len(t.groups[group]))
	return sum/in + sum/(n-in) // the depths sum to 0
}

// asLarge counts the orders, the real one among them, in which some group stands out as much. It stops once they
// are too many.
func (t trial) asLarge(between float64) int {
	const nearly = 1 - 1e-9 // sums of the same depths in another order differ in the last digits
	count := 1
	random := rand.New(rand.NewPCG(1, 1))
	depths := slices.Clone(t.depths)
	for range orders {
		random.Shuffle(len(depths), func(i, j int) { depths[i], depths[j] = depths[j], depths[i] })
		if _, b := t.largest(depths); b >= between*nearly {
			if count++; count > mostAsLarge {
				break
			}
		}
	}
	return count
}

// groups are those that a frame, a wear pattern or a way of standing has in common: each section, or else each
// third; the left wing; the rear rank; the edge rows, the outer sixth on either side. A group has two rows at least
// and half of all at most; none is there twice.
func groups(p Problem) [][]int {
	var out [][]int
	n := len(p.Rows)
	add := func(in func(i int) bool) {
		var rows, rest []int
		for i := range p.Rows {
			if in(i) {
				rows = append(rows, i)
			} else {
				rest = append(rest, i)
			}
		}
		if len(rest) < len(rows) {
			rows = rest
		}
		if len(rows) >= 2 && !slices.ContainsFunc(out, func(g []int) bool { return slices.Equal(g, rows) }) {
			out = append(out, rows)
		}
	}
	for _, s := range p.Sections {
		add(func(i int) bool { return p.Rows[i].Number >= s.FirstRow && p.Rows[i].Number <= s.LastRow })
	}
	const thirds, sixths = 3, 6
	for third := range thirds {
		add(func(i int) bool { return len(p.Sections) == 0 && i*thirds/n == third })
	}
	add(func(i int) bool { return i < n/2 })
	add(func(i int) bool { return p.Rows[i].Rank == leveling.RearRank })
	edge := (n + sixths - 1) / sixths
	add(func(i int) bool { return i < edge || i >= n-edge })
	return out
}
