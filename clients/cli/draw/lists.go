package draw

import (
	"cmp"
	"fmt"
	"strconv"
	"strings"

	rowdatumv1 "rowdatum/proto/gen/rowdatum/v1"
	"rowdatum/proto/length"
)

// Marks draws the card to copy onto the handles.
func Marks(v Visit) string {
	var p page
	s, w := v.scale(), v.wording()
	p.wrapped("MARKS           ", v.Opened.GetPlanter().GetDisplayName())
	p.wrapped("Job             ", v.Job.GetName())
	all := v.Job.GetState().GetMarks()
	if len(all) == 0 {
		p.line("")
		p.wrapped("", "No marks yet. There are some once a plan is issued and every row of a mechanism that keeps marks stands where the plan puts it.")
	}
	for _, marks := range all {
		p.markCard(marks, s, w)
		p.wrapped("", fmt.Sprintf("In the field: set row %d for the depth that is wanted, then every other row by its mark from there.", marks.GetReferenceRow()))
	}
	return p.String()
}

// markCard draws the marks of one mechanism.
func (p *page) markCard(marks *rowdatumv1.MechanismMarks, s scale, w wording) {
	p.title(fmt.Sprintf("%s: counted from row %d, which carries 0", marks.GetMechanism(), marks.GetReferenceRow()))
	p.line(" row  %s left by the steps", left("mark", 20))
	for _, mark := range marks.GetRows() {
		if mark.Count == nil {
			p.wrapped(fmt.Sprintf(" %3d  ", mark.GetRow()), "by table: "+s.markTable(mark))
			continue
		}
		p.line(" %3d  %s %s", mark.GetRow(), left(w.counts(mark.GetCount(), marks.GetMechanism()), 20), s.offset(mark.GetResidualMm()))
	}
}

// Jobs lists jobs.
func Jobs(jobs []*rowdatumv1.Job) string {
	var p page
	if len(jobs) == 0 {
		p.line("There are no such jobs.")
	}
	for _, job := range jobs {
		text := job.GetName()
		if job.GetWorkOrder() != "" {
			text += ", work order " + job.GetWorkOrder()
		}
		stage := strings.ToLower(job.GetStage().String())
		if job.GetStage() == rowdatumv1.Job_CONTENT_CHANGED {
			stage, text = "broken", text+": DO NOT RELY ON IT, what is kept of it is no longer what was signed"
		}
		p.wrapped(fmt.Sprintf("%s  %s  ", moment(job.GetUpdateTime()), left(stage, 6)), text)
	}
	return p.String()
}

// Planters lists planters.
func Planters(planters []*rowdatumv1.Planter) string {
	var p page
	if len(planters) == 0 {
		p.line("There are no planters yet. Add one with: rowdatum planter add FILE.csv")
	}
	for _, planter := range planters {
		text := fmt.Sprintf("%s, %s", planter.GetDisplayName(), number(len(planter.GetRows()), "row", "rows"))
		if planter.GetOwner() != "" {
			text += ", of " + planter.GetOwner()
		}
		p.wrapped(left(id(planter.GetName()), max(20, len(id(planter.GetName()))))+"  ", text)
	}
	return p.String()
}

// id is what stands behind the last slash of a name.
func id(name string) string { return name[strings.LastIndex(name, "/")+1:] }

// Planter draws one planter.
func Planter(planter *rowdatumv1.Planter, unit length.Unit) string {
	var p page
	s := scale{inches: UnitOf(unit, planter.GetLengthUnit()) == length.Inch, ruling: length.InchRuling(defaultRulingMm)}
	p.wrapped("PLANTER         ", id(planter.GetName()))
	p.line("")
	p.wrapped("Name            ", planter.GetDisplayName())
	if planter.GetOwner() != "" {
		p.wrapped("Owner           ", planter.GetOwner())
	}
	if planter.RowSpacingMm != nil {
		p.wrapped("Row spacing     ", s.both(planter.GetRowSpacingMm()))
	}
	if r := planter.GetReach(); r.GetShallowerMm() > 0 || r.GetDeeperMm() > 0 {
		p.wrapped("Must keep       ", fmt.Sprintf("%s shallower, %s deeper", s.both(r.GetShallowerMm()), s.both(r.GetDeeperMm())))
	}
	p.title("MECHANISMS")
	for _, m := range planter.GetMechanisms() {
		p.wrapped("  "+left(m.GetId(), max(12, len(m.GetId())))+" ", strings.TrimSuffix(m.GetStyle()+": "+s.setting(m.GetFigures()), ": "))
	}
	p.title("THE ROWS")
	p.line(" row  %s %s  %s  %s", left("mechanism", 12), left("stands at", 24), right("left at", 8), "really moves")
	section := ""
	for _, row := range planter.GetRows() {
		for _, in := range planter.GetSections() {
			if row.GetRow() >= in.GetFirstRow() && row.GetRow() <= in.GetLastRow() && in.GetTitle() != section {
				section = in.GetTitle()
				p.wrapped("  ─ ", section)
			}
		}
		moves := "-"
		if row.Scale != nil {
			moves = fmt.Sprintf("%.0f %% of nominal", 100*row.GetScale())
		}
		p.line(" %3d  %s %s  %s  %s", row.GetRow(), left(row.GetMechanism(), 12), left(cmp.Or(s.setting(row.GetSetting()), "not known"), 24),
			right(dash(row.AsLeftMm, s.short), 8), moves)
	}
	word := "mm"
	if s.inches {
		word = "inches"
	}
	p.wrapped("", fmt.Sprintf("left at: depth in %s, as the last signed job left it, in its fixture's own numbers.", word))
	return p.String()
}

// Fixtures lists fixtures.
func Fixtures(fixtures []*rowdatumv1.Fixture) string {
	var p page
	if len(fixtures) == 0 {
		p.line("There are no fixtures yet. Add one with: rowdatum fixture add NAME --kind window")
	}
	for _, f := range fixtures {
		figure := scale{inches: length.InchRuling(f.GetResolutionMm()) > 0}.nominal
		text := fmt.Sprintf("%s: %s, ruled to %s, repeats to %s", f.GetDisplayName(), kind(f.GetKind()), figure(f.GetResolutionMm()), figure(f.GetRepeatabilityMm()))
		if f.GetFloorMm() > 0 {
			text += fmt.Sprintf(", floor uneven by %s", figure(f.GetFloorMm()))
		}
		switch zero := f.GetZeroMm(); {
		case f.GetKind() == rowdatumv1.Fixture_BLOCKS:
			text += fmt.Sprintf(", blocks %s high", figure(zero))
		case zero != 0:
			text += fmt.Sprintf(", zero at %s", figure(zero))
		}
		p.wrapped(left(id(f.GetName()), max(20, len(id(f.GetName()))))+"  ", text)
	}
	return p.String()
}

// nominal writes a figure of a fixture, 1/16 inch in full.
func (s scale) nominal(mm float64) string {
	if s.inches {
		return length.FinestInches(mm) + " in"
	}
	return figure(mm) + " mm"
}

// figure writes a nominal figure, 1/16 inch in full.
func figure(mm float64) string {
	text := strconv.FormatFloat(mm, 'f', 4, 64)
	return strings.TrimSuffix(strings.TrimRight(text, "0"), ".")
}

// Cautions lists cautions, one after the other.
func Cautions(cautions []*rowdatumv1.CautionState) string {
	var p page
	for _, c := range cautions {
		p.wrapped(" !  ", c.GetText())
	}
	return p.String()
}

// Paragraph breaks text into lines, the first one behind lead.
func Paragraph(lead, text string) string {
	var p page
	p.wrapped(lead, text)
	return p.String()
}
