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
// shares nothing with the code under test but the half-widths and the uncertainties of package estimate.

func pico(mm float64) int64 { return int64(math.RoundToEven(mm * 1e9)) }

type twinOption struct {
	p, h    int64 // h is -1 where the option can never be accepted
	e       float64
	leave   bool
	seconds float64
	source  int // also its place in the adjuster's order
}

type twinRow struct {
	*plan.Row
	d       int64
	h       []int64 // h[n]: left where it is and read n times more; -1 where that never proves it
	g       int64   // how far a datum must be for the row to be off
	sd      float64
	all     []twinOption // in reach
	matched bool
}

type twinPart struct {
	part     plan.Part
	source   int // -1: none
	readings int // Reread: how many more
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
		r := twinRow{Row: &p.Rows[i]}
		r.matched = p.Aim.Kind == leveling.MatchRow && r.Number == p.Aim.Row
		join := joined
		if r.matched {
			join = 0
		}
		e := r.Estimate
		with := func(u float64) float64 { return math.Sqrt(u*u + join*join) }
		r.d = pico(e.DepthMm)
		r.sd = with(e.UncertaintyMm)
		for n := 0; n == 0 || n <= 20-e.Readings; n++ {
			r.h = append(r.h, halfOf(with(e.UncertaintyAfter(n)), p.Aim))
		}
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
			t := twinOption{p: pico(e.DepthMm + float64(e.Scale*o.EffectMm)), e: o.EffectMm, leave: o.Leave, seconds: o.Seconds, source: j}
			if t.seconds == 0 {
				t.seconds = r.Style.TouchSeconds
			}
			t.h = halfOf(with(e.UncertaintyMoved(o.EffectMm, r.Style.SeatingMm)), p.Aim)
			r.all = append(r.all, t)
		}
		out = append(out, r)
	}
	slices.SortFunc(out, func(a, b twinRow) int { return a.Number - b.Number })
	return out
}

func dist(a, b int64) int64 { return max(a-b, b-a) }

// quicker says whether a beats b at datum t as a move that proves: fewest seconds, then nearest, then smaller
// |e|, then shallower, then the adjuster's order.
func quicker(a, b twinOption, t int64) bool {
	if a.seconds != b.seconds {
		return a.seconds < b.seconds
	}
	return nearer(a, b, t)
}

// nearer says whether a beats b at datum t as the nearest option: of equal ones fewest seconds, then smaller
// |e|, then shallower, then the adjuster's order.
func nearer(a, b twinOption, t int64) bool {
	if da, db := dist(a.p, t), dist(b.p, t); da != db {
		return da < db
	}
	if a.seconds != b.seconds {
		return a.seconds < b.seconds
	}
	if ea, eb := math.Abs(a.e), math.Abs(b.e); ea != eb {
		return ea < eb
	}
	if a.e != b.e {
		return a.e < b.e
	}
	return a.source < b.source
}

// best is the first option by a rule among those that are asked about; nil where there is none.
func best(options []twinOption, t int64, beats func(a, b twinOption, t int64) bool, among func(twinOption) bool) *twinOption {
	var found *twinOption
	for i := range options {
		if o := &options[i]; among(*o) && (found == nil || beats(*o, *found, t)) {
			found = o
		}
	}
	return found
}

func (r *twinRow) leave() *twinOption {
	return best(r.all, 0, nearer, func(o twinOption) bool { return o.leave })
}

// left is the row's part at datum t if it is left: even, to be read again, or neither.
func (r *twinRow) left(t int64) twinPart {
	source := r.leave().source
	for n, h := range r.h {
		switch {
		case h < 0 || dist(r.d, t) > h:
		case n == 0:
			return twinPart{plan.Left, source, 0}
		default:
			return twinPart{plan.Reread, source, n}
		}
	}
	return twinPart{plan.Nearest, source, 0}
}

func (r *twinRow) at(t int64, aim leveling.Aim) twinPart {
	if r.matched {
		return twinPart{plan.Left, r.all[0].source, 0}
	}
	if len(r.all) == 0 {
		return twinPart{plan.NoReach, -1, 0}
	}
	leave := r.leave()
	left := twinPart{part: plan.Nearest, source: -1}
	if leave != nil {
		left = r.left(t)
	}
	moved := best(r.all, t, quicker, func(o twinOption) bool { return !o.leave && o.h >= 0 && dist(o.p, t) <= o.h })
	switch {
	case left.part == plan.Left:
		return left
	case left.part == plan.Reread && (moved == nil || float64(left.readings)*aim.ReadSeconds <= moved.seconds):
		return left
	case moved != nil:
		return twinPart{plan.Moved, moved.source, 0}
	}
	near := best(r.all, t, nearer, func(twinOption) bool { return true })
	if leave != nil && (r.BroughtNear || dist(r.d, t)-dist(near.p, t) <= 1e9) {
		return twinPart{plan.Nearest, leave.source, 0}
	}
	return twinPart{plan.Nearest, near.source, 0}
}

func (r *twinRow) option(source int) twinOption {
	for _, o := range r.all {
		if o.source == source {
			return o
		}
	}
	panic("no such option")
}

// work is what a part takes at the planter, seconds.
func (r *twinRow) work(c twinPart, aim leveling.Aim) float64 {
	switch {
	case c.part == plan.Reread:
		return float64(c.readings) * aim.ReadSeconds
	case c.part != plan.NoReach && !r.option(c.source).leave:
		return r.option(c.source).seconds
	}
	return 0
}

func (r *twinRow) cost(c twinPart, aim leveling.Aim) float64 {
	if c.part == plan.Nearest || c.part == plan.NoReach {
		return r.work(c, aim) + aim.MissSeconds
	}
	return r.work(c, aim)
}

// twinMean is the mean, to the nearest picometre, halves away from zero.
func twinMean(ds []int64) int64 {
	sum := new(big.Int)
	for _, d := range ds {
		sum.Add(sum, big.NewInt(d))
	}
	n := big.NewInt(int64(len(ds)))
	sum.Mul(sum, big.NewInt(2))
	half := new(big.Int).Set(n)
	if sum.Sign() < 0 {
		half.Neg(half)
	}
	sum.Add(sum, half)
	return sum.Quo(sum, n.Mul(n, big.NewInt(2))).Int64() // Quo cuts towards zero
}

type twinScore struct {
	cost     float64
	unproven int
	moved    int
	squares  *big.Int // 1e-6 mm²
	away, t  int64
}

func (a twinScore) compare(b twinScore) int {
	switch {
	case a.cost != b.cost:
		return sign(a.cost < b.cost)
	case a.unproven != b.unproven:
		return sign(a.unproven < b.unproven)
	case a.moved != b.moved:
		return sign(a.moved < b.moved)
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

func proven(c twinPart) bool {
	return c.part == plan.Left || c.part == plan.Reread || c.part == plan.Moved
}

func twinScoreAt(rows []twinRow, choices []twinPart, t, mean int64, aim leveling.Aim) twinScore {
	s := twinScore{squares: new(big.Int), t: t, away: dist(t, mean)}
	for i, c := range choices {
		if c.part == plan.NoReach {
			continue
		}
		s.cost += rows[i].cost(c, aim)
		o := rows[i].option(c.source)
		if !o.leave {
			s.moved++
		}
		if !proven(c) {
			s.unproven++
			continue
		}
		x := big.NewInt(o.p - t)
		s.squares.Add(s.squares, x.Mul(x, x))
	}
	s.squares.Add(s.squares, big.NewInt(5e11))
	s.squares.Quo(s.squares, big.NewInt(1e12))
	return s
}

func choicesAt(rows []twinRow, t int64, aim leveling.Aim) []twinPart {
	out := make([]twinPart, len(rows))
	for i := range rows {
		out[i] = rows[i].at(t, aim)
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
func twinLeastWork(w *plan.Window, rows []twinRow, aim leveling.Aim) (int64, twinScore) {
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
		for _, h := range r.h {
			cut(r.d-h, r.d+h)
		}
		for i, o := range r.all {
			cut(o.p-o.h, o.p+o.h)
			cut((o.p+r.d-1e9)>>1, (o.p+r.d+1e9)>>1) // where it is nearer than leave by 1 mm
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
			if proven(c) {
				ps = append(ps, rows[i].option(c.source).p)
			}
		}
		t := mean
		if ps != nil {
			t = twinMean(ps)
		}
		t = max(from, min(to, t))
		if s := twinScoreAt(rows, choices, t, mean, aim); best.squares == nil || s.compare(best) < 0 {
			best = s
		}
	}
	from, choices := cuts[0], choicesAt(rows, cuts[0], aim)
	for _, c := range cuts[1:] {
		if next := choicesAt(rows, c, aim); !slices.Equal(next, choices) {
			consider(from, c-1, choices)
			from, choices = c, next
		}
	}
	consider(from, far, choices)
	return best.t, best
}

// everyChoice calls f with every choice of one option in reach a row (stuck rows aside).
func everyChoice(rows []twinRow, f func(picked []twinOption, touched int)) {
	live := slices.DeleteFunc(slices.Clone(rows), func(r twinRow) bool { return len(r.all) == 0 })
	picked := make([]twinOption, len(live))
	var pick func(i, touched int)
	pick = func(i, touched int) {
		if i == len(live) {
			f(picked, touched)
			return
		}
		for _, o := range live[i].all {
			picked[i] = o
			if o.leave {
				pick(i+1, touched)
			} else {
				pick(i+1, touched+1)
			}
		}
	}
	pick(0, 0)
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

// within is the row's option in a window with its middle at t: leave where it lies in it, else the nearest of
// the window.
func (r *twinRow) within(low, high, t int64) twinOption {
	inside := func(o twinOption) bool { return low <= o.p && o.p <= high }
	if leave := r.leave(); leave != nil && inside(*leave) {
		return *leave
	}
	return *best(r.all, t, nearer, inside)
}

// twinClosest holds the middle of every choice to the window, if there is one, and counts the choice's
// spread about it; of equal spreads the one of fewest seconds of moves counts, then the lowest.
func twinClosest(w *plan.Window, rows []twinRow) (t int64, choices []twinPart) {
	var low, spread int64
	var seconds float64
	found := false
	moves := func(low, spread int64) float64 {
		sum := 0.0
		for i := range rows {
			if r := &rows[i]; len(r.all) > 0 {
				if o := r.within(low, low+spread, (2*low+spread)>>1); !o.leave {
					sum += o.seconds
				}
			}
		}
		return sum
	}
	tried := map[[2]int64]bool{}
	everyChoice(rows, func(picked []twinOption, _ int) {
		l, s := lowAndSpread(picked)
		if mid := (2*l + s) >> 1; w != nil && (mid < w.FromPm || mid > w.ToPm) {
			held := max(w.FromPm, min(w.ToPm, mid))
			away := max(dist(l, held), dist(l+s, held))
			l, s = held-away, 2*away
		}
		if found && s > spread || tried[[2]int64{l, s}] {
			return
		}
		tried[[2]int64{l, s}] = true
		if work := moves(l, s); !found || s < spread || work < seconds || work == seconds && l < low {
			low, spread, seconds, found = l, s, work, true
		}
	})
	t = (2*low + spread) >> 1
	choices = make([]twinPart, len(rows))
	for i := range rows {
		r := &rows[i]
		if len(r.all) == 0 {
			choices[i] = twinPart{plan.NoReach, -1, 0}
			continue
		}
		switch o := r.within(low, low+spread, t); {
		case o.leave:
			choices[i] = r.left(t)
		case o.h >= 0 && dist(o.p, t) <= o.h:
			choices[i] = twinPart{plan.Moved, o.source, 0}
		default:
			choices[i] = twinPart{plan.Nearest, o.source, 0}
		}
	}
	return t, choices
}

func twinTradeoff(rows []twinRow) []plan.TradeoffPoint {
	best := map[int]int64{}
	most := 0
	everyChoice(rows, func(picked []twinOption, touched int) {
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
		t, _ = twinLeastWork(p.Window, rows, p.Aim)
	}
	return t, choicesAt(rows, t, p.Aim)
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
		case r.matched || r.h[0] >= 0 && dist(r.d, t) <= r.h[0]:
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
		if g.ReadingsToSettle != c.readings {
			return fmt.Sprintf("row %d readings to settle %d, want %d", g.Row, g.ReadingsToSettle, c.readings)
		}
		ps, ds = append(ps, o.p), append(ds, r.d)
		if !o.leave {
			touched++
		} else if c.part == plan.Reread {
			reread++
		}
		seconds += r.work(c, p.Aim)
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
	if got.TouchedRows != touched || got.RereadRows != reread || got.WorkSeconds != seconds || math.Abs(got.ProvableToleranceMm-provable) > 1e-8 {
		return fmt.Sprintf("touched %d, read again %d, seconds %v, provable %v, want %d, %d, %v, %v",
			got.TouchedRows, got.RereadRows, got.WorkSeconds, got.ProvableToleranceMm, touched, reread, seconds, provable)
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
			ReadSeconds: pick(rng, 0, 5, 20, 20, 20, 30, 60.0),
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
		e := estimate.Estimate{DepthMm: 50 + depth(6), UncertaintyMm: u, Scale: 1, Readings: pick(rng, 1, 1, 2, 3, 18, 20, 25)}
		if u > 0 {
			e.Budget = estimate.Budget{LastingMm2: pick(rng, 0, 0.1, 0.9) * u * u}
			e.Budget.PerReadingMm2 = (u*u - e.Budget.LastingMm2) * float64(e.Readings)
			if rng.IntN(4) == 0 { // a floor, or a stay that began with something known
				e.Budget.FloorMm2 = 0.3 * u * u
				e.Budget.Prior = pick(rng, 0, 1, 3.0)
				e.UncertaintyMm = e.UncertaintyAfter(1)
			}
		}
		if rng.IntN(2) == 0 {
			e.ScaleSd = pick(rng, 0, 0.05, 0.2)
			e.Scale = pick(rng, 1, 0.5, 0.9, 1+0.2*rng.Float64())
			e.CovarianceMm = pick(rng, 0, 0.3, -0.3) * e.ScaleSd * u
		}
		row := plan.Row{Number: 10*i + rng.IntN(10), Group: rng.IntN(2), Mechanism: "m", Style: style, Estimate: e, BroughtNear: rng.IntN(8) == 0}
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
			if twice := rng.IntN(6) == 0; e != 0 && (twice || !slices.Contains(effects, e)) {
				effects = append(effects, e)
			}
		}
		if rng.IntN(8) > 0 {
			slices.Sort(effects)
		}
		up, down := 8+depth(8), 8+depth(8)
		mixed := rng.IntN(3) == 0 // options of a row that do not all take as long
		for j, e := range effects {
			o := leveling.Option{
				Leave: e == 0, EffectMm: e, Count: e, SettingAfter: leveling.JSON(fmt.Sprintf(`{"pin":%d}`, rng.IntN(99)-j)), TravelKnown: rng.IntN(20) > 0,
				ShallowerLeftMm: max(0, up+e), DeeperLeftMm: max(0, down-e),
			}
			if mixed {
				o.Seconds = pick(rng, 0, 20, 30, 45, 120.0)
			}
			row.Options = append(row.Options, o)
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
		best := twinScoreAt(rows, choicesAt(rows, found, p.Aim), found, mean, p.Aim)
		for range 200 {
			at := pico(50 + (rng.Float64()*2-1)*15)
			s := twinScoreAt(rows, choicesAt(rows, at, p.Aim), at, mean, p.Aim)
			s.away, s.t = best.away, best.t // of equally good datums some are no candidates
			if s.compare(best) < 0 {
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
