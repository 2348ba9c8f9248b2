package draw

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"

	rowdatumv1 "rowdatum/proto/gen/rowdatum/v1"
	"rowdatum/proto/length"
)

// Digs lists digs.
func Digs(digs []*rowdatumv1.Dig) string {
	var p page
	if len(digs) == 0 {
		p.line("There are no digs of this planter yet. Add one with: rowdatum dig add PLANTER FILE.csv")
	}
	for _, dig := range digs {
		text := fmt.Sprintf("%s of %s", number(seedsOf(dig), "seed", "seeds"), number(len(dig.GetRows()), "row", "rows"))
		if dig.GetTitle() != "" {
			text += ", " + dig.GetTitle()
		}
		p.wrapped(fmt.Sprintf("%s  %s  ", day(dig), left(id(dig.GetName()), max(20, len(id(dig.GetName()))))), text)
	}
	return p.String()
}

func seedsOf(dig *rowdatumv1.Dig) int {
	n := 0
	for _, row := range dig.GetRows() {
		n += len(row.GetDepthsMm())
	}
	return n
}

// day is when was dug, or else kept.
func day(dig *rowdatumv1.Dig) string {
	if t := dig.GetDigTime(); t != nil {
		return t.AsTime().Format("2006-01-02")
	}
	return dig.GetCreateTime().AsTime().Local().Format("2006-01-02")
}

// Dig draws what dug seeds say: the whole, what to mind, the rows with a picture, what to correct, what it may
// cost.
func Dig(dig *rowdatumv1.Dig, a *rowdatumv1.DigAnalysis, unit length.Unit) string {
	d := &dug{dig: dig, a: a, s: scaleOf(UnitOf(unit, a.GetLengthUnit()))}
	d.heading()
	d.cautions(a.GetCautions())
	d.rows()
	d.reasons()
	d.correct()
	d.emergence()
	d.title("HOW IT WAS COMPUTED")
	d.wrapped("", a.GetMethod())
	return d.String()
}

// dug is one dig being drawn.
type dug struct {
	page
	dig *rowdatumv1.Dig
	a   *rowdatumv1.DigAnalysis
	s   scale
}

func (d *dug) heading() {
	a := d.a
	d.wrapped("DIG             ", d.dig.GetName())
	d.line("")
	for _, said := range []struct{ lead, text string }{
		{"Where           ", d.dig.GetTitle()}, {"By              ", d.dig.GetPerson()}, {"Remarks         ", d.dig.GetComment()}} {
		if said.text != "" {
			d.wrapped(said.lead, said.text)
		}
	}
	d.wrapped("Seeds           ", fmt.Sprintf("%d of %s, %s", a.GetSeeds(), number(len(a.GetRows()), "row", "rows"), day(d.dig)))
	mean := d.s.exact(a.GetMeanMm())
	if d.dig.TargetMm != nil {
		mean += fmt.Sprintf("; wanted %s", d.s.exact(d.dig.GetTargetMm()))
	}
	d.wrapped("Mean depth      ", mean)
	scatter := fmt.Sprintf("standard deviation %s %s", d.s.fine(a.GetSdMm()), d.s.unit())
	if a.CvPercent != nil {
		scatter += fmt.Sprintf(", %.0f %% of the mean", a.GetCvPercent())
	}
	d.wrapped("Scatter         ", scatter)
	if a.ShareWithin != nil {
		d.wrapped("Placed well     ", fmt.Sprintf("%.0f %% of the seeds, within ± %s of what is wanted", 100*a.GetShareWithin(), d.s.exact(a.GetWithinMm())))
	}
	alike := ""
	if a.F != nil {
		alike = fmt.Sprintf("; rows that were all alike would differ so in %s of digs", percent(a.GetP()))
	}
	d.wrapped("Rows differ     ", fmt.Sprintf("by %s %s, and seeds of one row by %s %s (standard deviations)%s",
		d.deviation(a.GetBetweenVarianceMm2()), d.s.unit(), d.deviation(a.GetWithinVarianceMm2()), d.s.unit(), alike))
}

// deviation is the root of a component of variance, a negative one counted as 0.
func (d *dug) deviation(mm2 float64) string { return d.s.fine(math.Sqrt(max(0, mm2))) }

// barHalf is half of a bar, in characters.
const barHalf = 14

func (d *dug) rows() {
	d.title("THE ROWS")
	d.line(" row seeds %s %s %s %s  %s  %s", right("mean", 6), right("sd "+d.s.unit(), 6), right("effect", 7), d.s.plusMinus(), left("shallower ◂   mean   ▸ deeper", 2*barHalf+1), "is")
	most := d.reach()
	for _, row := range d.a.GetRows() {
		mark := " "
		if row.GetVerdict() == rowdatumv1.Verdict_OFF {
			mark = ">"
		}
		d.line("%s%3d %5d %s %s %s %s  %s  %s", mark, row.GetRow(), row.GetSeeds(), right(d.s.short(row.GetMeanMm()), 6), right(d.scattered(row), 6), right(d.s.change(row.GetEffectMm()), 7),
			right(d.s.fine(row.GetUncertaintyMm()), 5), bar(row.GetEffectMm(), row.GetUncertaintyMm(), most), verdictOf(row.GetVerdict()))
	}
	d.wrapped("", fmt.Sprintf("mean, effect: in %s. sd: what the row's own seeds scatter by; *: so much more than the others' that the row is judged by that alone. effect: how much deeper than the average row this row truly plants, shrunk by what its own seeds scatter. ±: its standard uncertainty. ●: the effect; ├ ┤: two standard uncertainties either way; the bar is %s %s long.",
		d.s.word(), d.s.fine(2*most), d.s.unit()))
}

// scattered is what a row's own seeds scatter by, with a star where the row stands on it alone.
func (d *dug) scattered(row *rowdatumv1.DigRow) string {
	if row.ScatterMm == nil {
		return ""
	}
	star := " "
	if row.GetSetApart() {
		star = "*"
	}
	return d.s.fine(row.GetScatterMm()) + star
}

// reach is the farthest that a bar shows from the mean, mm.
func (d *dug) reach() float64 {
	most := 1.0 // seeds that all lie alike still have a bar
	for _, row := range d.a.GetRows() {
		most = max(most, math.Abs(row.GetEffectMm())+2*row.GetUncertaintyMm())
	}
	return math.Ceil(most)
}

// bar pictures an effect with twice its uncertainty either way, on a line that reaches as far as most.
func bar(effectMm, uncertaintyMm, mostMm float64) string {
	at := func(mm float64) int {
		return barHalf + int(math.Round(barHalf*max(-1, min(1, mm/mostMm))))
	}
	cells := slices.Repeat([]string{" "}, 2*barHalf+1)
	cells[barHalf] = "│"
	from, to := at(effectMm-2*uncertaintyMm), at(effectMm+2*uncertaintyMm)
	for i := from; i <= to; i++ {
		cells[i] = "─"
	}
	if from <= barHalf && barHalf <= to {
		cells[barHalf] = "┼"
	}
	cells[from], cells[to] = "├", "┤"
	cells[at(effectMm)] = "●"
	return strings.Join(cells, "")
}

// reasons says why for rows that are not even, or scatter more than the others.
func (d *dug) reasons() {
	titled := false
	for _, row := range d.a.GetRows() {
		if row.GetVerdict() == rowdatumv1.Verdict_EVEN && !row.GetSetApart() {
			continue
		}
		if !titled {
			d.title("WHY")
			titled = true
		}
		d.wrapped(fmt.Sprintf("  row %-3d    ", row.GetRow()), row.GetWhy())
	}
}

// correct says what to do to which rows, what is common to all of them said once.
func (d *dug) correct() {
	plan := d.a.GetPlan()
	if plan == nil {
		return
	}
	d.title("WHAT TO CORRECT IN THE FIELD")
	var rows []*rowdatumv1.RowPlan
	var words []string
	for _, row := range plan.GetRows() {
		if row.GetMove() != nil {
			rows, words = append(rows, row), append(words, row.GetMove().GetSay())
		}
	}
	common := commonEnd(words)
	if common != "" {
		d.wrapped("  each row   ", common)
	}
	for i, row := range rows {
		d.wrapped(fmt.Sprintf("  row %-3d    ", row.GetRow()), strings.TrimSuffix(words[i], common))
	}
	if len(rows) == 0 {
		d.line("  nothing: no row is moved on what these seeds say")
	}
	for _, row := range plan.GetRows() {
		if row.GetVerdict() == rowdatumv1.Verdict_STUCK {
			d.wrapped(fmt.Sprintf("  row %-3d    ", row.GetRow()), row.GetWhy())
		}
	}
	for _, caution := range plan.GetCautions() {
		d.wrapped(" !  ", caution)
	}
}

func (d *dug) emergence() {
	e := d.a.GetEmergence()
	if e == nil {
		return
	}
	d.title("WHAT IT MAY COST IN TIME TO EMERGENCE: a guide")
	d.wrapped("  ", e.GetGuide())
	for _, source := range e.GetSources() {
		d.wrapped("  source  ", strings.TrimSuffix(cmp.Or(source.GetTitle(), "none")+": "+source.GetFigure(), ": "))
	}
	for _, caution := range e.GetCautions() {
		d.wrapped(" !  ", caution)
	}
}
