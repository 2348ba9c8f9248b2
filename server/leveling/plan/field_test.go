package plan_test

import (
	"flag"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"slices"
	"strings"
	"testing"

	"rowdatum/server/leveling"
	"rowdatum/server/leveling/estimate"
	"rowdatum/server/leveling/plan"
)

// The twin: every product of counts, each scored from nothing by the rule's words.

type fieldScore struct {
	reached bool
	out     int
	spread  int64
	miss    int64
	counts  float64
	choice  []float64
	depths  map[int]int64
	short   map[int]bool
}

func (a fieldScore) before(b fieldScore) bool {
	if a.reached != b.reached {
		return a.reached
	}
	keys := func(s fieldScore) []float64 {
		even := []float64{float64(s.out), float64(s.spread)}
		if s.reached {
			return append(append(even, float64(s.miss), s.counts), s.choice...)
		}
		return append(append([]float64{float64(s.miss)}, append(even, s.counts)...), s.choice...)
	}
	return slices.Compare(keys(a), keys(b)) < 0
}

func twinField(p plan.FieldProblem) (best fieldScore, any bool) {
	rows := slices.Clone(p.Rows)
	slices.SortFunc(rows, func(a, b plan.Row) int { return a.Number - b.Number })
	rows = slices.DeleteFunc(rows, func(r plan.Row) bool { return !r.Style.SetsPlantingDepth })
	if len(rows) == 0 {
		return best, false
	}
	var groups []int
	offered := map[int][]float64{}
	var depths []int64
	var step int64
	for _, r := range rows {
		if !slices.Contains(groups, r.Group) {
			groups = append(groups, r.Group)
		}
		depths = append(depths, pico(r.Estimate.DepthMm))
		byCount := slices.Clone(r.Options)
		slices.SortFunc(byCount, func(a, b leveling.Option) int { return slices.Compare([]float64{a.Count}, []float64{b.Count}) })
		for i, o := range byCount {
			if !slices.Contains(offered[r.Group], o.Count) {
				offered[r.Group] = append(offered[r.Group], o.Count)
			}
			if i > 0 {
				a, b := fieldDepth(r, byCount[i-1]), fieldDepth(r, o)
				step = max(step, a-b, b-a)
			}
		}
	}
	datum := twinMean(depths)
	if p.DatumMm != nil {
		datum = pico(*p.DatumMm)
	}
	target := datum + pico(p.DeltaMm)
	picked := make([]float64, len(groups))
	var try func(i int)
	try = func(i int) {
		if i == len(groups) {
			s := scoreField(rows, groups, slices.Clone(picked), target, step)
			if !any || s.before(best) {
				best, any = s, true
			}
			return
		}
		for _, c := range offered[groups[i]] {
			picked[i] = c
			try(i + 1)
		}
	}
	try(0)
	return best, any
}

func fieldDepth(r plan.Row, o leveling.Option) int64 {
	if o.Leave {
		return pico(r.Estimate.DepthMm)
	}
	by := float64(r.Estimate.Scale * o.EffectMm)
	return pico(r.Estimate.DepthMm + by)
}

func scoreField(rows []plan.Row, groups []int, picked []float64, target, step int64) fieldScore {
	s := fieldScore{choice: picked, depths: map[int]int64{}, short: map[int]bool{}}
	var full []int64
	for _, r := range rows {
		want := picked[slices.Index(groups, r.Group)]
		got := r.Options[0] // replaced: leave, count 0, lies on every way
		for _, o := range r.Options {
			if o.Leave {
				got = o
			}
		}
		for _, o := range r.Options {
			if o.Count == want || o.Count*want > 0 && math.Abs(o.Count) < math.Abs(want) && math.Abs(o.Count) > math.Abs(got.Count) && got.Count != want {
				got = o
			}
		}
		s.counts += math.Round(math.Abs(got.Count) * 1e6)
		s.depths[r.Number] = fieldDepth(r, got)
		if got.Count != want {
			s.out++
			s.short[r.Number] = true
			continue
		}
		full = append(full, fieldDepth(r, got))
	}
	s.spread = slices.Max(full) - slices.Min(full)
	s.miss = dist(twinMean(full), target)
	var sum int64
	for _, d := range full {
		sum += d - target
	}
	s.reached = 2*max(sum, -sum) <= int64(len(full))*step
	return s
}

func TestFieldMoveEqualsTwin(t *testing.T) {
	rng := rand.New(rand.NewPCG(61, 5))
	reached, short, moved := 0, 0, 0
	for i := range 6000 {
		base := randomProblem(rng)
		p := plan.FieldProblem{Rows: base.Rows, DeltaMm: math.Round((rng.Float64()*2-1)*16) / 2}
		if rng.IntN(2) == 0 {
			p.DatumMm = base.Aim.DatumMm
		}
		for j := range p.Rows {
			p.Rows[j].Group = rng.IntN(3)
			for k := range p.Rows[j].Options { // whole millionths, as counts are compared
				o := &p.Rows[j].Options[k]
				o.Count = math.Round(o.Count*1e6) / 1e6
			}
		}
		got := plan.MoveInField(p)
		want, any := twinField(p)
		if !any {
			if len(got.Groups) != 0 {
				t.Fatalf("case %d: groups of rows that cannot move: %v", i, got.Groups)
			}
			continue
		}
		var picked []float64
		for _, g := range got.Groups {
			picked = append(picked, g.Count)
		}
		if !slices.Equal(picked, want.choice) || got.Reached != want.reached || pico(got.SpreadAfterMm) != want.spread || !got.Exact {
			t.Fatalf("case %d: twin picks %v, spread %d, reached %v\n%s", i, want.choice, want.spread, want.reached, got.Describe())
		}
		for _, r := range got.Rows {
			if !r.Trimmed && (pico(r.DepthMm) != want.depths[r.Row] || r.OutOfTravel != want.short[r.Row]) {
				t.Fatalf("case %d: row %d should come to %d, short %v\n%s", i, r.Row, want.depths[r.Row], want.short[r.Row], got.Describe())
			}
		}
		if got.Reached {
			reached++
		}
		if want.out > 0 {
			short++
		}
		if len(got.Groups) > 0 && got.Groups[0].Count != 0 {
			moved++
		}
	}
	if reached < 1000 || reached > 5900 || short < 300 || moved < 1000 {
		t.Errorf("the cases are one-sided: %d reached, %d short, %d moved", reached, short, moved)
	}
}

// Many mechanisms: the search ends, and says that it did not weigh everything or that it did.
func TestFieldMoveOfManyMechanisms(t *testing.T) {
	rng := rand.New(rand.NewPCG(7, 7))
	var rows []plan.Row
	for i := range 40 {
		e := estimate.Estimate{DepthMm: 50 + rng.Float64(), UncertaintyMm: 0.3, Scale: 0.9 + 0.2*rng.Float64()}
		rows = append(rows, rowOf(i+1, i, &threadedHandle, e, handle(6.35, 0.25, 16, 8)))
	}
	m := plan.MoveInField(plan.FieldProblem{Rows: rows, DeltaMm: 12})
	if !m.Reached || m.SpreadAfterMm > 3 {
		t.Errorf("reached %v, spread %v", m.Reached, m.SpreadAfterMm)
	}
}

// fieldStories are drawn and held against testdata/field.txt.
func fieldStories() map[string]plan.FieldProblem {
	est := func(depth, scale float64) estimate.Estimate {
		return estimate.Estimate{DepthMm: depth, UncertaintyMm: 0.4, Scale: scale, ScaleSd: 0.05, Readings: 2}
	}
	uneven := []float64{0, 3, 6.5, 10.5, 15, 20, 25.5, 31.5}
	stops := plan.FieldProblem{DeltaMm: 12, Rows: []plan.Row{
		rowOf(1, 0, &notchedStop, est(50.1, 1), stop(uneven, 3)),
		rowOf(2, 0, &notchedStop, est(49.8, 0.92), stop(uneven, 4)),
		rowOf(3, 0, &notchedStop, est(50.4, 1.05), stop(uneven, 6)),
	}}
	mixed := plan.FieldProblem{DeltaMm: -6.35, Voice: leveling.Voice{PerInch: 16}, Rows: []plan.Row{
		rowOf(1, 0, &notchedStop, est(50.1, 1), stop(even(20, 4), 10)),
		rowOf(2, 1, &threadedHandle, est(50.6, 1), handle(6.35, 0.25, 16, 8)),
		rowOf(3, 1, &threadedHandle, est(50.3, 0.8), handle(6.35, 0.25, 16, -1)),
		rowOf(4, 2, &shimmedArm, est(50.0, 1), shims(1.8, []float64{0.5, 1, 2, 3}, 12, []float64{2})),
	}}
	spanish := mixed
	spanish.Voice.Language, spanish.DeltaMm = leveling.Spanish, -120
	return map[string]plan.FieldProblem{"uneven stops": stops, "mixed, in inches": mixed, "mixed, in Spanish, too far": spanish}
}

func TestFieldStories(t *testing.T) {
	const file = "testdata/field.txt"
	stories := fieldStories()
	var b strings.Builder
	for _, name := range []string{"uneven stops", "mixed, in inches", "mixed, in Spanish, too far"} {
		fmt.Fprintf(&b, "== %s\n%s", name, plan.MoveInField(stories[name]).Describe())
	}
	if flag.Lookup("update").Value.String() == "true" {
		if err := os.MkdirAll("testdata", 0o755); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(file, []byte(b.String()), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	want, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	if b.String() != string(want) {
		t.Errorf("the stories are now\n%s", b.String())
	}
}

func TestFieldTable(t *testing.T) {
	p := fieldStories()["mixed, in inches"]
	changes := plan.CommonChangesMm(p.Voice)
	table := plan.FieldTable(p, changes)
	if len(table) != 8 || changes[0] != -25.4 || changes[7] != 25.4 {
		t.Fatalf("changes are %v", changes)
	}
	for i, m := range table {
		if m.DeltaMm != changes[i] || !m.Reached || math.Abs(m.MeanMm-m.TargetMm) > m.CoarsestStepMm/2+1e-9 {
			t.Errorf("change %v:\n%s", changes[i], m.Describe())
		}
	}
}

// Three mechanisms of a thousand settings are weighed to the last choice.
func TestFieldMoveOfManySettings(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 1000))
	var rows []plan.Row
	for i := range 24 {
		e := estimate.Estimate{DepthMm: 50 + rng.Float64(), UncertaintyMm: 0.3, Scale: 0.95 + 0.1*rng.Float64()}
		rows = append(rows, rowOf(i+1, i%3, &threadedHandle, e, handle(0.2, 1, 999, float64(400+10*(i%5)))))
	}
	m := plan.MoveInField(plan.FieldProblem{Rows: rows, DeltaMm: 12})
	if !m.Reached || !m.Exact {
		t.Errorf("reached %v, exact %v", m.Reached, m.Exact)
	}
}
