// Command wedge-ladder is an invented adjuster that the page's tests install: its figures and its setting are asked
// with every kind of schema that a form must be able to draw, and with none that a bundled style uses.
package main

import (
	"fmt"

	"rowdatum/adjusters/adjuster"
)

func main() { adjuster.Serve(style, ladder{}) }

type figures struct {
	Steps []struct {
		Name    string  `json:"name"`
		DepthMm float64 `json:"depthMm"`
	} `json:"steps"`
	Wedge struct {
		RiseMm float64 `json:"riseMm"`
		Side   string  `json:"side"`
	} `json:"wedge"`
	Steel    bool   `json:"steel"`
	Fastened string `json:"fastened"`
}

type setting struct {
	Step   int  `json:"step"`
	Turned bool `json:"turned"`
}

type ladder struct{}

func (ladder) Travel(f figures, at *setting) (adjuster.Travel[setting], error) {
	if at.Step > len(f.Steps) {
		return adjuster.Travel[setting]{}, adjuster.Wrong("setting.step", "is %d, must be from 1 to %d", at.Step, len(f.Steps))
	}
	place := func(n int) adjuster.Position[setting] {
		return adjuster.Position[setting]{Setting: setting{n, at.Turned}, DepthMm: f.Steps[n-1].DepthMm, Count: float64(n)}
	}
	return adjuster.Travel[setting]{Here: place(at.Step), Positions: adjuster.Steps(1, len(f.Steps), place)}, nil
}

func (ladder) Say(m adjuster.Move[figures, setting]) adjuster.Words {
	return adjuster.Words{Say: fmt.Sprintf("Move the wedge %s %s, to %s.", m.Counted(), m.Direction(), m.Figures.Steps[m.To.Step-1].Name)}
}

var style = adjuster.Style{
	ID: "wedge-ladder", Version: "0.1.0", SetsPlantingDepth: true, ScaleSd: 0.05, SeatingMm: 0.3, TouchSeconds: 45,
	English: adjuster.Text{Title: "Wedge on a ladder", CountUnit: adjuster.CountUnit{One: "step", Other: "steps"}},
	FiguresSchema: `{"type": "object", "title": "Figures of a wedge on a ladder", "additionalProperties": false, "required": ["steps", "wedge", "fastened"], "properties": {
		"steps": {"type": "array", "title": "Steps", "description": "From the shallowest to the deepest.", "minItems": 2, "maxItems": 12, "items": {
			"type": "object", "title": "step", "additionalProperties": false, "required": ["name", "depthMm"], "properties": {
				"name": {"type": "string", "title": "Name", "minLength": 1, "maxLength": 20},
				"depthMm": {"type": "number", "title": "Depth", "x-unit": "mm", "minimum": 0, "maximum": 200}}}},
		"wedge": {"type": "object", "title": "The wedge", "additionalProperties": false, "required": ["riseMm", "side"], "properties": {
			"riseMm": {"type": "number", "title": "Rise", "description": "Over its length.", "x-unit": "mm", "exclusiveMinimum": 0, "maximum": 40},
			"side": {"type": "string", "title": "Thick end", "enum": ["FRONT_END", "REAR_END"]}}},
		"steel": {"type": "boolean", "title": "Made of steel", "default": true},
		"fastened": {"title": "Fastened by", "oneOf": [{"const": "pin", "title": "A pin"}, {"const": "bolt", "title": "A bolt"}]}}}`,
	SettingSchema: `{"type": "object", "title": "Where the wedge stands", "additionalProperties": false, "required": ["step"], "properties": {
		"step": {"type": "integer", "title": "Step", "description": "Counted from the shallowest.", "minimum": 1, "maximum": 12},
		"turned": {"type": "boolean", "title": "Turned over"}}}`,
}
