package plan

import (
	"cmp"
	"math"
	"slices"
	"sort"

	"rowdatum/server/leveling"
)

// FieldProblem is everything a field move follows from. The caller has checked it as for Problem; rows that
// are only trimmed and whose depth control is described are handed in with that control's style, group and
// options.
type FieldProblem struct {
	Rows    []Row    // in any order
	DatumMm *float64 // T, the common depth now; nil: the mean of the rows that can move
	DeltaMm float64  // wanted change of planting depth, positive deeper
	Voice   leveling.Voice
}

// FieldMove is one count for every group. Its means and spreads are over the rows that move as asked.
type FieldMove struct {
	LengthUnit     leveling.LengthUnit `json:"lengthUnit,omitzero"` // that its words say lengths in
	DeltaMm        float64             `json:"deltaMm,omitzero"`
	TargetMm       float64             `json:"targetMm,omitzero"`       // T + Δ
	MeanMm         float64             `json:"meanMm,omitzero"`         // of the predicted depths
	MeanChangeMm   float64             `json:"meanChangeMm,omitzero"`   // of the predicted changes
	SpreadBeforeMm float64             `json:"spreadBeforeMm,omitzero"` // largest minus smallest depth now
	SpreadAfterMm  float64             `json:"spreadAfterMm,omitzero"`  // largest minus smallest predicted depth
	CoarsestStepMm float64             `json:"coarsestStepMm,omitzero"` // the largest step of any row
	Reached        bool                `json:"reached,omitzero"`        // the mean is within half of that step of the target
	Exact          bool                `json:"exact,omitzero"`          // every choice of counts was weighed
	Groups         []GroupMove         `json:"groups,omitzero"`         // by their lowest row
	Rows           []FieldRow          `json:"rows,omitzero"`           // by rising number
	Cautions       []string            `json:"cautions,omitzero"`
}

// GroupMove is what to do to every row of a group.
type GroupMove struct {
	Mechanism string             `json:"mechanism,omitzero"`
	Group     int                `json:"group,omitzero"`
	Count     float64            `json:"count,omitzero"`
	Unit      leveling.CountUnit `json:"unit,omitzero"`
	Rows      []int              `json:"rows,omitzero"`
}

// FieldRow is what a field move does to one row.
type FieldRow struct {
	Row           int             `json:"row,omitzero"`
	Option        leveling.Option `json:"option,omitzero"` // of no meaning where Trimmed
	DepthMm       float64         `json:"depthMm,omitzero"`
	ChangeMm      float64         `json:"changeMm,omitzero"`
	UncertaintyMm float64         `json:"uncertaintyMm,omitzero"`
	OutOfTravel   bool            `json:"outOfTravel,omitzero"` // stops short, at the end of its travel
	Trimmed       bool            `json:"trimmed,omitzero"`     // only trimmed: stays
}

// MoveInField chooses the counts. Of choices whose mean comes within half the coarsest step of the target,
// fewest rows out of travel first, then the smallest spread, the nearest mean, the fewest counts over all
// rows, and the shallower counts of the lower rows. Where none comes so near: the nearest mean first.
func MoveInField(p FieldProblem) FieldMove {
	f := newFielder(&p)
	f.search(0, tally{})
	out := f.answer()
	f.fieldCautions(&out)
	return out
}

// FieldTable is the field move for each of some changes of depth: what an index card carries.
func FieldTable(p FieldProblem, deltasMm []float64) []FieldMove {
	out := make([]FieldMove, len(deltasMm))
	for i, delta := range deltasMm {
		p.DeltaMm = delta
		out[i] = MoveInField(p)
	}
	return out
}

// CommonChangesMm are the changes of depth that an index card lists: an inch or 25 mm either way, by quarter
// inches or 5 mm. Our choice, no source.
func CommonChangesMm(v leveling.Voice) []float64 {
	step, most := 5.0, 5
	if v.PerInch > 0 {
		step, most = 25.4/4, 4
	}
	var out []float64
	for i := -most; i <= most; i++ {
		if i != 0 {
			out = append(out, float64(i)*step)
		}
	}
	return out
}

// mostTallies bounds the search. A planter of three mechanisms takes some thousands; only one of very many
// mechanisms comes to the bound, and its answer says so.
const mostTallies = 2_000_000

// fielder looks for the best counts.
type fielder struct {
	*FieldProblem
	rows    []*Row // by rising number
	groups  []*fieldGroup
	target  pm
	step    pm
	tallies int
	now     []int // index of a choice, a group each
	best    []int
	least   tally
}

// fieldGroup are rows that take the same count.
type fieldGroup struct {
	rows    []*Row
	choices []fieldChoice
}

// fieldChoice is one count and what it does to its group.
type fieldChoice struct {
	count micros // in millionths, so that equal counts compare equal
	tally tally
}

// tally is what choices come to: over the rows that move as asked, but for out.
type tally struct {
	depths extent
	sum    pm
	n      int
	counts micros // over all rows
	out    int    // rows out of travel
}

func newFielder(p *FieldProblem) *fielder {
	f := &fielder{FieldProblem: p}
	for i := range p.Rows {
		f.rows = append(f.rows, &p.Rows[i])
	}
	slices.SortFunc(f.rows, func(a, b *Row) int { return cmp.Compare(a.Number, b.Number) })
	f.group()
	f.target = f.datum() + toPm(p.DeltaMm)
	for _, g := range f.groups {
		for _, r := range g.rows {
			f.step = max(f.step, r.coarsest())
		}
		g.choose(f.target)
	}
	f.now, f.best = make([]int, len(f.groups)), make([]int, len(f.groups))
	return f
}

func (f *fielder) group() {
	known := map[int]*fieldGroup{}
	for _, r := range f.rows {
		if !r.Style.SetsPlantingDepth {
			continue
		}
		g := known[r.Group]
		if g == nil {
			g = &fieldGroup{}
			known[r.Group], f.groups = g, append(f.groups, g)
		}
		g.rows = append(g.rows, r)
	}
}

func (f *fielder) datum() pm {
	if f.DatumMm != nil {
		return toPm(*f.DatumMm)
	}
	var sum pm
	n := 0
	for _, g := range f.groups {
		for _, r := range g.rows {
			sum += toPm(r.Estimate.DepthMm)
			n++
		}
	}
	if n == 0 {
		return 0
	}
	return meanPm(sum, n)
}

// predict is the depth that option o brings row r to.
func (r *Row) predict(o *leveling.Option) pm {
	if o.Leave {
		return toPm(r.Estimate.DepthMm)
	}
	by := float64(r.Estimate.Scale * o.EffectMm) // not fused into the sum: see prepare
	return toPm(r.Estimate.DepthMm + by)
}

// millionths is an option's count as counts are compared.
func millionths(count float64) micros { return micros(math.RoundToEven(count * 1e6)) }

// byCount lists the row's options by rising count; of those of one count the smallest effect comes first.
func (r *Row) byCount() []*leveling.Option {
	out := make([]*leveling.Option, len(r.Options))
	for i := range r.Options {
		out[i] = &r.Options[i]
	}
	slices.SortFunc(out, func(a, b *leveling.Option) int {
		return cmp.Or(cmp.Compare(millionths(a.Count), millionths(b.Count)),
			cmp.Compare(math.Abs(a.EffectMm), math.Abs(b.EffectMm)), cmp.Compare(a.EffectMm, b.EffectMm))
	})
	return out
}

// coarsest is the largest step between neighbouring counts of the row.
func (r *Row) coarsest() (step pm) {
	options := r.byCount()
	for i, o := range options[1:] {
		step = max(step, (r.predict(o) - r.predict(options[i])).abs())
	}
	return step
}

// take is, of a row's options by count, the one of a count, or the one at the end of the travel on the way to
// it: there is always leave.
func take(options []*leveling.Option, count micros) (o *leveling.Option, short bool) {
	i := first(options, count)
	if i < len(options) && millionths(options[i].Count) == count {
		return options[i], false
	}
	if count > 0 {
		i = first(options, millionths(options[i-1].Count))
	}
	return options[i], true
}

// first is the index of the first option of a count or more.
func first(options []*leveling.Option, count micros) int {
	return sort.Search(len(options), func(i int) bool { return millionths(options[i].Count) >= count })
}

// choose lists the counts that some row of the group can take, those that come nearest the target first.
func (g *fieldGroup) choose(target pm) {
	byCount := map[micros]*tally{}
	var order []micros
	options := make([][]*leveling.Option, len(g.rows))
	for i, r := range g.rows {
		options[i] = r.byCount()
		for _, o := range options[i] {
			if c := millionths(o.Count); byCount[c] == nil {
				byCount[c], order = &tally{}, append(order, c)
			}
		}
	}
	for _, c := range order {
		t := byCount[c]
		for i, r := range g.rows {
			o, short := take(options[i], c)
			t.counts += max(millionths(o.Count), -millionths(o.Count))
			if short {
				t.out++
				continue
			}
			t.depths.add(r.predict(o))
			t.sum += r.predict(o)
			t.n++
		}
		g.choices = append(g.choices, fieldChoice{c, *t})
	}
	slices.SortFunc(g.choices, func(a, b fieldChoice) int {
		return cmp.Or(cmp.Compare(a.tally.out, b.tally.out), cmp.Compare(a.tally.miss(target), b.tally.miss(target)), cmp.Compare(a.count, b.count))
	})
}

// miss is how far the mean is from the target, in picometres.
func (t tally) miss(target pm) pm { return (meanPm(t.sum, t.n) - target).abs() }

func (t tally) plus(u tally) tally {
	if u.depths.any {
		t.depths.add(u.depths.low)
		t.depths.add(u.depths.high)
	}
	return tally{t.depths, t.sum + u.sum, t.n + u.n, t.counts + u.counts, t.out + u.out}
}

// search tries every choice of the groups from i on, and leaves out what can no longer be the best.
func (f *fielder) search(i int, t tally) {
	if i == len(f.groups) {
		if f.least.n == 0 || f.better(t) {
			f.least = t
			copy(f.best, f.now)
		}
		return
	}
	for j, c := range f.groups[i].choices {
		if f.tallies++; f.tallies > mostTallies {
			return
		}
		if next := t.plus(c.tally); !f.hopeless(next) {
			f.now[i] = j
			f.search(i+1, next)
		}
	}
}

// reached says whether the mean is within half the coarsest step of the target.
func (f *fielder) reached(t tally) bool {
	return 2*(t.sum-pm(t.n)*f.target).abs() <= pm(t.n)*f.step
}

// hopeless says that t is behind the best already: rows out of travel and spread only grow, and a mean within
// the best's spread of every row so far cannot be at the target any more.
func (f *fielder) hopeless(t tally) bool {
	if f.least.n == 0 || !f.reached(f.least) || t.out < f.least.out {
		return false
	}
	spread := f.least.depths.width()
	return t.out > f.least.out || t.depths.width() > spread ||
		2*(t.depths.low+spread-f.target) < -f.step || 2*(t.depths.high-spread-f.target) > f.step
}

func (f *fielder) better(t tally) bool {
	b := f.least
	if f.reached(t) != f.reached(b) {
		return f.reached(t)
	}
	miss := cmp.Compare(t.miss(f.target), b.miss(f.target))
	even := cmp.Or(cmp.Compare(t.out, b.out), cmp.Compare(t.depths.width(), b.depths.width()))
	first, second := even, miss
	if !f.reached(t) {
		first, second = miss, even
	}
	return cmp.Or(first, second, cmp.Compare(t.counts, b.counts), f.shallower()) < 0
}

// shallower compares the counts tried now with the best so far, group by group.
func (f *fielder) shallower() int {
	for i, g := range f.groups {
		if c := cmp.Compare(g.choices[f.now[i]].count, g.choices[f.best[i]].count); c != 0 {
			return c
		}
	}
	return 0
}

func (f *fielder) answer() FieldMove {
	out := FieldMove{
		LengthUnit: f.Voice.LengthUnit(), DeltaMm: f.DeltaMm, TargetMm: f.target.mm(), CoarsestStepMm: f.step.mm(),
		Reached: f.least.n > 0 && f.reached(f.least), Exact: f.tallies <= mostTallies,
		SpreadAfterMm: f.least.depths.width().mm(),
	}
	counts := map[int]micros{}
	for i, g := range f.groups {
		c := g.choices[f.best[i]].count
		m := GroupMove{Mechanism: g.rows[0].Mechanism, Group: g.rows[0].Group, Count: float64(c) / 1e6, Unit: g.rows[0].Style.CountUnit}
		for _, r := range g.rows {
			m.Rows = append(m.Rows, r.Number)
		}
		out.Groups, counts[m.Group] = append(out.Groups, m), c
	}
	var before extent
	var now pm
	for _, r := range f.rows {
		row := r.moved(counts[r.Group])
		if !row.OutOfTravel && !row.Trimmed {
			before.add(toPm(r.Estimate.DepthMm))
			now += toPm(r.Estimate.DepthMm)
		}
		out.Rows = append(out.Rows, row)
	}
	out.SpreadBeforeMm = before.width().mm()
	if f.least.n > 0 {
		out.MeanMm = meanPm(f.least.sum, f.least.n).mm()
		out.MeanChangeMm = meanPm(f.least.sum-now, f.least.n).mm()
	}
	return out
}

// moved is what a count does to row r.
func (r *Row) moved(count micros) FieldRow {
	now := toPm(r.Estimate.DepthMm)
	out := FieldRow{Row: r.Number, DepthMm: now.mm(), UncertaintyMm: r.Estimate.UncertaintyMm, Trimmed: !r.Style.SetsPlantingDepth}
	if out.Trimmed {
		return out
	}
	o, short := take(r.byCount(), count)
	after := r.predict(o)
	out.Option, out.OutOfTravel = *o, short
	out.DepthMm, out.ChangeMm = after.mm(), (after - now).mm()
	if !o.Leave {
		out.UncertaintyMm = r.sdAfter(o.EffectMm, 0)
	}
	return out
}
