package plan_test

import (
	"fmt"
	"math"
	"math/rand/v2"
	"reflect"
	"slices"
	"strings"
	"testing"

	"rowdatum/server/leveling"
	"rowdatum/server/leveling/estimate"
	"rowdatum/server/leveling/plan"
)

// stops is a shop whose rows have stops with known notches, so that marks can be told from the notches
// themselves: the plan sees settings only as texts.
type stops struct {
	plan.Problem
	depths  [2][]float64 // of either group's notches
	notches map[int]int  // by row number, as found; 0 is not known
}

func randomStops(rng *rand.Rand) stops {
	s := stops{notches: map[int]int{}}
	s.Aim = leveling.DefaultAim()
	s.Aim.Kind = pick(rng, leveling.LeastWork, leveling.Closest)
	s.Reach = pick(rng, leveling.Reach{}, leveling.Reach{}, leveling.Reach{ShallowerMm: 5, DeeperMm: 8}, leveling.Reach{DeeperMm: 10})
	s.depths[0] = even(8+rng.IntN(8), 4)
	depth := 0.0
	for range 8 + rng.IntN(8) {
		s.depths[1] = append(s.depths[1], depth)
		depth += pick(rng, 2, 3, 4, 4.4, 5.5)
	}
	f := leveling.DefaultFixture()
	for number := 1; number <= 2+rng.IntN(7); number++ {
		group := rng.IntN(2)
		notch := 3 + rng.IntN(4)
		read := 50.8 + 3*rng.NormFloat64()
		e := estimate.Stay(f, []float64{read, read, read})
		e.Scale = pick(rng, 1, 1, 0.95, 1.1)
		known := rng.IntN(8) > 0
		style := notchedStop
		if !known && group == 0 {
			notch = 0
		}
		r := rowOf(number, group, &style, e, stop(s.depths[group], notch))
		s.notches[number] = notch
		s.Rows = append(s.Rows, r)
		if rng.IntN(4) == 0 {
			s.ReferenceRows = append(s.ReferenceRows, number)
		}
	}
	s.ReferenceRows = s.ReferenceRows[:min(1, len(s.ReferenceRows))]
	return s
}

func (s stops) wantMarks(p plan.Plan) []plan.MechanismMarks {
	var out []plan.MechanismMarks
	var order []int
	for _, r := range s.Rows {
		if !slices.Contains(order, r.Group) {
			order = append(order, r.Group)
		}
	}
	for _, group := range order {
		var rows []plan.Row
		var after []int
		for i, r := range s.Rows { // in rising number, as made
			if part := p.Rows[i].Part; r.Group == group && s.notches[r.Number] > 0 && part != plan.NoReach && part != plan.Nearest {
				rows = append(rows, r)
				after = append(after, s.notches[r.Number]+int(p.Rows[i].Option.Count))
			}
		}
		if len(rows) < 2 {
			continue
		}
		sorted := slices.Sorted(slices.Values(after))
		ref := slices.Index(after, sorted[(len(sorted)-1)/2])
		for i, r := range rows {
			if slices.Contains(s.ReferenceRows, r.Number) {
				ref = i
			}
		}
		depths := s.depths[group]
		depthAt := func(i, notch int) float64 { // predicted, of row i at a notch
			e := rows[i].Estimate
			return float64(pico(e.DepthMm+e.Scale*(depths[notch-1]-depths[s.notches[rows[i].Number]-1]))) / 1e9
		}
		inField := func(notch int) bool {
			by := depths[notch-1] - depths[after[ref]-1]
			return s.Reach == leveling.Reach{} || by >= -s.Reach.ShallowerMm && by <= s.Reach.DeeperMm
		}
		m := plan.MechanismMarks{Mechanism: rows[ref].Mechanism, ReferenceRow: rows[ref].Number}
		for i, r := range rows {
			mark := plan.RowMark{Row: r.Number, Count: float64(after[i] - after[ref])}
			mark.ResidualMm = float64(pico(depthAt(i, after[i]))-pico(p.DatumMm)) / 1e9
			wrong := false
			var table []plan.TableEntry
			for notch := 1; notch <= len(depths); notch++ {
				if !inField(notch) {
					continue
				}
				if own := notch + after[i] - after[ref]; own >= 1 && own <= len(depths) {
					by, ownBy := depths[notch-1]-depths[after[ref]-1], depths[own-1]-depths[after[i]-1]
					wrong = wrong || math.Abs(by-ownBy) > 0.5
				}
				best := 1
				for n := 2; n <= len(depths); n++ {
					if math.Abs(depthAt(i, n)-depthAt(ref, notch)) < math.Abs(depthAt(i, best)-depthAt(ref, notch))-1e-10 {
						best = n
					}
				}
				table = append(table, plan.TableEntry{DepthMm: depthAt(ref, notch), Setting: setting("notch", float64(best))})
			}
			if wrong {
				mark.Count, mark.Table = 0, table
			}
			m.Rows = append(m.Rows, mark)
		}
		out = append(out, m)
	}
	return out
}

func TestMarksEqualNotches(t *testing.T) {
	rng := rand.New(rand.NewPCG(31, 32))
	counts, tables := 0, 0
	for i := range 3000 {
		s := randomStops(rng)
		p := plan.Compute(s.Problem)
		want := s.wantMarks(p)
		if len(p.Marks) != len(want) || len(want) > 0 && !reflect.DeepEqual(p.Marks, want) {
			t.Fatalf("case %d: marks\n%+v, want\n%+v\n%s", i, p.Marks, want, p.Describe())
		}
		for _, m := range want {
			for _, r := range m.Rows {
				if r.Table != nil {
					tables++
				} else {
					counts++
				}
			}
		}
	}
	if counts < 500 || tables < 500 {
		t.Errorf("%d counts and %d tables: the cases are lopsided", counts, tables)
	}
}

// Rows without marks are named with the reason.
func TestMarkCautions(t *testing.T) {
	f := leveling.DefaultFixture()
	at := func(number, notch int, read float64) plan.Row {
		return rowOf(number, 0, &notchedStop, estimate.Stay(f, []float64{read, read}), stop(even(20, 4), notch))
	}
	p := plan.Problem{
		Aim: leveling.DefaultAim(), ReferenceRows: []int{4},
		Rows: []plan.Row{at(1, 9, 50.8), at(2, 9, 50.8), at(3, 0, 50.8), at(4, 20, 30)},
	}
	p.Aim.MissSeconds = 90 // so that three rows are not moved to the worn-out one
	got := strings.Join(plan.Compute(p).Cautions, "\n")
	for _, want := range []string{
		"Row 4: no mark, because the plan does not make it even.",
		"Row 3: no mark, because nobody has said where the mechanism stands.",
		"Row 4 was named to count marks from, but carries no mark; they count from row 1.",
	} {
		if !strings.Contains(got, want) {
			t.Errorf("no caution %q in\n%s", want, got)
		}
	}
}

// Whatever the figures, a plan comes out whole and finite.
func FuzzCompute(f *testing.F) {
	for seed := range uint64(8) {
		f.Add(seed, 3.175, 0.9, 900.0, 50.8, 0.5, 6.35)
	}
	f.Add(uint64(9), 1e-9, 0.5, 0.0, -20.0, 0.0, 1e300)
	f.Add(uint64(10), 300.0, 0.99999999, 1e9, 300.0, 300.0, -1e9)
	f.Fuzz(func(t *testing.T, seed uint64, tol, c, miss, depth, u, effect float64) {
		if !(tol > 0 && tol <= 300 && c >= 0.5 && c < 1 && miss >= 0 && miss <= 1e9 && depth >= -20 && depth <= 300 && u >= 0 && u <= 300) {
			return
		}
		if math.IsNaN(effect) || math.IsInf(effect, 0) {
			return
		}
		rng := rand.New(rand.NewPCG(seed, 1))
		p := randomProblem(rng)
		p.Aim.ToleranceMm, p.Aim.Confidence, p.Aim.MissSeconds = tol, c, miss
		r := &p.Rows[rng.IntN(len(p.Rows))]
		r.Estimate.DepthMm, r.Estimate.UncertaintyMm, r.Estimate.CovarianceMm = depth, u, 0
		if effect != 0 {
			r.Options = append(r.Options, leveling.Option{EffectMm: effect, Count: effect, SettingAfter: "odd"})
		}
		got := plan.Compute(p)
		checkFinite(t, reflect.ValueOf(got))
		if s := got.Describe(); strings.Contains(s, "NaN") || strings.Contains(s, "Inf") {
			t.Fatal(s)
		}
		if len(got.Rows) != len(p.Rows) {
			t.Fatalf("%d rows, want %d", len(got.Rows), len(p.Rows))
		}
	})
}

func checkFinite(t *testing.T, v reflect.Value) {
	switch v.Kind() {
	case reflect.Float64:
		if x := v.Float(); math.IsNaN(x) || math.IsInf(x, 0) {
			t.Fatal(fmt.Sprint("not finite: ", x))
		}
	case reflect.Struct:
		for i := range v.NumField() {
			checkFinite(t, v.Field(i))
		}
	case reflect.Slice:
		for i := range v.Len() {
			checkFinite(t, v.Index(i))
		}
	}
}
