package plan

import (
	"fmt"
	"math"
	"slices"
	"sort"

	"rowdatum/server/leveling"
	"rowdatum/server/leveling/estimate"
)

// words says what a plan means to a technician, in the problem's voice.
type words struct {
	s   *solver
	out *Plan
	leveling.Voice
	*phrases
	within string // the tolerance: it is in every row's reason
}

func newWords(s *solver, out *Plan) words {
	w := words{s: s, out: out, Voice: s.Voice, phrases: catalogue.In(s.Voice.Language)}
	if s.Seeds {
		w.phrases = ofSeeds.In(s.Voice.Language).over(*w.phrases)
	}
	w.within = w.tolerance()
	return w
}

// reasons gives every row its reason.
func (w words) reasons() {
	for i := range w.s.rows {
		w.out.Rows[i].Why = w.why(&w.s.rows[i], &w.out.Rows[i])
	}
}

func (w words) why(r *row, o *RowPlan) string {
	switch {
	case r.matched:
		return fmt.Sprintf(w.matched, w.Length(o.EstimateMm))
	case o.Part == Left:
		return fmt.Sprintf(w.left, w.readsAt(o), w.sureOf(o.Chance))
	case o.Part == Moved:
		return fmt.Sprintf(w.moved, w.readsAt(o), w.whyNotLeft(r, o), w.brings(o), w.sureOf(o.PredictedChance))
	case o.Part == Reread:
		return fmt.Sprintf(w.reread, w.readAgain(o.ReadingsToSettle), w.readsAt(o), w.sureOf(o.Chance))
	case o.Part == Nearest && o.Option.Leave:
		return fmt.Sprintf(w.leftUneven, w.readsAt(o), w.sureOf(o.Chance), w.whyNotNearer(r, o))
	case o.Part == Nearest:
		return fmt.Sprintf(w.nearest, w.readsAt(o), w.brings(o), w.away(o.PredictedMm), w.sureOf(o.PredictedChance))
	}
	return fmt.Sprintf(w.stuck, w.Length(o.EstimateMm), w.season())
}

func (w words) readsAt(o *RowPlan) string {
	return fmt.Sprintf(w.reads, w.Length(o.EstimateMm), w.away(o.EstimateMm))
}

func (w words) away(depthMm float64) string {
	switch d := (toPm(depthMm) - toPm(w.out.DatumMm)).mm(); {
	case d > 0:
		return fmt.Sprintf(w.deeper, w.Length(d))
	case d < 0:
		return fmt.Sprintf(w.shallower, w.Length(-d))
	}
	return w.atDatum
}

func (w words) sureOf(chance float64) string {
	return fmt.Sprintf(w.sure, w.Percent(chance), w.within)
}

// tolerance is to a tenth of a mm beside measured lengths; in inches it may be finer than the ruling.
func (w words) tolerance() string {
	if w.PerInch > 0 {
		return w.Nominal(w.s.Aim.ToleranceMm)
	}
	return w.Length(w.s.Aim.ToleranceMm)
}

func (w words) whyNotLeft(r *row, o *RowPlan) string {
	switch {
	case r.leave < 0:
		return fmt.Sprintf(w.noTravel, w.season())
	case w.s.Aim.Kind == leveling.Closest:
		return w.widens
	}
	return fmt.Sprintf(w.leftSure, w.Percent(o.Chance), w.within)
}

func (w words) brings(o *RowPlan) string {
	way := w.bringsDeeper
	if o.Option.EffectMm < 0 {
		way = w.bringsShallower
	}
	return fmt.Sprintf(way, w.Nominal(math.Abs(o.Option.EffectMm)), w.Length(o.PredictedMm))
}

// whyNotNearer says why a row stays although it is not even. Only a row that is off, and that nothing brings
// nearer, is sent for worn parts.
func (w words) whyNotNearer(r *row, o *RowPlan) string {
	switch {
	case w.isUndecided(r, o):
		return fmt.Sprintf(w.undecided, w.decidable(r))
	case w.s.Aim.Kind == leveling.Closest:
		return w.smallestSpread
	case o.NoneNearer && w.pastReach(r, o):
		return fmt.Sprintf(w.heldBack, w.season())
	case o.NoneNearer:
		return w.nothingNearer
	case r.BroughtNear:
		return w.nearBefore
	}
	return fmt.Sprintf(w.notWorth, w.Nominal(worthMoving.mm()))
}

// isUndecided says whether a row that is left as not proven may be even: it is unsure, or off only because so
// uncertain an estimate is not likely to be anywhere.
func (w words) isUndecided(r *row, o *RowPlan) bool {
	away := (toPm(w.out.DatumMm) - r.depth).abs()
	return o.Part == Nearest && o.Option.Leave && (o.Verdict == leveling.Unsure || away <= toPm(w.s.Aim.ToleranceMm))
}

// decidable is the smallest tolerance, in round steps, at which further readings could prove a row even.
func (w words) decidable(r *row) string {
	const tenth = 0.1
	step := tenth
	if w.PerInch > 0 {
		step = 25.4 / 32
	}
	u := r.sdWith(r.Estimate.UncertaintyAfter(w.most(r)))
	away := (toPm(w.out.DatumMm) - r.depth).abs()
	steps := sort.Search(1<<20, func(n int) bool {
		return away <= halfWidth(new(estimate.NewAcceptance(max(1, float64(n))*step, w.s.Aim.RowConfidence(w.s.live))), u)
	})
	return w.Nominal(float64(steps) * step)
}

// most is how many further readings of a row are worth talking about.
func (w words) most(r *row) int { return max(0, estimate.MostReadings-r.Estimate.Readings) }

// pastReach says whether only the season's travel keeps a row that is left from an option nearer the datum.
func (w words) pastReach(r *row, o *RowPlan) bool {
	away := func(depthMm float64) pm { return (toPm(depthMm) - toPm(w.out.DatumMm)).abs() }
	for _, option := range r.Options {
		if away(r.Estimate.DepthMm+r.Estimate.Scale*option.EffectMm) < away(o.PredictedMm) {
			return true
		}
	}
	return false
}

func (w words) season() string {
	return fmt.Sprintf(w.travel, w.Nominal(w.s.Reach.ShallowerMm), w.Nominal(w.s.Reach.DeeperMm))
}

func (w words) readAgain(readings int) string {
	if readings == 1 {
		return w.again
	}
	return fmt.Sprintf(w.againMany, readings)
}

// cautions says what to mind about the plan as a whole.
func (w words) cautions() {
	var stuck, worn, off, near, unknown, trimmed []int
	reach := w.s.Reach != leveling.Reach{}
	for i := range w.s.rows {
		r, o := &w.s.rows[i], &w.out.Rows[i]
		left := o.Part == Nearest && o.Option.Leave
		switch {
		case r.Stays: // its reason says all
		case o.Part == NoReach:
			stuck = append(stuck, o.Row)
		case w.isUndecided(r, o): // undecidable tells, or provable
		case left && (o.NoneNearer || w.s.Aim.Kind == leveling.Closest):
			worn = append(worn, o.Row)
		case left:
			off = append(off, o.Row)
		case o.Part == Nearest:
			near = append(near, o.Row)
		}
		if r.Style.SetsPlantingDepth && r.Setting == "" {
			unknown = append(unknown, o.Row)
		}
		if !r.Style.SetsPlantingDepth && reach {
			trimmed = append(trimmed, o.Row)
		}
	}
	if w.s.live == 0 && len(stuck) > 0 {
		w.caution(fmt.Sprintf(w.noneReaches, w.season(), w.stuckDatum()))
	} else {
		w.rows(stuck, fmt.Sprintf(w.stuckRows, w.season()))
	}
	w.readFirstRow()
	w.rows(worn, fmt.Sprintf(w.wornRows, w.whyWorn()))
	w.rows(off, w.offRows)
	w.undecidable()
	w.rows(near, w.nearRows)
	w.provable()
	w.confidenceOfPlanter()
	w.coarseRuling()
	w.rows(unknown, w.unknownRows)
	w.rows(trimmed, w.trimmedRows)
	for _, n := range w.s.ReferenceRows {
		if !w.keepsMarks(n) {
			w.caution(fmt.Sprintf(w.noReference, n))
		}
	}
}

// undecidable names the rows that readings could prove at the tolerance, but not where they lie, each tolerance
// that would do with its rows.
func (w words) undecidable() {
	var rows []int
	would := ""
	tell := func() { w.rows(rows, fmt.Sprintf(w.undecidedRows, would)) }
	for i := range w.s.rows {
		r, o := &w.s.rows[i], &w.out.Rows[i]
		hopeless := r.half == none && len(r.rings) == 0 // provable tells
		if hopeless || r.Stays || !w.isUndecided(r, o) {
			continue
		}
		if d := w.decidable(r); d != would {
			tell()
			rows, would = nil, d
		}
		rows = append(rows, o.Row)
	}
	tell()
}

// readFirstRow asks for further readings of the row that the others are brought to.
func (w words) readFirstRow() {
	for i := range w.s.rows {
		r := &w.s.rows[i]
		if !r.matched {
			continue
		}
		switch n := MatchReadings(r.Estimate, w.s.Aim); n {
		case 0:
		case 1:
			w.rows([]int{r.Number}, w.readFirstOnce)
		default:
			w.rows([]int{r.Number}, fmt.Sprintf(w.readFirst, n))
		}
	}
}

// MatchReadings is how many more readings of a row are asked for before other rows are brought to it: until
// it could prove half the tolerance, four readings at most.
func MatchReadings(e estimate.Estimate, aim leveling.Aim) int {
	const most = 4
	for n := 0; ; n++ {
		if e.Readings+n >= most || 2*estimate.ProvableTolerance(e.UncertaintyAfter(n), aim.Confidence) <= aim.ToleranceMm {
			return n
		}
	}
}

// confidenceOfPlanter says what confidence about all rows together asks of each.
func (w words) confidenceOfPlanter() {
	aim := &w.s.Aim
	if aim.ConfidenceOf == leveling.OfPlanter && w.s.live > 1 {
		w.caution(fmt.Sprintf(w.ofPlanter, w.s.live, w.within, w.Percent(aim.Confidence), w.Percent(aim.RowConfidence(w.s.live))))
	}
}

// coarseRuling says where the fixture is ruled coarser than the tolerance, and which ruling would do.
func (w words) coarseRuling() {
	tolerance := toPm(w.s.Aim.ToleranceMm)
	if w.s.ResolutionMm <= 0 || toPm(w.s.ResolutionMm) <= tolerance {
		return
	}
	finer := w.s.ResolutionMm
	for toPm(finer) > tolerance {
		finer /= 2
	}
	w.caution(fmt.Sprintf(w.coarse, w.Nominal(w.s.ResolutionMm), w.Nominal(w.s.Aim.ToleranceMm), w.Nominal(finer)))
}

func (w words) whyWorn() string {
	if w.s.Aim.Kind == leveling.Closest {
		return w.wornClosest
	}
	return w.wornOut
}

func (w words) stuckDatum() string {
	if w.s.Aim.Kind == leveling.SetDepth {
		return w.askedDepth
	}
	return w.meanOfReadings
}

func (w words) keepsMarks(number int) bool {
	return slices.ContainsFunc(w.s.rows, func(r row) bool { return r.Number == number && r.Style.KeepsMarks })
}

// provable says where the readings cannot prove the tolerance, and what would.
func (w words) provable() {
	var never, hardly, more []int
	most, now, worst, after := 0, 0.0, 0.0, 0.0
	for i := range w.s.rows {
		r := &w.s.rows[i]
		proven := func(u float64) bool { return w.s.accept.ProvableTolerance(r.sdWith(u)) <= w.s.Aim.ToleranceMm }
		switch {
		case r.stuck(), r.matched, proven(r.Estimate.UncertaintyMm):
			continue
		case !proven(r.Estimate.Least()):
			never = append(never, r.Number)
			worst = max(worst, w.s.accept.ProvableTolerance(r.sdWith(r.Estimate.Least())))
			continue
		case !proven(r.Estimate.UncertaintyAfter(w.most(r))):
			hardly = append(hardly, r.Number)
			after = max(after, w.s.accept.ProvableTolerance(r.sdWith(r.Estimate.UncertaintyAfter(w.most(r)))))
			continue
		}
		more = append(more, r.Number)
		now = max(now, w.s.accept.ProvableTolerance(r.sd()))
		n := 1
		for !proven(r.Estimate.UncertaintyAfter(n)) {
			n++
		}
		most = max(most, n)
	}
	wanted := w.Fine(w.s.Aim.ToleranceMm)
	if most == 1 {
		w.rows(more, fmt.Sprintf(w.needOneMore, w.Fine(now), wanted))
	} else {
		w.rows(more, fmt.Sprintf(w.needMore, w.Fine(now), wanted, most))
	}
	w.rows(hardly, fmt.Sprintf(w.hardly, estimate.MostReadings, wanted, w.Fine(after)))
	w.rows(never, fmt.Sprintf(w.never, wanted, w.Fine(worst)))
}

// unmarked names the rows of a group that carry no mark.
func (w words) unmarked(notEven, unknown, strange []int) {
	w.rows(notEven, w.unmarkedNotEven)
	w.rows(unknown, w.unmarkedUnknown)
	w.rows(strange, w.unmarkedStrange)
}

func (w words) countedFrom(named, taken int) { w.caution(fmt.Sprintf(w.otherReference, named, taken)) }

func (w words) caution(what string) { w.out.Cautions = append(w.out.Cautions, what) }

// rows adds a caution about some rows, if there are any.
func (w words) rows(rows []int, what string) {
	if len(rows) > 0 {
		w.caution(fmt.Sprintf(w.about, w.RowList(rows), what))
	}
}

// SurpriseCaution says that a reading of a row looks wrong.
func SurpriseCaution(v leveling.Voice, row int, s estimate.Surprise) string {
	p := catalogue.In(v.Language)
	if s.Lonely {
		return fmt.Sprintf(p.farFromOthers, row, v.Length(s.ReadingMm), v.Length(s.OthersMm))
	}
	return fmt.Sprintf(p.disagrees, row, s.Reading+1, v.Length(s.ReadingMm), v.Length(s.OthersMm))
}
