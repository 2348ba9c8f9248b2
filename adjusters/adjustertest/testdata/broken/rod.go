package main

import (
	"fmt"

	"rowdatum/adjusters/adjuster"
)

// rod is the honest adjuster that the liars spoil: evenly spaced holes for a pin.
type rod struct{}

type rodFigures struct {
	MmPerHole float64 `json:"mmPerHole"`
	Holes     int     `json:"holes"`
}

type rodSetting struct {
	Hole int `json:"hole"`
}

func (rod) Travel(f rodFigures, at *rodSetting) (adjuster.Travel[rodSetting], error) {
	if at.Hole > f.Holes {
		return adjuster.Travel[rodSetting]{}, adjuster.Wrong("setting.hole", "is %d, must be from 1 to %d", at.Hole, f.Holes)
	}
	hole := func(n int) adjuster.Position[rodSetting] {
		return adjuster.Position[rodSetting]{Setting: rodSetting{n}, DepthMm: f.MmPerHole * float64(n), Count: float64(n)}
	}
	return adjuster.Travel[rodSetting]{Here: hole(at.Hole), Positions: adjuster.Steps(1, f.Holes, hole)}, nil
}

func (rod) Say(m adjuster.Move[rodFigures, rodSetting]) adjuster.Words {
	return adjuster.Words{Say: fmt.Sprintf("Move the pin %s %s.", m.Counted(), m.Direction())}
}

func rodStyle() adjuster.Style {
	return adjuster.Style{
		ID: "pinned-rod", Version: "1.0.0", TouchSeconds: 60,
		English: adjuster.Text{Title: "Rod with a pin", CountUnit: adjuster.CountUnit{One: "hole", Other: "holes"}},
		FiguresSchema: `{"type": "object", "additionalProperties": false, "required": ["mmPerHole", "holes"], "properties": {
			"mmPerHole": {"type": "number", "title": "Depth per hole", "description": "At the opener.", "minimum": 1, "maximum": 50, "examples": [12.7]},
			"holes": {"type": "integer", "title": "Holes", "description": "Hole 1 is the shallowest.", "minimum": 2, "maximum": 100, "examples": [8]}}}`,
		SettingSchema: `{"type": "object", "additionalProperties": false, "required": ["hole"], "properties": {
			"hole": {"type": "integer", "title": "Hole", "description": "The hole that the pin is in.", "minimum": 1, "maximum": 100, "x-deeper": "LARGER"}}}`,
	}
}

// stuckRod never answers.
type stuckRod struct{ rod }

func (stuckRod) Travel(rodFigures, *rodSetting) (adjuster.Travel[rodSetting], error) { select {} }
