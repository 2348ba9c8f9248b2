package plan

import (
	"fmt"
	"math"
	"slices"
	"strconv"

	"rowdatum/server/leveling"
	"rowdatum/server/leveling/estimate"
)

// words says what a plan means to a technician. Every sentence of this package stands in this file.
type words struct {
	s   *solver
	out *Plan
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
		return fmt.Sprintf("left alone: reads %s mm, and the other rows are brought to it", leveling.Mm(o.EstimateMm))
	case o.Part == Left:
		return fmt.Sprintf("left alone: %s, %s", w.reads(o), w.sure(o.Chance))
	case o.Part == Moved:
		return fmt.Sprintf("moved: %s; %s; %s, %s", w.reads(o), w.whyNotLeft(r, o), w.brings(o), w.sure(o.PredictedChance))
	case o.Part == Reread:
		return fmt.Sprintf("read again: %s, %s, so these readings cannot say whether it is even; %s", w.reads(o), w.sure(o.Chance), settling(o.ReadingsToSettle))
	case o.Part == Nearest && o.Option.Leave:
		return fmt.Sprintf("left although not even: %s, %s; %s", w.reads(o), w.sure(o.Chance), w.nothingNearer(r, o))
	case o.Part == Nearest:
		return fmt.Sprintf("moved as near as it goes: %s; %s, which leaves it %s, %s", w.reads(o), w.brings(o), w.away(o.PredictedMm), w.sure(o.PredictedChance))
	}
	return fmt.Sprintf("stuck: reads %s mm, and none of its settings leaves %s; look for worn or wrong parts, or ask for less travel", leveling.Mm(o.EstimateMm), w.travel())
}

func (w words) reads(o *RowPlan) string {
	return fmt.Sprintf("reads %s mm, %s", leveling.Mm(o.EstimateMm), w.away(o.EstimateMm))
}

func (w words) away(depthMm float64) string {
	switch d := (toPm(depthMm) - toPm(w.out.DatumMm)).mm(); {
	case d > 0:
		return leveling.Mm(d) + " mm deeper than the datum"
	case d < 0:
		return leveling.Mm(-d) + " mm shallower than the datum"
	}
	return "right at the datum"
}

func (w words) sure(chance float64) string {
	return fmt.Sprintf("%s sure to be within %s mm of the datum", leveling.Percent(chance), leveling.Mm(w.s.Aim.ToleranceMm))
}

func (w words) whyNotLeft(r *row, o *RowPlan) string {
	switch {
	case r.leave < 0:
		return "where it stands it does not leave " + w.travel()
	case w.s.Aim.Kind == leveling.Closest:
		return "left there it would widen the spread"
	}
	return fmt.Sprintf("left there it would be %s sure to be within %s mm", leveling.Percent(o.Chance), leveling.Mm(w.s.Aim.ToleranceMm))
}

func (w words) brings(o *RowPlan) string {
	way := "deeper"
	if o.Option.EffectMm < 0 {
		way = "shallower"
	}
	return fmt.Sprintf("%s mm %s brings it to %s mm", leveling.Nominal(math.Abs(o.Option.EffectMm)), way, leveling.Mm(o.PredictedMm))
}

func (w words) nothingNearer(r *row, o *RowPlan) string {
	if w.s.Aim.Kind == leveling.Closest {
		return "it lies within the smallest spread that all rows can reach"
	}
	if r.half == none {
		return "readings as uncertain as these prove no row even at any depth: read it again, or take a finer fixture or a wider tolerance"
	}
	if w.heldBack(r, o) {
		return fmt.Sprintf("a further setting would bring it nearer, but not leave %s; look for worn parts, or ask for less travel", w.travel())
	}
	return "no setting brings it nearer: look for worn parts"
}

// heldBack says whether only the season's travel keeps a row that is left from an option nearer the datum.
func (w words) heldBack(r *row, o *RowPlan) bool {
	away := func(depthMm float64) pm { return (toPm(depthMm) - toPm(w.out.DatumMm)).abs() }
	for _, option := range r.Options {
		if away(r.Estimate.DepthMm+r.Estimate.Scale*option.EffectMm) < away(o.PredictedMm) {
			return true
		}
	}
	return false
}

func (w words) travel() string {
	return fmt.Sprintf("%s mm of travel towards shallower and %s mm towards deeper for the season", leveling.Nominal(w.s.Reach.ShallowerMm), leveling.Nominal(w.s.Reach.DeeperMm))
}

func settling(readings int) string {
	switch readings {
	case 0:
		return fmt.Sprintf("not even %d more would settle it, if they agree with these", mostReadings)
	case 1:
		return "1 more reading settles it, if it agrees with these"
	}
	return fmt.Sprintf("%d more readings settle it, if they agree with these", readings)
}

// cautions says what to mind about the plan as a whole.
func (w words) cautions() {
	var stuck, worn, near, unknown, trimmed []int
	reach := w.s.Reach != leveling.Reach{}
	for i := range w.s.rows {
		r, o := &w.s.rows[i], &w.out.Rows[i]
		switch {
		case o.Part == NoReach:
			stuck = append(stuck, o.Row)
		case o.Part == Nearest && o.Option.Leave && r.half == none: // provable tells
		case o.Part == Nearest && o.Option.Leave:
			worn = append(worn, o.Row)
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
		w.caution("No row can be brought to a setting that leaves %s, so the datum is only %s.", w.travel(), w.stuckDatum())
	} else {
		w.about(stuck, "stuck, not counted in the spread; no setting leaves "+w.travel()+".")
	}
	w.about(worn, "not even, and "+w.whyWorn())
	w.about(near, "not proven even after the move; each row says what remains. Measure again.")
	w.provable()
	w.about(unknown, "nobody has said where the mechanism stands, so the travel left was not checked and the setting afterwards is not known.")
	w.about(trimmed, "this mechanism only trims the row, so the travel left for planting depth was not checked here.")
	for _, n := range w.s.ReferenceRows {
		if !w.keepsMarks(n) {
			w.caution("Row %d was named to count marks from, but it is not a row that keeps marks.", n)
		}
	}
}

func (w words) whyWorn() string {
	if w.s.Aim.Kind == leveling.Closest {
		return "the smallest spread that all rows can reach leaves it so."
	}
	return "no setting in reach helps; look for worn parts before the season."
}

func (w words) stuckDatum() string {
	if w.s.Aim.Kind == leveling.SetDepth {
		return "the depth that was asked for"
	}
	return "the mean of the readings"
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
		case !proven(r.Estimate.UncertaintyAfter(mostReadings)):
			hardly = append(hardly, r.Number)
			after = max(after, w.s.accept.ProvableTolerance(r.sdWith(r.Estimate.UncertaintyAfter(mostReadings))))
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
	w.about(more, "these readings can prove "+leveling.Hundredths(now)+" mm at best, and "+leveling.Hundredths(w.s.Aim.ToleranceMm)+
		" mm is wanted; "+plural(most, "more reading", "more readings")+" of each would do.")
	const instead = "; take a finer fixture or a wider tolerance."
	wanted := leveling.Hundredths(w.s.Aim.ToleranceMm) + " mm"
	w.about(hardly, "not even "+strconv.Itoa(mostReadings)+" more readings can prove "+wanted+" ("+leveling.Hundredths(after)+" mm then)"+instead)
	w.about(never, "no number of readings with this fixture can prove "+wanted+" ("+leveling.Hundredths(worst)+" mm at best)"+instead)
}

// unmarked names the rows of a group that carry no mark.
func (w words) unmarked(notEven, unknown, strange []int) {
	w.about(notEven, "no mark, because the plan does not make it even.")
	w.about(unknown, "no mark, because nobody has said where the mechanism stands.")
	w.about(strange, "no mark, because its setting is none that the other rows of its mechanism know.")
}

func (w words) otherReference(named, taken int) {
	w.caution("Row %d was named to count marks from, but carries no mark; they count from row %d.", named, taken)
}

func (w words) caution(format string, args ...any) {
	w.out.Cautions = append(w.out.Cautions, fmt.Sprintf(format, args...))
}

// about adds a caution about some rows, if there are any.
func (w words) about(rows []int, what string) {
	if len(rows) > 0 {
		w.out.Cautions = append(w.out.Cautions, leveling.RowList(rows)+": "+what)
	}
}

// SurpriseCaution says that a reading of a row looks wrong.
func SurpriseCaution(row int, s estimate.Surprise) string {
	if s.Lonely {
		return fmt.Sprintf("Row %d: its only reading, %s mm, is far from the other rows (%s mm in the middle); read it once more.", row, leveling.Mm(s.ReadingMm), leveling.Mm(s.OthersMm))
	}
	return fmt.Sprintf("Row %d: reading %d, %s mm, does not agree with its others (%s mm); it was counted all the same, so read the row once more.", row, s.Reading+1, leveling.Mm(s.ReadingMm), leveling.Mm(s.OthersMm))
}

func plural(n int, one, other string) string {
	if n == 1 {
		return "1 " + one
	}
	return strconv.Itoa(n) + " " + other
}
