package draw

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	rowdatumv1 "rowdatum/proto/gen/rowdatum/v1"
	"rowdatum/proto/length"
)

// Wear draws what the seasons did to a planter: visits, rows, parts, edge rows, what to mind.
func Wear(planter *rowdatumv1.Planter, w *rowdatumv1.Wear) string {
	d := &worn{wear: w}
	d.wrapped("WEAR            ", planter.GetDisplayName())
	d.visits()
	d.cautions(w.GetCautions())
	d.rows()
	d.found()
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

func (d *worn) scale() scale {
	return scale{inches: d.wear.GetLengthUnit() == rowdatumv1.LengthUnit_IN}
}

// area is the symbol of the unit that areas are told in.
func (d *worn) area() string {
	if d.wear.GetAreaUnit() == rowdatumv1.AreaUnit_ACRE {
		return "ac"
	}
	return "ha"
}

// areas is the word for it.
func (d *worn) areas() string {
	if d.wear.GetAreaUnit() == rowdatumv1.AreaUnit_ACRE {
		return "acres"
	}
	return "hectares"
}

// haPerArea is the unit that areas are told in, ha: an acre is 43,560 square feet of 0.3048 m.
func (d *worn) haPerArea() float64 {
	if d.wear.GetAreaUnit() == rowdatumv1.AreaUnit_ACRE {
		return 0.40468564224
	}
	return 1
}

func (d *worn) visits() {
	d.title(fmt.Sprintf("THE VISITS, signed jobs whose %s are known", d.areas()))
	for _, visit := range d.wear.GetVisits() {
		d.wrapped(fmt.Sprintf("%s %s  %s  ", right(thousands(cmp.Or(visit.GetPlantedArea(), visit.GetHectares()/d.haPerArea())), 9), d.area(), moment(visit.GetSignTime())), visit.GetJob())
	}
	if len(d.wear.GetVisits()) == 0 {
		d.wrapped("  ", "none yet: open jobs with --hectares, what the planter has planted in all by then")
	}
}

// hundred: drifts are told by the hundred hectares or acres, as people speak of them.
const hundred = 100

func (d *worn) rows() {
	if len(d.wear.GetRows()) == 0 {
		return
	}
	d.title(fmt.Sprintf("THE ROWS, %s per 100 %s against the planter's middle rows", d.scale().word(), d.areas()))
	d.line(" row visits  %s  %s  %s", right("drift", 7), left("interval", 18), d.areas()+" left")
	for _, row := range d.wear.GetRows() {
		mark := " "
		if row.GetUnlike() {
			mark = ">"
		}
		drift, interval, lasts := "-", "-", "-"
		if row.DriftMmPerHectare != nil {
			drift = d.rate(row.GetDriftMmPerHectare())
			interval = fmt.Sprintf("%s to %s", d.rate(row.GetDriftFromMmPerHectare()), d.rate(row.GetDriftToMmPerHectare()))
			if d.wear.GetCommon() != nil {
				lasts = d.areaLeft(row.HectaresLeftFrom, row.HectaresLeftTo)
			}
		}
		d.line("%s%3d %6d  %s  %s  %s", mark, row.GetRow(), row.GetVisits(), right(drift, 7), left(interval, 18), lasts)
	}
	d.wrapped("", "Above 0 is deeper. > wears unlike the rest.")
}

// found draws each row as found against how it was last left.
func (d *worn) found() {
	if !slices.ContainsFunc(d.wear.GetRows(), func(r *rowdatumv1.RowWear) bool { return r.FoundChangeMm != nil }) {
		return
	}
	d.title(fmt.Sprintf("FOUND AGAINST LAST LEFT, %s below the planter's median row", d.scale().word()))
	d.line(" row  last left    found   change  interval")
	for _, r := range d.wear.GetRows() {
		if r.FoundChangeMm != nil {
			d.line(" %3d  %s  %s  %s  %s to %s", r.GetRow(), right(d.signed(r.GetLastLeftMm()), 9), right(d.signed(r.GetFoundMm()), 7), right(d.signed(r.GetFoundChangeMm()), 7), d.signed(r.GetFoundChangeFromMm()), d.signed(r.GetFoundChangeToMm()))
		}
	}
}

// signed writes a small length with its sign.
func (d *worn) signed(mm float64) string { return withSign(d.scale().hundredths(math.Abs(mm)), mm) }

// rate writes a drift by the hundred hectares or acres, with its sign: to 0.01 mm or 0.0001 in.
func (d *worn) rate(mmPerHectare float64) string {
	mm := hundred * d.haPerArea() * math.Abs(mmPerHectare)
	text := strconv.FormatFloat(mm, 'f', 2, 64)
	if d.scale().inches {
		text = strconv.FormatFloat(mm/25.4, 'f', 4, 64)
	}
	return withSign(text, mmPerHectare)
}

// areaLeft writes how long something lasts.
func (d *worn) areaLeft(from, to *float64) string {
	told := func(hectares float64) string { return thousands(hectares / d.haPerArea()) }
	switch {
	case from == nil:
		return "no end in sight"
	case to == nil:
		return told(*from) + " at least"
	}
	return told(*from) + " to " + told(*to)
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
		text := fmt.Sprintf("%s: %s", part.GetTitle(), d.scale().measured(part.GetLast(), part.GetUnit()))
		if part.Limit != nil {
			text += ", limit " + d.scale().measured(part.GetLimit(), part.GetUnit())
		}
		switch {
		case part.GetWorn():
			mark = ">"
			text += "; WORN: past its limit"
		case !part.GetEnough():
			text += fmt.Sprintf("; not enough history: %s", number(int(part.GetVisits()), "visit", "visits"))
		default:
			text += "; " + d.areas() + " left: " + d.areaLeft(part.HectaresLeftFrom, part.HectaresLeftTo)
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
	d.wrapped("  ", fmt.Sprintf("%s drift by %s %s per 100 %s against the others (%s to %s); were they alike, such a difference came by chance in %s of planters",
		rowNumbers(e.GetRows()), d.rate(e.GetDifferenceMmPerHectare()), d.scale().unit(), d.areas(), d.rate(e.GetDifferenceFromMmPerHectare()), d.rate(e.GetDifferenceToMmPerHectare()), percent(e.GetP())))
}

// FixtureStudy draws what repeated readings say of a fixture.
func FixtureStudy(fixture *rowdatumv1.Fixture, study *rowdatumv1.FixtureStudy, unit length.Unit) string {
	var p page
	s := scaleOf(UnitOf(unit, study.GetLengthUnit()))
	least, fine := s.least, func(mm float64) string { return s.hundredths(mm) + " " + s.unit() }
	p.wrapped("FIXTURE STUDY   ", fixture.GetDisplayName())
	p.line("")
	p.wrapped("Verdict         ", study.GetVerdict())
	p.wrapped("Repeats to      ", fmt.Sprintf("%s, the ruling's rounding included (%s degrees of freedom)", fine(study.GetRepeatabilityMm()), figure(study.GetDegreesOfFreedom())))
	p.wrapped("Scatter         ", fmt.Sprintf("%s before the ruling rounds", fine(study.GetScatterMm())))
	p.wrapped("People differ   ", fmt.Sprintf("by %s", fine(study.GetReproducibilityMm())))
	p.wrapped("Rows differ     ", fmt.Sprintf("by %s (all standard deviations)", fine(study.GetRowToRowMm())))
	if study.GetFixture() != nil {
		p.wrapped("Kept            ", fmt.Sprintf("the fixture now repeats to %s", fine(study.GetFixture().GetRepeatabilityMm())))
	}
	p.cautions(study.GetCautions())
	p.title("THE SMALLEST TOLERANCE THAT IT PROVES")
	p.line(" readings of a row  %s  several people read", left("one person reads", 20))
	for _, t := range study.GetProvable() {
		p.line(" %17d  %s  %s", t.GetReadings(), left("± "+least(t.GetToleranceMm()), 20), several(t, least))
	}
	if n := study.GetReadingsNeeded(); n > 0 {
		p.wrapped("", fmt.Sprintf("What is wanted takes %s of a row.", number(int(n), "reading", "readings")))
	}
	p.title("HOW IT WAS COMPUTED")
	p.wrapped("", study.GetMethod())
	return p.String()
}

// several is what several people prove; least writes a tolerance rounded up.
func several(t *rowdatumv1.ProvableTolerance, least func(mm float64) string) string {
	if t.SeveralPeopleMm == nil {
		return "not told"
	}
	return "± " + least(t.GetSeveralPeopleMm())
}

// hundredths writes a small length to 0.01 mm or a thousandth of an inch.
func (s scale) hundredths(mm float64) string {
	if s.inches {
		return length.Thousandths(mm)
	}
	return strconv.FormatFloat(mm, 'f', 2, 64)
}

// measured writes a figure of an inspection point; unit is the point's.
func (s scale) measured(x float64, unit string) string {
	if unit == "mm" && s.inches {
		return s.beside(length.FinestInches(x), x)
	}
	return strings.TrimSpace(figure(x) + " " + unit)
}
