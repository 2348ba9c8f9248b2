package plan_test

import (
	"fmt"
	"math"
	"math/big"
	"math/rand/v2"
	"slices"
	"sync"
	"testing"

	"rowdatum/server/leveling"
	"rowdatum/server/leveling/estimate"
	"rowdatum/server/leveling/plan"
)

// The twin: the rule of the plan written down as plainly as it is described, with no regard for time. It
// shares nothing with the code under test but the half-widths of package estimate.

func pico(mm float64) int64 { return int64(math.RoundToEven(mm * 1e9)) }

type twinOption struct {
	p, h   int64 // h is -1 where the option can never be accepted
	e      float64
	leave  bool
	source int
}

type twinRow struct {
	*plan.Row
	d, h, g int64
	sd      float64
	all     []twinOption // in reach
	matched bool
	touch   float64
}

type twinPart struct {
	part   plan.Part
	source int // -1: none
}

func halfOf(u float64, a leveling.Aim) int64 {
	h, ok := estimate.HalfWidth(u, a.ToleranceMm, a.Confidence)
	if !ok {
		return -1
	}
	return pico(h)
}

func twinRows(p plan.Problem) []twinRow {
	var out []twinRow
	var joined float64
	for i := range p.Rows {
		if p.Aim.Kind == leveling.MatchRow && p.Rows[i].Number == p.Aim.Row {
			joined = p.Rows[i].Estimate.UncertaintyMm
		}
	}
	if p.Aim.Kind == leveling.SetDepth {
		joined = p.Aim.ZeroUncertaintyMm
	}
	for i := range p.Rows {
		r := twinRow{Row: &p.Rows[i], touch: p.Rows[i].Style.TouchSeconds}
		r.matched = p.Aim.Kind == leveling.MatchRow && r.Number == p.Aim.Row
		join := joined
		if r.matched {
			join = 0
		}
		e := r.Estimate
		r.d = pico(e.DepthMm)
		r.sd = math.Sqrt(e.UncertaintyMm*e.UncertaintyMm + join*join)
		r.h = halfOf(r.sd, p.Aim)
		r.g = pico(estimate.OffDistance(r.sd, p.Aim.ToleranceMm, p.Aim.Confidence))
		for j, o := range r.Options {
			in := true
			if r.Style.SetsPlantingDepth && r.Setting != "" && o.TravelKnown {
				in = pico(o.ShallowerLeftMm) >= pico(p.Reach.ShallowerMm) && pico(o.DeeperLeftMm) >= pico(p.Reach.DeeperMm)
			}
			if r.matched {
				in = o.Leave
			}
			if !in {
				continue
			}
			t := twinOption{p: pico(e.DepthMm + float64(e.Scale*o.EffectMm)), e: o.EffectMm, leave: o.Leave, source: j}
			u := r.sd
			if !o.Leave {
				ef, seat := o.EffectMm, r.Style.SeatingMm
				u = math.Sqrt(e.UncertaintyMm*e.UncertaintyMm + 2*ef*e.CovarianceMm + ef*ef*e.ScaleSd*e.ScaleSd + seat*seat + join*join)
			}
			t.h = halfOf(u, p.Aim)
			r.all = append(r.all, t)
		}
		out = append(out, r)
	}
	slices.SortFunc(out, func(a, b twinRow) int { return a.Number - b.Number })
	return out
}

func dist(a, b int64) int64 { return max(a-b, b-a) }

// nearer says whether a beats b at datum t: nearest, then smaller |e|, then shallower, then leave.
func nearer(a, b twinOption, t int64) bool {
	if da, db := dist(a.p, t), dist(b.p, t); da != db {
		return da < db
	}
	if ea, eb := math.Abs(a.e), math.Abs(b.e); ea != eb {
		return ea < eb
	}
	if a.e != b.e {
		return a.e < b.e
	}
	return a.leave && !b.leave
}

func (r *twinRow) at(t int64) twinPart {
	if r.matched {
		return twinPart{plan.Left, r.all[0].source}
	}
	if len(r.all) == 0 {
		return twinPart{plan.NoReach, -1}
	}
	var leave *twinOption
	var accepted, nearest *twinOption
	for i := range r.all {
		o := &r.all[i]
		if o.leave {
			leave = o
		}
		if !o.leave && o.h >= 0 && dist(o.p, t) <= o.h && (accepted == nil || nearer(*o, *accepted, t)) {
			accepted = o
		}
		if nearest == nil || nearer(*o, *nearest, t) {
			nearest = o
		}
	}
	switch {
	case leave != nil && r.h >= 0 && dist(r.d, t) <= r.h:
		return twinPart{plan.Left, leave.source}
	case accepted != nil:
		return twinPart{plan.Moved, accepted.source}
	case leave != nil && dist(r.d, t) < r.g:
		return twinPart{plan.Reread, leave.source}
	}
	return twinPart{plan.Nearest, nearest.source}
}

func (r *twinRow) option(source int) twinOption {
	for _, o := range r.all {
		if o.source == source {
			return o
		}
	}
	panic("no such option")
}

func (r *twinRow) cost(c twinPart, miss float64) float64 {
	switch {
	case c.part == plan.Left:
		return 0
	case c.part == plan.Moved:
		return r.touch
	case c.part == plan.Reread:
		return r.touch + miss
	case c.part == plan.Nearest && r.option(c.source).leave:
		return miss
	case c.part == plan.Nearest:
		return r.touch + miss
	}
	return miss
}

// twinMean is the mean estimate, to the nearest picometre, halves down.
func twinMean(ds []int64) int64 {
	sum := new(big.Rat)
	for _, d := range ds {
		sum.Add(sum, new(big.Rat).SetInt64(d))
	}
	sum.Quo(sum, new(big.Rat).SetInt64(int64(len(ds))))
	sum.Sub(sum, big.NewRat(1, 2)) // ceil(x - 1/2)
	q, m := new(big.Int).DivMod(sum.Num(), sum.Denom(), new(big.Int))
	if m.Sign() > 0 {
		q.Add(q, big.NewInt(1))
	}
	return q.Int64()
}

type twinScore struct {
	cost     float64
	rejected int
	squares  *big.Int // 1e-6 mm²
	exact    *big.Int // pm²
	away, t  int64
}

func (a twinScore) compare(b twinScore) int {
	switch {
	case a.cost != b.cost:
		return sign(a.cost < b.cost)
	case a.rejected != b.rejected:
		return sign(a.rejected < b.rejected)
	case a.squares.Cmp(b.squares) != 0:
		return a.squares.Cmp(b.squares)
	case a.away != b.away:
		return sign(a.away < b.away)
	case a.t != b.t:
		return sign(a.t < b.t)
	}
	return 0
}

func sign(less bool) int {
	if less {
		return -1
	}
	return 1
}

func twinScoreAt(rows []twinRow, choices []twinPart, t, mean int64, miss float64) twinScore {
	s := twinScore{exact: new(big.Int), t: t, away: dist(t, mean)}
	for i := range rows {
		if choices[i].part == plan.NoReach {
			continue
		}
		s.cost += rows[i].cost(choices[i], miss)
		if choices[i].part == plan.Left || choices[i].part == plan.Moved {
			x := big.NewInt(rows[i].option(choices[i].source).p - t)
			s.exact.Add(s.exact, x.Mul(x, x))
		} else {
			s.rejected++
		}
	}
	s.squares = new(big.Int).Add(s.exact, big.NewInt(5e11))
	s.squares.Quo(s.squares, big.NewInt(1e12))
	return s
}

func choicesAt(rows []twinRow, t int64) []twinPart {
	out := make([]twinPart, len(rows))
	for i := range rows {
		out[i] = rows[i].at(t)
	}
	return out
}

func liveEstimates(rows []twinRow) []int64 {
	var ds []int64
	for _, r := range rows {
		if len(r.all) > 0 {
			ds = append(ds, r.d)
		}
	}
	if ds == nil {
		for _, r := range rows {
			ds = append(ds, r.d)
		}
	}
	return ds
}

// twinLeastWork tries the best datum of every range of datums over which all choices are fixed, found
// by cutting at every datum where any rule could turn.
func twinLeastWork(w *plan.Window, rows []twinRow, miss float64) (int64, twinScore) {
	first, far := int64(-4e12), int64(4e12)
	if w != nil {
		first, far = w.FromPm, w.ToPm
	}
	cuts := []int64{first}
	cut := func(ts ...int64) {
		for _, t := range ts {
			for _, t := range []int64{t - 1, t, t + 1} {
				if first < t && t <= far {
					cuts = append(cuts, t)
				}
			}
		}
	}
	for _, r := range rows {
		cut(r.d-r.h, r.d+r.h, r.d-r.g, r.d+r.g)
		for i, o := range r.all {
			cut(o.p-o.h, o.p+o.h)
			for _, q := range r.all[:i] {
				cut((o.p + q.p) >> 1)
			}
		}
	}
	slices.Sort(cuts)
	cuts = slices.Compact(cuts)
	mean := twinMean(liveEstimates(rows))
	var best twinScore
	consider := func(from, to int64, choices []twinPart) {
		var ps []int64
		for i, c := range choices {
			if c.part == plan.Left || c.part == plan.Moved {
				ps = append(ps, rows[i].option(c.source).p)
			}
		}
		t := mean
		if ps != nil {
			t = twinMean(ps)
		}
		t = max(from, min(to, t))
		if s := twinScoreAt(rows, choices, t, mean, miss); best.squares == nil || s.compare(best) < 0 {
			best = s
		}
	}
	from, choices := cuts[0], choicesAt(rows, cuts[0])
	for _, c := range cuts[1:] {
		if next := choicesAt(rows, c); !slices.Equal(next, choices) {
			consider(from, c-1, choices)
			from, choices = c, next
		}
	}
	consider(from, far, choices)
	return best.t, best
}

// everyChoice calls f with every choice of one option in reach a row (stuck rows aside).
func everyChoice(rows []twinRow, f func(picked []twinOption, touched int, touch float64)) {
	live := slices.DeleteFunc(slices.Clone(rows), func(r twinRow) bool { return len(r.all) == 0 })
	picked := make([]twinOption, len(live))
	var pick func(i, touched int, touch float64)
	pick = func(i, touched int, touch float64) {
		if i == len(live) {
			f(picked, touched, touch)
			return
		}
		for _, o := range live[i].all {
			picked[i] = o
			if o.leave {
				pick(i+1, touched, touch)
			} else {
				pick(i+1, touched+1, touch+live[i].touch)
			}
		}
	}
	pick(0, 0, 0)
}

func lowAndSpread(picked []twinOption) (low, spread int64) {
	if len(picked) == 0 {
		return 0, 0
	}
	low, high := picked[0].p, picked[0].p
	for _, o := range picked {
		low, high = min(low, o.p), max(high, o.p)
	}
	return low, high - low
}

// twinClosest holds the middle of every choice to the window, if there is one, and counts the choice's
// spread about it.
func twinClosest(w *plan.Window, rows []twinRow) (t int64, choices []twinPart) {
	var low, spread int64
	var touch float64
	found := false
	everyChoice(rows, func(picked []twinOption, _ int, work float64) {
		l, s := lowAndSpread(picked)
		if mid := (2*l + s) >> 1; w != nil && (mid < w.FromPm || mid > w.ToPm) {
			held := max(w.FromPm, min(w.ToPm, mid))
			away := max(dist(l, held), dist(l+s, held))
			l, s = held-away, 2*away
		}
		if !found || s < spread || s == spread && (work < touch || work == touch && l < low) {
			low, spread, touch, found = l, s, work, true
		}
	})
	t = (2*low + spread) >> 1
	choices = make([]twinPart, len(rows))
	for i := range rows {
		r := &rows[i]
		if len(r.all) == 0 {
			choices[i] = twinPart{plan.NoReach, -1}
			continue
		}
		var best *twinOption
		for j := range r.all {
			o := &r.all[j]
			if o.p < low || o.p > low+spread {
				continue
			}
			if best == nil || o.leave || !best.leave && nearer(*o, *best, t) {
				best = o
			}
		}
		c := twinPart{plan.Nearest, best.source}
		switch h := best.h; {
		case best.leave && r.h >= 0 && dist(r.d, t) <= r.h:
			c.part = plan.Left
		case best.leave && dist(r.d, t) < r.g:
			c.part = plan.Reread
		case !best.leave && h >= 0 && dist(best.p, t) <= h:
			c.part = plan.Moved
		}
		choices[i] = c
	}
	return t, choices
}

func twinTradeoff(rows []twinRow) []plan.TradeoffPoint {
	best := map[int]int64{}
	most := 0
	everyChoice(rows, func(picked []twinOption, touched int, _ float64) {
		_, s := lowAndSpread(picked)
		most = len(picked)
		for m := touched; m <= len(picked); m++ {
			if b, ok := best[m]; !ok || s < b {
				best[m] = s
			}
		}
	})
	var out []plan.TradeoffPoint
	for m := 0; m <= most; m++ {
		if s, ok := best[m]; ok {
			out = append(out, plan.TradeoffPoint{TouchedRows: m, SpreadMm: float64(s) / 1e9})
		}
	}
	return out
}

// twinDatum finds datum and choices for any aim.
func twinDatum(p plan.Problem, rows []twinRow) (int64, []twinPart) {
	stuck := true
	for _, r := range rows {
		stuck = stuck && len(r.all) == 0
	}
	var t int64
	switch {
	case p.Aim.Kind == leveling.SetDepth:
		t = pico(*p.Aim.DatumMm)
	case stuck:
		t = twinMean(liveEstimates(rows))
	case p.Aim.Kind == leveling.MatchRow:
		for _, r := range rows {
			if r.matched {
				t = r.d
			}
		}
	case p.Aim.Kind == leveling.Closest:
		return twinClosest(p.Window, rows)
	default:
		t, _ = twinLeastWork(p.Window, rows, p.Aim.MissSeconds)
	}
	return t, choicesAt(rows, t)
}

// twinReadings tries every number of further readings.
func (r *twinRow) readings(p plan.Problem, t int64) int {
	join := r.sd*r.sd - r.Estimate.UncertaintyMm*r.Estimate.UncertaintyMm
	for n := 1; n <= 20; n++ {
		u := r.Estimate.UncertaintyAfter(n)
		u = math.Sqrt(u*u + max(0, join))
		if chance := estimate.Chance(float64(dist(t, r.d))/1e9, u, p.Aim.ToleranceMm); chance >= p.Aim.Confidence || chance <= 1-p.Aim.Confidence {
			return n
		}
	}
	return 0
}

// differs compares a plan with the twin's; it returns the first difference.
func differs(p plan.Problem, got plan.Plan) string {
	rows := twinRows(p)
	t, choices := twinDatum(p, rows)
	if want := float64(t) / 1e9; got.DatumMm != want {
		return fmt.Sprintf("datum %.9f, want %.9f", got.DatumMm, want)
	}
	var ps, ds []int64
	touched, reread, seconds, provable := 0, 0, 0.0, 0.0
	for i := range rows {
		r, c, g := &rows[i], choices[i], &got.Rows[i]
		if g.Row != r.Number || g.Part != c.part {
			return fmt.Sprintf("row %d part %d, want row %d part %d", g.Row, g.Part, r.Number, c.part)
		}
		verdict := leveling.Unsure
		switch {
		case c.part == plan.NoReach:
			verdict = leveling.Stuck
		case r.matched || r.h >= 0 && dist(r.d, t) <= r.h:
			verdict = leveling.Even
		case dist(r.d, t) >= r.g:
			verdict = leveling.Off
		}
		if g.Verdict != verdict {
			return fmt.Sprintf("row %d verdict %v, want %v", g.Row, g.Verdict, verdict)
		}
		chance := estimate.Chance(float64(dist(t, r.d))/1e9, r.sd, p.Aim.ToleranceMm)
		if r.matched {
			chance = 1
		}
		if math.Abs(g.Chance-chance) > 1e-9 {
			return fmt.Sprintf("row %d chance %v, want %v", g.Row, g.Chance, chance)
		}
		if c.part == plan.NoReach {
			continue
		}
		o := r.option(c.source)
		if g.Option != r.Options[c.source] || g.PredictedMm != float64(o.p)/1e9 {
			return fmt.Sprintf("row %d option %+v predicted %v, want %+v, %v", g.Row, g.Option, g.PredictedMm, r.Options[c.source], float64(o.p)/1e9)
		}
		settle := 0
		if c.part == plan.Reread {
			settle = r.readings(p, t)
		}
		if g.ReadingsToSettle != settle {
			return fmt.Sprintf("row %d readings to settle %d, want %d", g.Row, g.ReadingsToSettle, settle)
		}
		ps, ds = append(ps, o.p), append(ds, r.d)
		if !o.leave {
			touched++
			seconds += r.touch
		} else if c.part == plan.Reread {
			reread++
			seconds += r.touch
		}
		if !r.matched {
			provable = max(provable, estimate.ProvableTolerance(r.sd, p.Aim.Confidence))
		}
	}
	before, after := 0.0, 0.0
	if len(ps) > 0 {
		before, after = float64(slices.Max(ds)-slices.Min(ds))/1e9, float64(slices.Max(ps)-slices.Min(ps))/1e9
	}
	if got.SpreadBeforeMm != before || got.SpreadAfterMm != after {
		return fmt.Sprintf("spreads %v, %v, want %v, %v", got.SpreadBeforeMm, got.SpreadAfterMm, before, after)
	}
	if got.TouchedRows != touched || got.RereadRows != reread || got.TouchSeconds != seconds || math.Abs(got.ProvableToleranceMm-provable) > 1e-8 {
		return fmt.Sprintf("touched %d, read again %d, seconds %v, provable %v, want %d, %d, %v, %v",
			got.TouchedRows, got.RereadRows, got.TouchSeconds, got.ProvableToleranceMm, touched, reread, seconds, provable)
	}
	if want := twinTradeoff(rows); !slices.Equal(got.Tradeoff, want) {
		return fmt.Sprintf("trade-off %v, want %v", got.Tradeoff, want)
	}
	return ""
}

// pick is one of xs.
func pick[T any](rng *rand.Rand, xs ...T) T { return xs[rng.IntN(len(xs))] }

// randomProblem makes a small case; about half of them lie on a coarse lattice, so that ends, midpoints
// and windows coincide.
func randomProblem(rng *rand.Rand) plan.Problem {
	lattice := rng.IntN(2) == 0
	depth := func(span float64) float64 {
		x := (rng.Float64()*2 - 1) * span
		if lattice {
			return math.Round(x*2) / 2
		}
		return x
	}
	p := plan.Problem{
		Aim: leveling.Aim{
			Kind:        leveling.AimKind(rng.IntN(4)),
			ToleranceMm: pick(rng, 0.5, 1, 1.5875, 2, 3.175, 4),
			Confidence:  pick(rng, 0.5, 0.8, 0.9, 0.9, 0.95, 0.999),
			MissSeconds: pick(rng, 0, 10, 60, 90, 900, 900.0),
		},
		Reach: leveling.Reach{ShallowerMm: pick(rng, 0.0, 0, 2, 5, 30), DeeperMm: pick(rng, 0.0, 0, 2, 5, 30)},
	}
	u := pick(rng, 0, 0, 0.2, 0.5, 0.7, 1, 2)
	n := 1 + rng.IntN(5)
	for i := range n {
		style := &leveling.Style{
			SetsPlantingDepth: rng.IntN(4) > 0, KeepsMarks: rng.IntN(2) == 0, SeatingMm: pick(rng, 0, 0, 0.2, 0.3),
			TouchSeconds: pick(rng, 30, 60, 60, 90, 300.0), CountUnit: leveling.CountUnit{One: "notch", Other: "notches"},
		}
		e := estimate.Estimate{DepthMm: 50 + depth(6), UncertaintyMm: u, Scale: 1, Readings: 1 + rng.IntN(3)}
		if u > 0 {
			e.Budget = estimate.Budget{LastingMm2: pick(rng, 0, 0.1, 0.9) * u * u}
			e.Budget.PerReadingMm2 = (u*u - e.Budget.LastingMm2) * float64(e.Readings)
		}
		if rng.IntN(2) == 0 {
			e.ScaleSd = pick(rng, 0, 0.05, 0.2)
			e.Scale = pick(rng, 1, 0.5, 0.9, 1+0.2*rng.Float64())
			e.CovarianceMm = pick(rng, 0, 0.3, -0.3) * e.ScaleSd * u
		}
		row := plan.Row{Number: 10*i + rng.IntN(10), Group: rng.IntN(2), Mechanism: "m", Style: style, Estimate: e}
		if rng.IntN(5) > 0 {
			row.Setting = "now"
		}
		effects := []float64{0}
		step := pick(rng, 0.5, 1, 1.25, 2, 4)
		for range rng.IntN(7) {
			e := depth(8)
			if rng.IntN(2) == 0 {
				e = step * float64(rng.IntN(7)-3)
			}
			if e != 0 && !slices.Contains(effects, e) {
				effects = append(effects, e)
			}
		}
		if rng.IntN(8) > 0 {
			slices.Sort(effects)
		}
		up, down := 8+depth(8), 8+depth(8)
		for _, e := range effects {
			row.Options = append(row.Options, leveling.Option{
				Leave: e == 0, EffectMm: e, Count: e, SettingAfter: leveling.JSON(fmt.Sprint(e)), TravelKnown: rng.IntN(20) > 0,
				ShallowerLeftMm: max(0, up+e), DeeperLeftMm: max(0, down-e),
			})
		}
		p.Rows = append(p.Rows, row)
	}
	rng.Shuffle(n, func(i, j int) { p.Rows[i], p.Rows[j] = p.Rows[j], p.Rows[i] })
	p.Aim.Row = p.Rows[0].Number
	datum := 50 + depth(5)
	p.Aim.DatumMm = &datum
	if p.Aim.Kind == leveling.SetDepth {
		p.Aim.ZeroUncertaintyMm = pick(rng, 0, 0.3)
	}
	return p
}

func TestEqualsTwin(t *testing.T) {
	rng := rand.New(rand.NewPCG(2, 3))
	parts, verdicts := map[plan.Part]int{}, map[leveling.Verdict]int{}
	for i := range 12000 {
		p := randomProblem(rng)
		got := plan.Compute(p)
		if d := differs(p, got); d != "" {
			t.Fatalf("case %d, %v: %s\n%+v", i, p.Aim.Kind, d, p)
		}
		for _, r := range got.Rows {
			parts[r.Part]++
			verdicts[r.Verdict]++
		}
	}
	for part := plan.Left; part <= plan.NoReach; part++ { // the cases reach every branch
		if parts[part] < 200 {
			t.Errorf("part %d was seen %d times only", part, parts[part])
		}
	}
	for v := leveling.Even; v <= leveling.Stuck; v++ {
		if verdicts[v] < 200 {
			t.Errorf("verdict %v was seen %d times only", v, verdicts[v])
		}
	}
}

// A planner's room is used again and again; nothing of one problem shows in the plan of another.
func TestPlannerRemembersNothing(t *testing.T) {
	var planner plan.Planner
	var work sync.WaitGroup
	for caller := range 4 {
		work.Go(func() {
			rng := rand.New(rand.NewPCG(8, uint64(caller)))
			for i := range 500 {
				p := randomProblem(rng)
				if got, want := planner.Compute(p).Describe(), plan.Compute(p).Describe(); got != want {
					t.Errorf("case %d:\n%s\nand alone\n%s", i, got, want)
					return
				}
			}
		})
	}
	work.Wait()
}

// No datum beats the one found, wherever it is put.
func TestNoDatumBeatsLeastWork(t *testing.T) {
	rng := rand.New(rand.NewPCG(4, 5))
	for i := range 500 {
		p := randomProblem(rng)
		p.Aim.Kind = leveling.LeastWork
		rows := twinRows(p)
		mean := twinMean(liveEstimates(rows))
		found := pico(plan.Solve(p).DatumMm)
		best := twinScoreAt(rows, choicesAt(rows, found), found, mean, p.Aim.MissSeconds)
		for range 200 {
			at := pico(50 + (rng.Float64()*2-1)*15)
			s := twinScoreAt(rows, choicesAt(rows, at), at, mean, p.Aim.MissSeconds)
			if s.cost < best.cost || s.cost == best.cost && (s.rejected < best.rejected ||
				s.rejected == best.rejected && s.squares.Cmp(best.squares) < 0) {
				t.Fatalf("case %d: datum %v beats %v: %+v, %+v", i, at, found, s, best)
			}
		}
	}
}

func TestRowOrderDoesNotMatter(t *testing.T) {
	rng := rand.New(rand.NewPCG(6, 7))
	for i := range 500 {
		p := randomProblem(rng)
		want := plan.Compute(p).Describe()
		rng.Shuffle(len(p.Rows), func(i, j int) { p.Rows[i], p.Rows[j] = p.Rows[j], p.Rows[i] })
		if got := plan.Compute(p).Describe(); got != want {
			t.Fatalf("case %d:\n%s\nand in another order\n%s", i, want, got)
		}
	}
}
