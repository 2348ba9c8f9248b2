package sheet

import (
	"fmt"
	"strconv"

	rowdatumv1 "rowdatum/proto/gen/rowdatum/v1"
)

// ParsePlanter reads a file for the planter that it describes: rows need no readings, and the planter
// needs a name.
func ParsePlanter(file []byte, styles []*rowdatumv1.Style, open Opener) (*Sheet, error) {
	return parse(file, styles, open, true)
}

// AsPlanter is the planter that the file describes: without readings, fixture and aim.
func (s *Sheet) AsPlanter() *rowdatumv1.Planter {
	planter := &rowdatumv1.Planter{DisplayName: s.Planter, Owner: s.Owner, RowSpacingMm: s.RowSpacingMm, Sections: s.Sections, LengthUnit: s.spoken(),
		Mechanisms: s.Request.GetMechanisms(), Reach: s.Request.GetReach(), ReferenceRows: s.Request.GetReferenceRows()}
	for _, row := range s.Request.GetRows() {
		planter.Rows = append(planter.Rows, &rowdatumv1.PlanterRow{Row: row.GetRow(), Mechanism: row.GetMechanism(), Setting: row.GetSetting()})
	}
	return planter
}

// LeftOut names what stands in the file and not in the planter, in the file's own words.
func (s *Sheet) LeftOut() []string {
	var out []string
	for _, row := range s.Request.GetRows() {
		if len(row.GetReadingsMm()) > 0 {
			out = append(out, "readings")
			break
		}
	}
	if s.Request.GetFixture() != nil {
		out = append(out, "fixture")
	}
	if s.Request.GetAim() != nil {
		out = append(out, "aim and tolerance")
	}
	return out
}

// section reads section,title,first row,last row.
func (p *parser) section(l line) {
	section := &rowdatumv1.Section{Title: l.cell(1)}
	path := fmt.Sprintf("sections[%d]", len(p.sheet.Sections))
	p.sheet.places[path] = cellAt(l.number, 1, "section")
	if section.Title == "" {
		p.wrong(cellAt(l.number, 2, "section"), "the section has no name; write one like section,left wing,1,6")
	}
	for i, part := range []struct {
		name string
		row  *int32
	}{{"firstRow", &section.FirstRow}, {"lastRow", &section.LastRow}} {
		here := cellAt(l.number, 3+i, "section")
		p.sheet.places[path+"."+part.name] = here
		row, err := strconv.ParseInt(l.cell(2+i), 10, 32)
		if err != nil {
			p.wrong(here, quote(l.cell(2+i))+" is not a row number; write the section's first and last row, like section,left wing,1,6")
		}
		*part.row = int32(row)
	}
	p.sheet.Sections = append(p.sheet.Sections, section)
}
