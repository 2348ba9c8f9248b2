package draw

import (
	"fmt"
	"strconv"
	"strings"

	rowdatumv1 "rowdatum/proto/gen/rowdatum/v1"
)

// Wear draws what the seasons did to a planter: visits, rows, parts, edge rows, what to mind.
func Wear(planter *rowdatumv1.Planter, w *rowdatumv1.Wear) string {
	d := &worn{wear: w}
	d.wrapped("WEAR            ", planter.GetDisplayName())
	d.visits()
	d.cautions(w.GetCautions())
	d.rows()
	d.reasons()
	d.parts()
	d.edge()
	d.title("HOW IT WAS COMPUTED")
	d.wrapped("", w.GetMethod())
	return d.String()
}

// worn is a planter's wear being drawn.
type worn struct {
	page
	wear *rowdatumv1.Wear
}

func (d *worn) visits() {
	d.title("THE VISITS, signed jobs whose hectares are known")
	for _, visit := range d.wear.GetVisits() {
		d.wrapped(fmt.Sprintf("%s ha  %s  ", right(thousands(visit.GetHectares()), 9), moment(visit.GetSignTime())), visit.GetJob())
	}
	if len(d.wear.GetVisits()) == 0 {
		d.wrapped("  ", "none yet: open jobs with --hectares, what the planter has planted in all by then")
	}
}

// hundred: drifts are told by the hundred hectares, as people speak of them.
const hundred = 100

func (d *worn) rows() {
	if len(d.wear.GetRows()) == 0 {
		return
	}
	d.title("THE ROWS, mm a hundred hectares against the planter's middle rows")
	d.line(" row visits  %s  %s  %s", right("drift", 7), left("interval", 18), "hectares left")
	for _, row := range d.wear.GetRows() {
		mark := " "
		if row.GetUnlike() {
			mark = ">"
		}
		drift, interval, lasts := "-", "-", "-"
		if row.DriftMmPerHectare != nil {
			drift = rate(row.GetDriftMmPerHectare())
			interval = fmt.Sprintf("%s to %s", rate(row.GetDriftFromMmPerHectare()), rate(row.GetDriftToMmPerHectare()))
			lasts = hectaresLeft(row.HectaresLeftFrom, row.HectaresLeftTo)
		}
		d.line("%s%3d %6d  %s  %s  %s", mark, row.GetRow(), row.GetVisits(), right(drift, 7), left(interval, 18), lasts)
	}
	d.wrapped("", "Above 0 is deeper. > wears unlike the rest.")
}

// rate writes a drift by the hundred hectares, with its sign.
func rate(mmPerHectare float64) string {
	text := strconv.FormatFloat(hundred*mmPerHectare, 'f', 2, 64)
	switch {
	case strings.Trim(text, "-0.") == "":
		return "0.00"
	case mmPerHectare < 0:
		return "−" + text[1:]
	}
	return "+" + text
}

// hectaresLeft writes how long something lasts.
func hectaresLeft(from, to *float64) string {
	switch {
	case from == nil:
		return "no end in sight"
	case to == nil:
		return thousands(*from) + " at least"
	}
	return thousands(*from) + " to " + thousands(*to)
}

// thousands writes a whole number with a gap before every three digits.
func thousands(x float64) string {
	text := strconv.FormatFloat(x, 'f', 0, 64)
	for i := len(text) - 3; i > 0; i -= 3 {
		text = text[:i] + " " + text[i:]
	}
	return text
}

// reasons are the service's words of rows for which the table does not say all, what is said of several once.
func (d *worn) reasons() {
	rowsOf := map[string][]int32{}
	var whys []string
	for _, row := range d.wear.GetRows() {
		if row.DriftMmPerHectare != nil && !row.GetUnlike() {
			continue
		}
		if rowsOf[row.GetWhy()] == nil {
			whys = append(whys, row.GetWhy())
		}
		rowsOf[row.GetWhy()] = append(rowsOf[row.GetWhy()], row.GetRow())
	}
	if len(whys) > 0 {
		d.title("IN WORDS")
	}
	for _, why := range whys {
		d.wrapped("  ", rowNumbers(rowsOf[why])+": "+why)
	}
}

func (d *worn) parts() {
	if len(d.wear.GetParts()) == 0 {
		return
	}
	d.title("THE PARTS, as last measured")
	for _, part := range d.wear.GetParts() {
		mark := " "
		text := fmt.Sprintf("%s: %s %s", part.GetTitle(), figure(part.GetLast()), part.GetUnit())
		if part.Limit != nil {
			text += fmt.Sprintf(", limit %s", figure(part.GetLimit()))
		}
		switch {
		case part.GetWorn():
			mark = ">"
			text += "; WORN: past its limit"
		case !part.GetEnough():
			text += fmt.Sprintf("; not enough history: %s", number(int(part.GetVisits()), "visit", "visits"))
		default:
			text += "; hectares left: " + hectaresLeft(part.HectaresLeftFrom, part.HectaresLeftTo)
		}
		d.wrapped(fmt.Sprintf("%s row %-3d    ", mark, part.GetRow()), text)
	}
}

func (d *worn) edge() {
	e := d.wear.GetEdge()
	if e == nil {
		return
	}
	d.title("EDGE ROWS AGAINST THE OTHERS")
	d.wrapped("  ", fmt.Sprintf("%s drift by %s mm a hundred hectares against the others (%s to %s); were they alike, such a difference came by chance in %s of planters",
		rowNumbers(e.GetRows()), rate(e.GetDifferenceMmPerHectare()), rate(e.GetDifferenceFromMmPerHectare()), rate(e.GetDifferenceToMmPerHectare()), percent(e.GetP())))
}

// FixtureStudy draws what repeated readings say of a fixture.
func FixtureStudy(fixture *rowdatumv1.Fixture, study *rowdatumv1.FixtureStudy) string {
	var p page
	p.wrapped("FIXTURE STUDY   ", fixture.GetDisplayName())
	p.line("")
	p.wrapped("Verdict         ", study.GetVerdict())
	p.wrapped("Repeats to      ", fmt.Sprintf("%s mm, the ruling's rounding included (%s degrees of freedom)", hundredths(study.GetRepeatabilityMm()), figure(study.GetDegreesOfFreedom())))
	p.wrapped("Scatter         ", fmt.Sprintf("%s mm before the ruling rounds", hundredths(study.GetScatterMm())))
	p.wrapped("People differ   ", fmt.Sprintf("by %s mm", hundredths(study.GetReproducibilityMm())))
	p.wrapped("Rows differ     ", fmt.Sprintf("by %s mm (all standard deviations)", hundredths(study.GetRowToRowMm())))
	if study.GetFixture() != nil {
		p.wrapped("Kept            ", fmt.Sprintf("the fixture now repeats to %s mm", hundredths(study.GetFixture().GetRepeatabilityMm())))
	}
	p.cautions(study.GetCautions())
	p.title("THE SMALLEST TOLERANCE THAT IT PROVES")
	p.line(" readings of a row  one person reads  several people read")
	for _, t := range study.GetProvable() {
		p.line(" %17d  %s  %s", t.GetReadings(), left("± "+ceilMm(t.GetToleranceMm())+" mm", 16), several(t))
	}
	if n := study.GetReadingsNeeded(); n > 0 {
		p.wrapped("", fmt.Sprintf("What is wanted takes %s of a row.", number(int(n), "reading", "readings")))
	}
	p.title("HOW IT WAS COMPUTED")
	p.wrapped("", study.GetMethod())
	return p.String()
}

// several is what several people prove.
func several(t *rowdatumv1.ProvableTolerance) string {
	if t.SeveralPeopleMm == nil {
		return "not told"
	}
	return "± " + ceilMm(t.GetSeveralPeopleMm()) + " mm"
}

// hundredths writes mm to 0.01.
func hundredths(mm float64) string { return strconv.FormatFloat(mm, 'f', 2, 64) }
