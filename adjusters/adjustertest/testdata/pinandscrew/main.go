// Command pin-and-screw is an invented adjuster with two controls: a pin in one of a few holes for coarse
// steps, and a screw with clicks for fine ones. Pulling the pin takes 120 seconds, turning the screw
// alone 45, and most depths can be had in both ways.
package main

import (
	"fmt"

	"rowdatum/adjusters/adjuster"
)

func main() { adjuster.Serve(style, pinAndScrew{}) }

type figures struct {
	Holes         int     `json:"holes"`
	ClicksPerHole int     `json:"clicksPerHole"`
	Clicks        int     `json:"clicks"`
	MmPerClick    float64 `json:"mmPerClick"`
}

type setting struct {
	Hole  int `json:"hole"`  // 1 is the shallowest
	Click int `json:"click"` // 0 is the shallowest
}

type pinAndScrew struct{}

// Seconds at the row; ours, no source.
const (
	pinSeconds   = 120
	screwSeconds = 45
)

// Travel gives every hole with every click, the row's own hole first: of two ways to one depth, the one
// that leaves the pin in is preferred.
func (pinAndScrew) Travel(f figures, at *setting) (adjuster.Travel[setting], error) {
	var wrong adjuster.Violations
	if at.Hole > f.Holes {
		wrong = append(wrong, adjuster.Violation{Field: "setting.hole", Message: fmt.Sprintf("is %d, must be from 1 to %d", at.Hole, f.Holes)})
	}
	if at.Click > f.Clicks {
		wrong = append(wrong, adjuster.Violation{Field: "setting.click", Message: fmt.Sprintf("is %d, must be from 0 to %d", at.Click, f.Clicks)})
	}
	if most := adjuster.MaxOptions / (f.Clicks + 1); f.Holes > most {
		wrong = append(wrong, adjuster.Violation{Field: "figures.holes", Message: fmt.Sprintf("is %d, must be at most %d with %d clicks", f.Holes, most, f.Clicks)})
	}
	if wrong != nil {
		return adjuster.Travel[setting]{}, wrong
	}
	positions := func(yield func(adjuster.Position[setting]) bool) {
		for n := range f.Holes {
			hole := 1 + (at.Hole-1+n)%f.Holes
			for click := range f.Clicks + 1 {
				if !yield(f.position(at, setting{hole, click})) {
					return
				}
			}
		}
	}
	return adjuster.Travel[setting]{Here: f.position(at, *at), Positions: positions}, nil
}

// position counts all in clicks: a hole is worth a whole number of them.
func (f figures) position(from *setting, to setting) adjuster.Position[setting] {
	clicks := float64(to.Hole*f.ClicksPerHole + to.Click)
	p := adjuster.Position[setting]{Setting: to, DepthMm: f.MmPerClick * clicks, Count: clicks, Seconds: screwSeconds}
	if to.Hole != from.Hole {
		p.Seconds = pinSeconds
	}
	return p
}

// Say names the pin only where it is pulled, and the screw only where it is turned. The screw alone has
// slack.
func (pinAndScrew) Say(m adjuster.Move[figures, setting]) adjuster.Words {
	if m.Leave {
		return adjuster.Words{}
	}
	clicks := m.To.Click - m.From.Click
	out := adjuster.Words{SlackPart: &adjuster.Part{EffectMm: m.Figures.MmPerClick * float64(clicks), Count: float64(clicks),
		LeftMm: m.Figures.MmPerClick * float64(left(m, clicks))}}
	switch {
	case m.To.Hole == m.From.Hole:
		out.Say = "Leave the pin in. " + turn(clicks, m.To.Click)
	case clicks == 0:
		out.Say = pull(m.To.Hole)
	default:
		out.Say = pull(m.To.Hole) + " " + turn(clicks, m.To.Click)
	}
	return out
}

func left(m adjuster.Move[figures, setting], clicks int) int {
	if clicks > 0 {
		return m.Figures.Clicks - m.To.Click
	}
	return m.To.Click
}

func pull(hole int) string { return fmt.Sprintf("Pull the pin and put it into hole %d.", hole) }

func turn(clicks, to int) string {
	way, unit := "deeper", "clicks"
	if clicks < 0 {
		way, clicks = "shallower", -clicks
	}
	if clicks == 1 {
		unit = "click"
	}
	return fmt.Sprintf("Turn the screw %d %s %s, to click %d.", clicks, unit, way, to)
}

var style = adjuster.Style{
	ID: "pin-and-screw", Version: "1.0.0", SetsPlantingDepth: true,
	ScaleSd: 0.05, SeatingMm: 0.3, SlackMm: 0.4, Approach: adjuster.ApproachDeeper, TouchSeconds: pinSeconds, // ours, no source
	English: adjuster.Text{
		Title: "Pin for the coarse step, screw for the fine one", CountUnit: adjuster.CountUnit{One: "click", Other: "clicks"},
		Cautions: []string{"Lock out the lift and set the row on a stand or the ground before the pin is pulled; never reach under a row that only hydraulics hold up."},
	},
	FiguresSchema: `{"type": "object", "title": "Figures of a pin and screw", "additionalProperties": false, "required": ["holes", "clicksPerHole", "clicks", "mmPerClick"], "properties": {
		"holes": {"type": "integer", "title": "Holes", "description": "Hole 1 is the shallowest.", "minimum": 2, "maximum": 20, "examples": [6]},
		"clicksPerHole": {"type": "integer", "title": "Clicks in one hole", "description": "How many clicks of the screw are as deep as one hole.", "minimum": 1, "maximum": 60, "examples": [8]},
		"clicks": {"type": "integer", "title": "Clicks of the screw", "description": "From the shallow end of the screw to its deep end.", "minimum": 1, "maximum": 120, "examples": [30]},
		"mmPerClick": {"type": "number", "title": "Depth per click", "x-unit": "mm", "description": "At the opener.", "minimum": 0.1, "maximum": 5, "examples": [1.5]}}}`,
	SettingSchema: `{"type": "object", "title": "Where the pin and the screw stand", "additionalProperties": false, "required": ["hole", "click"], "properties": {
		"hole": {"type": "integer", "title": "Hole", "description": "The hole that the pin is in.", "minimum": 1, "maximum": 20, "x-deeper": "LARGER", "examples": [3]},
		"click": {"type": "integer", "title": "Click", "description": "Clicks from the shallow end of the screw, which is 0.", "minimum": 0, "maximum": 120, "x-deeper": "LARGER", "examples": [12]}}}`,
}
