package adjustertest

import (
	"context"
	"encoding/json"
	"fmt"
	"maps"
	"regexp"
	"slices"

	adjusterv1 "rowdatum/proto/gen/rowdatum/adjuster/v1"
)

var (
	inBrackets = regexp.MustCompile(`\([^()]*\)`)
	// otherUnit finds a length that a reader of a unit does not work in.
	otherUnit = map[adjusterv1.LengthUnit]*regexp.Regexp{
		adjusterv1.LengthUnit_LENGTH_UNIT_IN: regexp.MustCompile(`[0-9] ?mm\b`),
		adjusterv1.LengthUnit_LENGTH_UNIT_MM: regexp.MustCompile(`[0-9]″|\binch`),
	}
)

// units asks for the words of the style and of moves in mm and in inches, and finds lengths in the other unit.
func (e *exam) units(ctx context.Context) {
	e.made("unit")
	options := sampled(e.goodRow.GetOptions())
	for _, unit := range []adjusterv1.LengthUnit{adjusterv1.LengthUnit_LENGTH_UNIT_MM, adjusterv1.LengthUnit_LENGTH_UNIT_IN} {
		in := voice{unit: unit}
		if s := e.ask(ctx, in); s != nil {
			e.styleInUnit(s, unit)
		}
		for i, w := range e.say(ctx, e.good, in, options) {
			e.inUnit(unit, fmt.Sprintf("words[%d].say", i), w.GetSay())
			for j, c := range w.GetCautions() {
				e.inUnit(unit, fmt.Sprintf("words[%d].cautions[%d]", i, j), c)
			}
		}
	}
}

func (e *exam) styleInUnit(s *adjusterv1.Style, unit adjusterv1.LengthUnit) {
	for i, p := range s.GetInspectionPoints() {
		e.inUnit(unit, fmt.Sprintf("style.inspectionPoints[%d].title", i), p.GetTitle())
		e.inUnit(unit, fmt.Sprintf("style.inspectionPoints[%d].guidance", i), p.GetGuidance())
	}
	for i, c := range s.GetCautions() {
		e.inUnit(unit, fmt.Sprintf("style.cautions[%d]", i), c)
	}
	e.schemaInUnit(unit, "style.figuresSchema", s.GetFiguresSchema())
	e.schemaInUnit(unit, "style.settingSchema", s.GetSettingSchema())
}

// schemaInUnit reads the titles and descriptions of a schema's properties; its bounds and x-unit are in mm for everybody.
func (e *exam) schemaInUnit(unit adjusterv1.LengthUnit, path, text string) {
	var top struct {
		Properties map[string]struct{ Title, Description string }
	}
	if json.Unmarshal([]byte(text), &top) != nil {
		return // said already
	}
	for _, name := range slices.Sorted(maps.Keys(top.Properties)) {
		e.inUnit(unit, path+".properties."+name+".title", top.Properties[name].Title)
		e.inUnit(unit, path+".properties."+name+".description", top.Properties[name].Description)
	}
}

// inUnit finds a length of the other unit in a text, outside brackets.
func (e *exam) inUnit(unit adjusterv1.LengthUnit, path, text string) {
	if otherUnit[unit].MatchString(inBrackets.ReplaceAllString(text, "")) {
		e.foundAt("unit", unit.String(), path, "has a length in the other unit: %.80q", text)
	}
}
