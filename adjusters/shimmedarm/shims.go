package main

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"rowdatum/adjusters/adjuster"
)

type figures struct {
	LeverRatio float64   `json:"leverRatio"`
	KitMm      []float64 `json:"kitMm"`
	StackMaxMm float64   `json:"stackMaxMm"`
	ShimMakes  string    `json:"shimMakes"` // DEEPER or SHALLOWER
}

type setting struct {
	ShimsMm []float64 `json:"shimsMm"` // in the stack now
}

type (
	travel   = adjuster.Travel[setting]
	position = adjuster.Position[setting]
	move     = adjuster.Move[figures, setting]
)

// nm is a thickness in whole nanometres. They hold 0.001 mm and 1/64 inch exactly, so 0.1 + 0.2 is 0.3.
type nm int64

func toNm(mm float64) nm { return nm(math.Round(mm * 1e6)) }

func (t nm) mm() float64 { return float64(t) / 1e6 }

// stack is how many shims of each size of a kit lie on each other.
type stack struct {
	shims int
	of    [maxKit]int16 // by the kit's index
}

// maxKit is the schema's limit on sizes in a kit.
const maxKit = 32

func (s stack) with(size int) stack {
	s.shims++
	s.of[size]++
	return s
}

func (s stack) and(t stack) stack {
	s.shims += t.shims
	for i := range s.of {
		s.of[i] += t.of[i]
	}
	return s
}

// kit is a shim kit with every total that it can make.
type kit struct {
	sizes  []nm    // thickest first, each once
	totals []nm    // rising, from 0: no shim at all
	fill   []stack // fewest shims for each total
	plus   [][]int // plus[s][i]: where totals[i] + sizes[s] stands in totals, or -1
}

// newKit works out the totals up to most; false where there are more than MaxOptions.
func newKit(sizesMm []float64, most nm) (*kit, bool) {
	k := &kit{totals: []nm{0}, fill: []stack{{}}}
	for _, mm := range sizesMm {
		k.sizes = append(k.sizes, toNm(mm))
	}
	slices.Sort(k.sizes)
	k.sizes = slices.Compact(k.sizes)
	slices.Reverse(k.sizes)
	k.plus = make([][]int, len(k.sizes))
	for k.grow(most) {
		if len(k.totals) > adjuster.MaxOptions {
			return nil, false
		}
	}
	for s := range k.plus {
		for len(k.plus[s]) < len(k.totals) {
			k.plus[s] = append(k.plus[s], -1)
		}
	}
	return k, true
}

// grow adds the next total: the smallest that one more shim makes of a total that is there. For each
// size the next total to put such a shim on is len(plus[size]), as totals are met in rising order.
func (k *kit) grow(most nm) bool {
	next := most + 1
	for s, size := range k.sizes {
		if from := len(k.plus[s]); from < len(k.totals) {
			next = min(next, k.totals[from]+size)
		}
	}
	if next > most {
		return false
	}
	var best stack
	for s, size := range k.sizes {
		from := len(k.plus[s])
		if from == len(k.totals) || k.totals[from]+size != next {
			continue
		}
		k.plus[s] = append(k.plus[s], len(k.totals))
		if best.shims == 0 || k.fill[from].shims+1 < best.shims {
			best = k.fill[from].with(s)
		}
	}
	k.totals = append(k.totals, next)
	k.fill = append(k.fill, best)
	return true
}

// keep gives, for every total, the most shims of a stack that add up to it; -1 shims where none do.
// Odd shims, which are not of the kit, are never kept.
func (k *kit) keep(shims []nm) []stack {
	kept := make([]stack, len(k.totals))
	for i := 1; i < len(kept); i++ {
		kept[i].shims = -1
	}
	for _, shim := range shims {
		s := slices.Index(k.sizes, shim)
		if s < 0 {
			continue
		}
		for i := len(kept) - 1; i >= 0; i-- {
			if j := k.plus[s][i]; j >= 0 && kept[i].shims >= 0 && kept[i].shims+1 > kept[j].shims {
				kept[j] = kept[i].with(s)
			}
		}
	}
	return kept
}

// best is the stack for totals[t] that changes the fewest shims, then has the fewest: some of the
// shims there now, kept, filled up from the kit.
func (k *kit) best(kept []stack, t int) stack {
	var best stack
	bestChanged, found := 0, false
	f := 0 // totals[f] fills what totals[i] leaves open
	for i := t; i >= 0; i-- {
		if kept[i].shims < 0 {
			continue
		}
		for k.totals[f] < k.totals[t]-k.totals[i] {
			f++
		}
		if k.totals[f] != k.totals[t]-k.totals[i] {
			continue
		}
		changed := k.fill[f].shims - kept[i].shims // but for the number there now, the same for all
		shims := k.fill[f].shims + kept[i].shims
		if !found || changed < bestChanged || changed == bestChanged && shims < best.shims {
			best, bestChanged, found = kept[i].and(k.fill[f]), changed, true
		}
	}
	return best
}

// list writes a stack out, thickest first.
func (k *kit) list(s stack) []float64 {
	out := make([]float64, 0, s.shims)
	for i, size := range k.sizes {
		for range s.of[i] {
			out = append(out, size.mm())
		}
	}
	return out
}

// arm is the arithmetic and the words of a gauge-wheel arm trimmed by shims.
type arm struct{}

// Travel is every total of the kit within the largest stack. The stack there now is taken as found,
// whatever it is; a total equal to it is leaving it alone.
func (arm) Travel(f figures, at *setting) (travel, error) {
	k, ok := newKit(f.KitMm, toNm(f.StackMaxMm))
	if !ok {
		return travel{}, adjuster.Wrong("figures.kitMm", "adds up to more than %d different stacks within stackMaxMm; name fewer sizes, rounder ones, or a smaller stackMaxMm",
			adjuster.MaxOptions)
	}
	shims := inNm(at.ShimsMm)
	here, kept := sum(shims), k.keep(shims)
	return travel{
		Here: f.position(setting{}, here, len(shims)),
		Positions: func(yield func(position) bool) {
			for t, total := range k.totals {
				if total == here {
					continue
				}
				s := k.best(kept, t)
				if !yield(f.position(setting{k.list(s)}, total, s.shims)) {
					return
				}
			}
		},
	}, nil
}

func (f figures) position(s setting, total nm, shims int) position {
	depth := f.LeverRatio * total.mm()
	if f.ShimMakes == "SHALLOWER" {
		depth = -depth
	}
	return position{Setting: s, DepthMm: depth, Count: float64(shims)}
}

func inNm(mm []float64) []nm {
	out := make([]nm, len(mm))
	for i := range mm {
		out[i] = toNm(mm[i])
	}
	return out
}

func sum(shims []nm) nm {
	var total nm
	for _, s := range shims {
		total += s
	}
	return total
}

// Say names the shims to take out and to put in.
func (arm) Say(m move) adjuster.Words {
	before, after := inNm(m.From.ShimsMm), inNm(m.To.ShimsMm)
	var say []string
	if out := without(before, after); len(out) > 0 {
		say = append(say, fmt.Sprintf(m.In("Take out %s."), named(m, out)))
	}
	if in := without(after, before); len(in) > 0 {
		say = append(say, fmt.Sprintf(m.In("Put in %s."), named(m, in)))
	}
	say = append(say, fmt.Sprintf(m.In("The stack is then %s, and the row goes %s."),
		m.Length(sum(after).mm()), m.Direction()))
	return adjuster.Words{Say: strings.Join(say, " "), Cautions: cautions(m, before)}
}

// cautions are what to mind about the stack that was found.
func cautions(m move, shims []nm) []string {
	var out []string
	if total := sum(shims); total > toNm(m.Figures.StackMaxMm) {
		out = append(out, fmt.Sprintf(m.In("The stack was found at %s, over its maximum of %s; it was taken as found, have the arm and its bolts checked."),
			m.Length(total.mm()), m.Length(m.Figures.StackMaxMm)))
	}
	ofKit := inNm(m.Figures.KitMm)
	odd := slices.DeleteFunc(slices.Clone(shims), func(s nm) bool { return slices.Contains(ofKit, s) })
	if len(odd) > 0 {
		out = append(out, fmt.Sprintf(m.In("The stack was found with %s not of the kit; measure before trusting it."), named(m, odd)))
	}
	return out
}

// without is what of a is left when b is taken away, one for one.
func without(a, b []nm) []nm {
	b = slices.Clone(b)
	return slices.DeleteFunc(slices.Clone(a), func(s nm) bool {
		i := slices.Index(b, s)
		if i >= 0 {
			b = slices.Delete(b, i, i+1)
		}
		return i >= 0
	})
}

// named says shims as people do: "two 2 mm shims and one 0.5 mm shim".
func named(m move, shims []nm) string {
	shims = slices.Sorted(slices.Values(shims))
	slices.Reverse(shims)
	var parts []string
	for len(shims) > 0 {
		n := 1
		for n < len(shims) && shims[n] == shims[0] {
			n++
		}
		parts = append(parts, several(m, n, m.Stamped(shims[0].mm())))
		shims = shims[n:]
	}
	if len(parts) == 1 {
		return parts[0]
	}
	return strings.Join(parts[:len(parts)-1], ", ") + m.In(" and ") + parts[len(parts)-1]
}

// several says shims of one thickness.
func several(m move, n int, size string) string {
	if n == 1 {
		return fmt.Sprintf(m.In("one %s shim"), size)
	}
	return fmt.Sprintf(m.In("%s %s shims"), inWords(m, n), size)
}

// inWords keeps the number of shims apart from their thickness when it is read aloud.
func inWords(m move, n int) string {
	words := strings.Fields(m.In("no one two three four five six seven eight nine ten eleven twelve"))
	if n < len(words) {
		return words[n]
	}
	return strconv.Itoa(n)
}
