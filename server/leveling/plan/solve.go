package plan

import (
	"cmp"
	"math"
	"slices"
	"sync"

	"rowdatum/server/leveling"
	"rowdatum/server/leveling/estimate"
)

// Planner computes plans, side by side if need be; the zero value is ready. It keeps the room that a search takes
// for the next one, and nothing of any problem.
type Planner struct{ solvers sync.Pool }

// Compute is the package's function.
func (l *Planner) Compute(p Problem) Plan {
	s, ok := l.solvers.Get().(*solver)
	if !ok {
		s = new(solver)
	}
	defer l.solvers.Put(s)
	defer s.forget()
	s.prepare(&p)
	return s.compute()
}

// Compute finds the plan and all that is said about it.
func Compute(p Problem) Plan { return newSolver(&p).compute() }

func (s *solver) compute() Plan {
	out := s.solve()
	out.Tradeoff = s.tradeoff()
	s.worth(&out)
	w := newWords(s, &out)
	w.reasons()
	w.cautions()
	w.marks()
	return out
}

// Solve finds the plan alone: no trade-off, no marks, no words.
func Solve(p Problem) Plan { return newSolver(&p).solve() }

// solver holds one problem prepared for the search, and rooms that are used again.
type solver struct {
	*Problem
	settler
	rows            []row // by rising number
	live            int   // how many rows are not stuck
	miss            micros
	read            micros
	mean            pm // of the estimates of rows that are not stuck, of all if all are
	rings           rings
	options         []option
	pieces          []piece
	scratch         []piece
	starts          []int // where each row's own run of pieces starts
	places, sorting []place
	ends            []end
	held            []int32 // by row: options in the window
	windows         []window
	narrowest       []pm
}

func newSolver(p *Problem) *solver {
	s := new(solver)
	s.prepare(p)
	return s
}

// prepare takes up a problem.
func (s *solver) prepare(p *Problem) {
	s.Problem = p
	s.widest = toPm(p.Aim.ToleranceMm)
	s.live, s.miss, s.read = 0, toMicros(p.Aim.MissSeconds), toMicros(p.Aim.ReadSeconds)
	s.rows = slices.Grow(s.rows[:0], len(p.Rows))
	s.pieces, s.scratch = slices.Grow(s.pieces[:0], 4*len(p.Rows)), slices.Grow(s.scratch[:0], 4*len(p.Rows))
	s.starts = slices.Grow(s.starts[:0], len(p.Rows)+1)
	options := 0
	for i := range p.Rows {
		s.rows = append(s.rows, row{Row: &p.Rows[i]})
		options += len(p.Rows[i].Options)
	}
	slices.SortFunc(s.rows, func(a, b row) int { return cmp.Compare(a.Number, b.Number) })
	s.join()
	s.options = slices.Grow(s.options[:0], options)
	room := s.options
	for i := range s.rows {
		r := &s.rows[i]
		room = r.prepare(p.Reach, room)
		if !r.stuck() {
			s.live++
		}
	}
	s.accept = estimate.NewAcceptance(p.Aim.ToleranceMm, p.Aim.RowConfidence(s.live))
	s.rings.begin()
	for i := range s.rows {
		s.rows[i].judge(&s.accept)
		s.rows[i].rings = s.rings.of(&s.rows[i], &s.accept, s.read)
	}
	s.mean = s.meanEstimate()
}

// forget lets go of the problem.
func (s *solver) forget() {
	s.Problem = nil
	clear(s.rows)
}

// join adds what the aim adds to every row's variance.
func (s *solver) join() {
	joined := 0.0
	switch s.Aim.Kind {
	case leveling.SetDepth:
		joined = s.Aim.ZeroUncertaintyMm * s.Aim.ZeroUncertaintyMm
	case leveling.MatchRow:
		for i := range s.rows {
			if r := &s.rows[i]; r.Number == s.Aim.Row {
				r.matched = true
				joined = r.Estimate.UncertaintyMm * r.Estimate.UncertaintyMm
			}
		}
	}
	for i := range s.rows {
		if !s.rows[i].matched {
			s.rows[i].joined = joined
		}
	}
}

func (s *solver) meanEstimate() pm {
	var sum pm
	n := 0
	for i := range s.rows {
		if r := &s.rows[i]; !r.stuck() || s.live == 0 {
			sum += r.depth
			n++
		}
	}
	if n == 0 {
		return 0
	}
	return meanPm(sum, n)
}

func (s *solver) solve() Plan {
	switch {
	case s.Aim.Kind == leveling.SetDepth:
		return s.settled(toPm(*s.Aim.DatumMm))
	case s.live == 0:
		return s.settled(s.mean)
	case s.Aim.Kind == leveling.MatchRow:
		return s.settled(s.matchedDepth())
	case s.Aim.Kind == leveling.Closest:
		return s.closest()
	}
	return s.settled(s.leastWork())
}

func (s *solver) matchedDepth() pm {
	for i := range s.rows {
		if s.rows[i].matched {
			return s.rows[i].depth
		}
	}
	return s.mean
}

// settled is the plan at datum t with every row's part by the rule.
func (s *solver) settled(t pm) Plan {
	for i := range s.rows {
		s.rows[i].now = s.at(i, t)
	}
	return s.plan(t)
}

// at is row i's part at datum t.
func (s *solver) at(i int, t pm) choice {
	r := &s.rows[i]
	if r.stuck() {
		return choice{NoReach, 0, -1}
	}
	if r.matched {
		return choice{Left, 0, int32(r.leave)}
	}
	s.scratch = s.settle(s.scratch[:0], r, int32(i), t, t)
	return s.scratch[0].choice
}

// plan writes out the rows' choices at datum t.
func (s *solver) plan(t pm) Plan {
	out := Plan{Aim: s.Aim, DatumMm: t.mm(), Rows: make([]RowPlan, len(s.rows))}
	var before, after extent
	for i := range s.rows {
		r, o := &s.rows[i], &out.Rows[i]
		s.planRow(o, r, t)
		if r.stuck() {
			continue
		}
		before.add(r.depth)
		after.add(r.options[r.now.option].depth)
		if !o.Option.Leave {
			out.TouchedRows++
		} else if o.Part == Reread {
			out.RereadRows++
		}
		out.WorkSeconds += s.work(r, r.now).seconds()
		if !r.matched {
			out.ProvableToleranceMm = max(out.ProvableToleranceMm, s.accept.ProvableTolerance(r.sd()))
		}
	}
	out.SpreadBeforeMm, out.SpreadAfterMm = before.width().mm(), after.width().mm()
	out.ProvableToleranceMm = toPm(out.ProvableToleranceMm).mm()
	return out
}

func (s *solver) planRow(o *RowPlan, r *row, t pm) {
	*o = RowPlan{
		Row: r.Number, EstimateMm: r.depth.mm(), UncertaintyMm: r.Estimate.UncertaintyMm,
		Verdict: r.verdict(t), Chance: s.chance(t-r.depth, r.sd()), Part: r.now.part,
	}
	if r.stuck() {
		return
	}
	choice := r.options[r.now.option]
	o.Option, o.PredictedMm = r.Options[choice.source], choice.depth.mm()
	o.PredictedChance = s.chance(t-choice.depth, r.predictedSd(int(r.now.option)))
	if r.matched { // even by definition
		o.Chance, o.PredictedChance = 1, 1
	}
	o.ReadingsToSettle = int(r.now.readings)
	if o.Part == Nearest && o.Option.Leave {
		o.NoneNearer = (t - r.options[r.nearest(t)].depth).abs() >= (t - r.depth).abs()
	}
}

// chance is rounded to 1e-9, so that processors agree.
func (s *solver) chance(away pm, u float64) float64 {
	p := estimate.Chance(away.mm(), u, s.Aim.ToleranceMm)
	return math.Round(max(0, min(1, p))*1e9) / 1e9
}

// extent is the range of some depths.
type extent struct {
	low, high pm
	any       bool
}

func (e *extent) add(p pm) {
	if !e.any {
		*e = extent{p, p, true}
	}
	e.low, e.high = min(e.low, p), max(e.high, p)
}

func (e extent) width() pm { return e.high - e.low }
