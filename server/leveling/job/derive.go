package job

import (
	"cmp"
	"math"
	"slices"

	"rowdatum/server/leveling"
	"rowdatum/server/leveling/alike"
	"rowdatum/server/leveling/estimate"
	"rowdatum/server/leveling/plan"
)

// pico rounds a length to whole picometres: what decides is compared as integers, as in package plan.
func pico(mm float64) int64 {
	const limit = 1e14 // 100 m: off every planter
	return int64(max(-limit, min(limit, math.RoundToEven(mm*1e9))))
}

// deriver works out what follows from the rows' logs.
type deriver struct {
	*State
	gate   estimate.Gate
	own    estimate.Budget // of the fixture by its own figures: what counts goes by it
	budget estimate.Budget // of the fixture with its pooled repeatability
	accept estimate.Acceptance
	joined float64 // variance that the aim joins to every row's
	widths map[float64]widths
	found  []float64 // as-found depths, sorted
}

// widths are what an uncertainty allows: how far a datum may be for the row to be even, -1 where it never
// is, and how far it must be for the row to be off.
type widths struct{ half, off int64 }

func newDeriver(s *State, g estimate.Gate, own, pooled estimate.Budget) *deriver {
	d := &deriver{
		State: s, gate: g, own: own, budget: pooled,
		accept: estimate.NewAcceptance(s.Aim.ToleranceMm, s.confidence()), widths: map[float64]widths{},
	}
	switch {
	case s.Issued == nil:
	case s.Aim.Kind == leveling.SetDepth:
		d.joined = s.Aim.ZeroUncertaintyMm * s.Aim.ZeroUncertaintyMm
	case s.Aim.Kind == leveling.MatchRow:
		if i := s.index(s.Aim.Row); i >= 0 {
			u := s.planRow(i).UncertaintyMm
			d.joined = u * u
		}
	}
	for _, l := range s.rows {
		if first := l.stays[0].mean; first.Readings > 0 {
			d.found = append(d.found, first.MeanMm)
		}
	}
	slices.Sort(d.found)
	return d
}

// with returns the widths of uncertainty u, the aim's not yet joined.
func (d *deriver) with(u float64) widths {
	w, ok := d.widths[u]
	if !ok {
		u := d.join(u)
		w = widths{-1, pico(d.accept.OffDistance(u))}
		if h, ok := d.accept.HalfWidth(u); ok {
			w.half = pico(h)
		}
		d.widths[u] = w
	}
	return w
}

func (d *deriver) join(u float64) float64 { return math.Sqrt(u*u + d.joined) }

// verdict is that on a depth of uncertainty u at the job's datum.
func (d *deriver) verdict(depthMm, u float64) leveling.Verdict {
	away, w := d.away(depthMm), d.with(u)
	switch {
	case away <= w.half:
		return leveling.Even
	case away >= w.off:
		return leveling.Off
	}
	return leveling.Unsure
}

// away is how far a depth is from the datum.
func (d *deriver) away(depthMm float64) int64 {
	a := pico(*d.DatumMm) - pico(depthMm)
	return max(a, -a)
}

// rows derives every row's state.
func (d *deriver) rows() {
	d.Rows = make([]RowState, len(d.State.rows))
	for i, l := range d.State.rows {
		d.row(&d.Rows[i], i, l)
	}
	d.Alike = d.alike()
	d.fromOthers()
	d.steps()
}

// alike looks, once every row was read as found, for rows that read unlike the rest together.
func (d *deriver) alike() *alike.Finding {
	p := alike.Problem{Sections: d.Opened.Planter.Sections, RulingMm: d.Opened.Fixture.Figures.ResolutionMm}
	for i := range d.Rows {
		found := d.Rows[i].AsFound
		if found == nil {
			return nil
		}
		p.Rows = append(p.Rows, alike.Row{Number: d.Rows[i].Row, DepthMm: found.Mm, Rank: d.State.rows[i].planter.Rank})
	}
	return alike.Find(p)
}

// fromOthers sets how far each row is from the middle of the others.
func (d *deriver) fromOthers() {
	var known []int
	for i := range d.Rows {
		if d.Rows[i].Known {
			known = append(known, i)
		}
	}
	if len(known) < 2 {
		return
	}
	depth := func(i int) float64 { return d.Rows[i].Estimate.DepthMm }
	slices.SortFunc(known, func(a, b int) int { return cmp.Or(cmp.Compare(depth(a), depth(b)), a-b) })
	others := len(known) - 1
	for place, i := range known {
		at := func(k int) float64 { // the k-th of the others
			if k >= place {
				k++
			}
			return depth(known[k])
		}
		away := depth(i) - (at((others-1)/2)+at(others/2))/2
		d.Rows[i].FromOthersMm = &away
	}
}

func (d *deriver) row(r *RowState, i int, l *rowLog) {
	now := &l.stays[len(l.stays)-1]
	track := l.follow(d.budget)
	*r = RowState{
		Row: l.planter.Number, Mechanism: l.planter.Mechanism, Setting: l.setting(), LastMove: l.since(), Moved: l.lastMove() != nil,
		AsFound: l.asFound(d.budget), Known: track.Known(), Estimate: track.Estimate(), Measured: now.mean.Readings > 0,
		SideDifferenceMm: now.sides, LeftOut: now.leftOut,
	}
	if d.DatumMm == nil || !r.Known {
		return
	}
	e := &r.Estimate
	away := e.DepthMm - *d.DatumMm
	r.FromDatumMm = &away
	r.Verdict = d.verdict(e.DepthMm, e.UncertaintyMm)
	p := estimate.Chance(float64(d.away(e.DepthMm))/1e9, d.join(e.UncertaintyMm), d.Aim.ToleranceMm)
	r.Chance = math.Round(max(0, min(1, p))*1e9) / 1e9
	switch p := d.planRow(i); {
	case p.Part == plan.NoReach && r.LastMove == d.plannedAt[i]:
		r.Verdict = leveling.Stuck
		return
	case d.Aim.Kind == leveling.MatchRow && d.Aim.Row == r.Row && pico(e.DepthMm) == pico(*d.DatumMm):
		r.Verdict, r.Chance = leveling.Even, 1 // the row that the others are brought to
	case r.Verdict != leveling.Even:
		r.ReadingsToSettle = d.readingsToSettle(e)
		r.undecided = d.undecided(r, i)
	}
	d.even(r, l, &track)
}

// even sets the range of the next reading that would make the row even. It is promised only where that is
// the first of its stay: one that waits may be proven right by the next, and further readings of one stay also
// say how much readings scatter. No number of it is refused as a depth that no row has.
func (d *deriver) even(r *RowState, l *rowLog, t *estimate.Track) {
	half := d.with(t.UncertaintyOf(1)).half
	if half < 0 || len(l.stays[len(l.stays)-1].readings) > 0 {
		return
	}
	const inside = 1e-6 // mm: less than a rounding never takes a number out of the range
	h := float64(half)/1e9 - inside
	low, high, _ := d.gate.Limits(l.follow(d.own))
	e := Range{
		max(t.MeanFor(*d.DatumMm-h, 1), low+inside, leveling.MinDepthMm+inside),
		min(t.MeanFor(*d.DatumMm+h, 1), high-inside, leveling.MaxDepthMm-inside),
	}
	if e.FromMm <= e.ToMm {
		a, b := d.Opened.Fixture.NumberMm(e.FromMm), d.Opened.Fixture.NumberMm(e.ToMm)
		r.Even, r.EvenNumber = &e, &Range{min(a, b), max(a, b)}
	}
}

// readingsToSettle is the fewest further readings that prove a row even if its depth stays; 0 where none do.
func (d *deriver) readingsToSettle(e *estimate.Estimate) int {
	away := d.away(e.DepthMm)
	for n := 1; n <= estimate.MostReadings-e.Readings; n++ {
		if away <= d.with(e.UncertaintyAfter(n)).half {
			return n
		}
	}
	return 0
}

// undecided says whether a row that is not even may be so all the same, and whether the fixture cannot say:
// no further readings prove it, and the last plan can do nothing for it, or nothing is provable at any depth.
func (d *deriver) undecided(r *RowState, i int) bool {
	p, e := d.planRow(i), &r.Estimate
	mayBe := r.Verdict == leveling.Unsure || d.away(e.DepthMm) <= pico(d.Aim.ToleranceMm)
	helpless := p.Part == plan.Nearest && p.Option.Leave && r.LastMove == d.plannedAt[i]
	most := e.UncertaintyAfter(max(0, estimate.MostReadings-e.Readings))
	return mayBe && r.ReadingsToSettle == 0 && (helpless || d.with(most).half < 0)
}

// wholeJob derives what is said of the job as a whole.
func (d *deriver) wholeJob() {
	d.SpreadMm, d.ProvableToleranceMm = nil, nil
	var known []float64
	provable := 0.0
	for i := range d.Rows {
		if r := &d.Rows[i]; r.Known {
			known = append(known, r.Estimate.DepthMm)
			provable = max(provable, d.accept.ProvableTolerance(d.join(r.Estimate.UncertaintyMm)))
		}
	}
	if len(known) > 0 {
		d.ProvableToleranceMm = &provable
	}
	if len(known) > 1 {
		spread := slices.Max(known) - slices.Min(known)
		d.SpreadMm = &spread
	}
	d.inForce()
	d.marks()
	d.exceptions()
	d.worth()
}

// inForce gathers ticks, inspections and notes that stand.
func (d *deriver) inForce() {
	d.Cautions, d.Inspections, d.Notes = nil, nil, nil
	for _, c := range (leveling.Voice{}).Cautions() {
		d.Cautions = append(d.Cautions, CautionState{ID: c.ID})
	}
	for _, e := range d.log {
		switch {
		case e.struckBy > 0:
		case e.Tick != nil:
			for i := range d.Cautions {
				if c := &d.Cautions[i]; c.ID == e.Tick.Caution && c.Person == "" {
					c.Person, c.TickTime = e.Person, e.CreateTime
				}
			}
		case e.Inspection != nil:
			d.inspected(*e.Inspection)
		case e.Note != nil:
			d.Notes = append(d.Notes, *e.Note)
		}
	}
	slices.SortStableFunc(d.Inspections, func(a, b Inspection) int {
		return cmp.Or(cmp.Compare(a.Row, b.Row), cmp.Compare(a.Point, b.Point))
	})
}

// inspected notes an inspection; a later one of the same point takes the place of an earlier one.
func (d *deriver) inspected(in Inspection) {
	i := slices.IndexFunc(d.Inspections, func(old Inspection) bool { return old.Row == in.Row && old.Point == in.Point })
	if i < 0 {
		d.Inspections = append(d.Inspections, in)
		return
	}
	d.Inspections[i] = in
}

// marks keeps the marks of the groups in which every marked row stands where the last plan puts it. Rows
// that turned out not to be even carry none.
func (d *deriver) marks() {
	d.Marks = nil
	if d.Issued == nil {
		return
	}
	for _, m := range d.Issued.Plan.Marks {
		stands := true
		kept := plan.MechanismMarks{Mechanism: m.Mechanism, ReferenceRow: m.ReferenceRow}
		for _, mark := range m.Rows {
			i := d.index(mark.Row)
			r, p := &d.Rows[i], d.planRow(i)
			stands = stands && r.Setting == p.Option.SettingAfter && r.Known
			if r.Verdict == leveling.Even || r.Row == m.ReferenceRow {
				mark.ResidualMm = float64(pico(r.Estimate.DepthMm)-pico(*d.DatumMm)) / 1e9
				kept.Rows = append(kept.Rows, mark)
			}
		}
		if stands && len(kept.Rows) > 1 {
			d.Marks = append(d.Marks, kept)
		}
	}
}

// exceptions gives the rows of a signed job the reasons that they were signed with.
func (d *deriver) exceptions() {
	if d.Signature == nil {
		return
	}
	for i := range d.Rows {
		if d.need(i) != needNothing {
			d.Rows[i].Exception = d.excepted(i, d.Signature.Exceptions)
		}
	}
}

// excepted is the reason of the exception that covers the row at an index: its own before the common one,
// which covers no row that is still to be read.
func (s *State) excepted(i int, all []Exception) string {
	r, common := &s.Rows[i], ""
	for _, x := range all {
		switch {
		case x.Unproven && r.undecided && s.need(i) == needPart:
			common = x.Reason
		case !x.Unproven && x.Row == r.Row:
			return x.Reason
		}
	}
	return common
}
