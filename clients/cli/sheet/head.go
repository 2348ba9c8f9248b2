package sheet

import (
	"cmp"
	"fmt"
	"math/big"
	"slices"
	"strconv"
	"strings"

	"google.golang.org/protobuf/types/known/structpb"

	rowdatumv1 "rowdatum/proto/gen/rowdatum/v1"
	"rowdatum/proto/length"
)

// headKeys are the lines that the head of a file may have.
func headKeys() []string {
	return []string{
		"planter", "unit", "fixture ruling", "fixture repeats to", "floor uneven by", "aim", "tolerance",
		"confidence", "confidence of", "unproven row", "one reading", "zero uncertain by", "reach shallower", "reach deeper", "mechanism",
		"reference rows", "owner", "row spacing", "section",
	}
}

// unit reads the unit line before all others, wherever in the head it stands.
func (p *parser) unit(head []line) {
	for _, l := range head {
		if l.key() != "unit" || l.cell(1) == "" {
			continue
		}
		unit, ok := length.ParseUnit(l.cell(1))
		if !ok {
			p.wrong(cellAt(l.number, 2, "unit"), quote(l.cell(1))+" is not a unit; write in or mm")
			unit = length.Millimeter // so that not every number below is called a mistake too
		}
		p.sheet.Unit, p.reading.Bare = unit, unit
	}
}

// headLine reads one line above the table.
func (p *parser) headLine(l line) {
	key := l.key()
	here := cellAt(l.number, 2, key)
	if !slices.Contains(headKeys(), key) {
		p.unknownKey(l)
		return
	}
	if first, ok := p.seen[key]; ok && key != "mechanism" && key != "section" {
		p.wrong(cellAt(l.number, 1, ""), fmt.Sprintf("%s is on line %d already; keep one of the two", key, first))
		return
	}
	p.seen[key] = l.number
	switch key {
	case "mechanism":
		p.mechanism(l)
		return
	case "reference rows":
		p.referenceRows(l)
		return
	case "section":
		p.section(l)
		return
	}
	p.single(l, key)
	if l.cell(1) == "" {
		p.wrong(here, "is empty; fill it in or take the line out")
		return
	}
	p.figure(key, l.cell(1), here)
}

func (p *parser) unknownKey(l line) {
	p.wrong(cellAt(l.number, 1, ""), fmt.Sprintf("%s is not a line known here%s; above the table stand: %s",
		quote(l.cell(0)), meant(l.key(), headKeys()), strings.Join(headKeys(), ", ")))
}

// single notes cells beyond the one that a line of the head has.
func (p *parser) single(l line, key string) {
	for i := 2; i < len(l.cells); i++ {
		if l.cells[i] != "" {
			p.wrong(cellAt(l.number, i+1, key), quote(l.cells[i])+" is one cell too many; quote a text that has a separator in it, and write decimals with a point")
			return
		}
	}
}

// figure reads the one value of a line of the head.
func (p *parser) figure(key, text string, here Place) {
	request := p.sheet.Request
	switch key {
	case "planter":
		p.sheet.Planter = text
		p.sheet.places["displayName"] = here
	case "owner":
		p.sheet.Owner = text
		p.sheet.places["owner"] = here
	case "row spacing":
		p.length("rowSpacingMm", text, here, func(mm *float64) { p.sheet.RowSpacingMm = mm })
	case "fixture ruling":
		p.length("fixture.resolutionMm", text, here, func(mm *float64) { p.fixture().ResolutionMm = mm })
	case "fixture repeats to":
		p.length("fixture.repeatabilityMm", text, here, func(mm *float64) { p.fixture().RepeatabilityMm = mm })
	case "floor uneven by":
		p.length("fixture.floorMm", text, here, func(mm *float64) { p.fixture().FloorMm = mm })
	case "tolerance":
		p.length("aim.toleranceMm", text, here, func(mm *float64) { p.aim().ToleranceMm = mm })
	case "zero uncertain by":
		p.length("aim.zeroUncertaintyMm", text, here, func(mm *float64) { p.aim().ZeroUncertaintyMm = mm })
	case "reach shallower":
		p.length("reach.shallowerMm", text, here, func(mm *float64) { p.reach().ShallowerMm = mm })
	case "reach deeper":
		p.length("reach.deeperMm", text, here, func(mm *float64) { p.reach().DeeperMm = mm })
	case "confidence":
		p.number("aim.confidence", text, here, confidenceUnits(), "0.9 or 90 %", func(x *float64) { p.aim().Confidence = x })
	case "confidence of":
		of, known := map[string]rowdatumv1.Aim_ConfidenceOf{"row": rowdatumv1.Aim_ROW, "planter": rowdatumv1.Aim_PLANTER}[strings.ToLower(text)]
		if !known {
			p.wrong(here, fmt.Sprintf("%q is not known; write row or planter", text))
			return
		}
		p.aim().ConfidenceOf = of
		p.sheet.places["aim.confidenceOf"] = here
	case "unproven row":
		p.number("aim.missSeconds", text, here, timeUnits(), "15 min or 900 s", func(x *float64) { p.aim().MissSeconds = x })
	case "one reading":
		p.number("aim.readSeconds", text, here, timeUnits(), "20 s or 0.5 min", func(x *float64) { p.aim().ReadSeconds = x })
	case "aim":
		aim, err := ParseAim(text, p.reading)
		if err != nil {
			p.wrong(here, err.Error())
			return
		}
		aim.Apply(request)
		for _, path := range []string{"aim.kind", "aim.row", "aim.datumMm"} {
			p.sheet.places[path] = here
		}
	}
}

func (p *parser) fixture() *rowdatumv1.FixtureFigures {
	if p.sheet.Request.Fixture == nil {
		p.sheet.Request.Fixture = &rowdatumv1.FixtureFigures{}
	}
	return p.sheet.Request.Fixture
}

func (p *parser) aim() *rowdatumv1.Aim {
	if p.sheet.Request.Aim == nil {
		p.sheet.Request.Aim = &rowdatumv1.Aim{}
	}
	return p.sheet.Request.Aim
}

func (p *parser) reach() *rowdatumv1.Reach {
	if p.sheet.Request.Reach == nil {
		p.sheet.Request.Reach = &rowdatumv1.Reach{}
	}
	return p.sheet.Request.Reach
}

// typedIn notes the unit of a length where nothing has said yet in which unit the file is written.
func (p *parser) typedIn(text string, r length.Reading) {
	if _, unit, err := r.Typed(text); err == nil && p.sheet.Unit == length.NoUnit {
		p.sheet.Unit = unit
	}
}

// spoken is the unit that the service is to say lengths in.
func (s *Sheet) spoken() rowdatumv1.LengthUnit {
	switch s.Unit {
	case length.Inch:
		return rowdatumv1.LengthUnit_IN
	case length.NoUnit:
		return rowdatumv1.LengthUnit_LENGTH_UNIT_UNSPECIFIED
	}
	return rowdatumv1.LengthUnit_MM
}

// length reads a length of the head into the request.
func (p *parser) length(path, text string, here Place, set func(*float64)) {
	mm, err := p.reading.Mm(text)
	if err != nil {
		p.wrong(here, NotLength(text, err, p.reading, "or give the whole file one with a line unit,in or unit,mm"))
		return
	}
	p.typedIn(text, p.reading)
	p.sheet.places[path] = here
	x := length.Float(mm)
	set(&x)
}

// confidenceUnits and timeUnits are by what a number with that unit is multiplied.
func confidenceUnits() map[string]*big.Rat {
	return map[string]*big.Rat{"": big.NewRat(1, 1), "%": big.NewRat(1, 100)}
}

func timeUnits() map[string]*big.Rat {
	return map[string]*big.Rat{"min": big.NewRat(60, 1), "s": big.NewRat(1, 1)}
}

// number reads a number that may carry one of units into the request.
func (p *parser) number(path, text string, here Place, units map[string]*big.Rat, right string, set func(*float64)) {
	end := strings.LastIndexAny(text, "0123456789") + 1
	factor, ok := units[strings.TrimSpace(text[end:])]
	value, err := p.reading.Number(text[:end])
	if !ok || err != nil {
		p.wrong(here, fmt.Sprintf("%s is not understood; write %s", quote(text), right))
		return
	}
	p.sheet.places[path] = here
	x := length.Float(value.Mul(value, factor))
	set(&x)
}

// referenceRows reads one row number a cell.
func (p *parser) referenceRows(l line) {
	for i := 1; i < len(l.cells); i++ {
		if l.cells[i] == "" {
			continue
		}
		here := cellAt(l.number, i+1, "reference rows")
		row, err := strconv.ParseInt(l.cells[i], 10, 32)
		if err != nil {
			p.wrong(here, quote(l.cells[i])+" is not a row number; write one number a cell, like reference rows,2,14")
			continue
		}
		p.sheet.places[fmt.Sprintf("referenceRows[%d]", len(p.sheet.Request.ReferenceRows))] = here
		p.sheet.Request.ReferenceRows = append(p.sheet.Request.ReferenceRows, int32(row))
	}
}

// mechanism reads mechanism,id,style,name=value,…
func (p *parser) mechanism(l line) {
	id, styleID := l.cell(1), l.cell(2)
	path := fmt.Sprintf("mechanisms[%d]", len(p.mechanisms))
	p.sheet.places[path] = cellAt(l.number, 1, "mechanism")
	p.sheet.places[path+".id"] = cellAt(l.number, 2, "id")
	p.sheet.places[path+".style"] = cellAt(l.number, 3, "style")
	p.sheet.places[path+".figures"] = cellAt(l.number, 4, "figures")
	if id == "" {
		p.wrong(cellAt(l.number, 2, "id"), "the mechanism has no name; write one like handle, which the rows of the table then use")
	} else if p.mechanismOf(id) >= 0 {
		p.wrong(cellAt(l.number, 2, "id"), quote(id)+" is the name of a mechanism above; give each its own")
	}
	style := p.styles[strings.ToLower(styleID)]
	switch {
	case style == nil:
		p.wrong(cellAt(l.number, 3, "style"), p.noStyle(styleID))
	case style.FiguresSchema == nil:
		p.wrong(cellAt(l.number, 3, "style"), fmt.Sprintf("the adjuster of %s is not answering now: %s; try again, and if it stays so tell who looks after the service", styleID, style.GetStateReason()))
		style = nil
	}
	p.mechanisms = append(p.mechanisms, mechanism{id: id, style: style})
	figures := p.figures(l, path, style)
	p.sheet.Request.Mechanisms = append(p.sheet.Request.Mechanisms,
		&rowdatumv1.Mechanism{Id: id, Style: strings.ToLower(styleID), Figures: figures})
}

func (p *parser) noStyle(id string) string {
	installed := sortedKeys(p.styles)
	if len(installed) == 0 {
		return quote(id) + " is not a style that the service has: it has none"
	}
	return fmt.Sprintf("%s is not a style that the service has%s; it has %s", quote(id), meant(id, installed), strings.Join(installed, ", "))
}

// mechanismOf returns the index of a mechanism, or -1. Spreadsheets change capitals: they do not count.
func (p *parser) mechanismOf(id string) int {
	return slices.IndexFunc(p.mechanisms, func(m mechanism) bool { return strings.EqualFold(m.id, id) })
}

// figures reads the cells name=value of a mechanism line and notes figures that are missing.
func (p *parser) figures(l line, path string, style *rowdatumv1.Style) *structpb.Struct {
	figures := &structpb.Struct{Fields: map[string]*structpb.Value{}}
	schema := schemaOf(style.GetFiguresSchema())
	for i := 3; i < len(l.cells); i++ {
		if l.cells[i] == "" {
			continue
		}
		here := cellAt(l.number, i+1, "figures")
		name, text, ok := strings.Cut(l.cells[i], "=")
		if !ok {
			p.wrong(here, quote(l.cells[i])+" is not a figure; write its name and value, like mmPerTurn=1/4 in")
			continue
		}
		if style == nil {
			continue
		}
		here.Header = strings.TrimSpace(name)
		if plain(name) == "figures" && schema.properties[name] == nil {
			p.settings(strings.TrimSpace(text), here, path, schema, figures)
			continue
		}
		name, value, err := schema.named(name, text, p.reading)
		if err != nil {
			p.wrong(here, err.Error())
			continue
		}
		if figures.Fields[name] != nil {
			p.wrong(here, name+" is on this line already; keep one of the two")
		}
		p.sheet.places[path+".figures."+name] = here
		figures.Fields[name] = value
	}
	if missing := schema.missing(figures); len(missing) > 0 {
		p.wrong(cellAt(l.number, 4, "figures"), fmt.Sprintf("%s is missing; write it as %s=… in a cell of its own", strings.Join(missing, ", "), missing[0]))
	}
	return figures
}

// settings takes a mechanism's settings and depths from a file of their own, named as @stop.csv.
func (p *parser) settings(text string, here Place, path string, schema schema, figures *structpb.Struct) {
	const names, depths = "settings", "depthsMm"
	if schema.properties[names] == nil || schema.properties[depths] == nil {
		p.wrong(here, "only a style that asks for settings and depthsMm takes its figures from a file, as table does")
		return
	}
	file, ok := strings.CutPrefix(text, "@")
	if !ok {
		p.wrong(here, "a file is meant; write its name behind an @, like figures=@"+cmp.Or(text, "stop.csv"))
		return
	}
	var table settings
	if text, err := p.open(file); err != nil {
		p.wrong(here, err.Error())
	} else {
		var mistakes Mistakes
		table, mistakes = parseSettings(text)
		table.of(file, mistakes)
		p.mistakes = append(p.mistakes, mistakes...)
		if len(mistakes) > 0 {
			here = mistakes[0].Place // what the service then finds wrong with the rest is that mistake's doing
		}
	}
	for part, place := range table.places {
		p.sheet.places[path+".figures."+part] = place
	}
	p.sheet.places[path+".figures."+names], p.sheet.places[path+".figures."+depths] = here, here
	called, mm := &structpb.ListValue{}, &structpb.ListValue{}
	for i, name := range table.names {
		called.Values = append(called.Values, structpb.NewStringValue(name))
		mm.Values = append(mm.Values, structpb.NewNumberValue(table.depthsMm[i]))
	}
	figures.Fields[names], figures.Fields[depths] = structpb.NewListValue(called), structpb.NewListValue(mm)
}
