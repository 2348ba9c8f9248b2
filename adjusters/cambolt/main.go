// Command cam-bolt is the adjuster of eccentric bolts that turn in clicks between 0 and 180 degrees: even
// clicks, uneven steps of depth.
package main

import "rowdatum/adjusters/adjuster"

func main() { adjuster.Serve(style(), cam{}) }

// style says what a cam bolt is. Its constants are ours, no source; the limits of its inspection points are
// common practice, no source.
func style() adjuster.Style {
	return adjuster.Style{
		ID: "cam-bolt", Version: "1.0.0",
		SetsPlantingDepth: true,
		FiguresSchema:     figuresSchema, SettingSchema: settingSchema,
		ScaleSd: 0.05, SeatingMm: 0.3, SlackMm: 0.3, Approach: adjuster.ApproachDeeper, TouchSeconds: 90,
		English: adjuster.Text{
			Title:     "Cam bolt",
			CountUnit: adjuster.CountUnit{One: "click", Other: "clicks"},
			InspectionPoints: []adjuster.InspectionPoint{
				{ID: "cam-play", Title: "Play of the cam in its seat, as travel at the opener", Unit: "mm", Limit: 1.5, WorseWhen: adjuster.WorseLarger,
					Guidance: "Rock the cam without turning it and measure how far the opener's depth changes. The limit is common practice; follow the maker's manual where it gives one. Past it, replace the bolt or its seat."},
				{ID: "arm-play", Title: "Play of each gauge-wheel arm on its pivot", Unit: "mm", Limit: 2, WorseWhen: adjuster.WorseLarger,
					Guidance: "Move each gauge wheel up and down by hand with the row on its stand. Measure left and right apart: they wear apart. The limit is common practice; follow the maker's manual where it gives one. Past it, renew the bushing."},
				{ID: "opener-disc", Title: "Diameter of the opener discs", Unit: "mm", Limit: 368, WorseWhen: adjuster.WorseSmaller,
					Guidance: "Measure across each disc; a new one is commonly {381 mm|15 in}. Replacing at {368 mm|14 1/2 in} is common practice, some go to {356 mm|14 in}; follow the maker's manual where it gives a limit. Half of what the discs lose in diameter the row loses in depth, at the same setting."},
				{ID: "bolt-lock", Title: "The bolt's lock holds it at its click",
					Guidance: "Try to turn the tightened bolt: it must not move. A cam that creeps loses the depth in the field. Common practice; follow the maker's manual."},
			},
			Cautions: []string{
				"Set the row on a stand or the ground with the lift locked out before a hand goes near the depth linkage; never reach under a row that only hydraulics hold up.",
				"Take the load off the gauge wheels before loosening the bolt: a loaded cam spins, and its wrench with it.",
				"Near 0 and 180 degrees a click changes little; in the middle it changes most.",
				"The cam has slack: finish every move in the deeper direction, then tighten the bolt as the maker's manual says.",
			},
		},
		Languages: []adjuster.Language{spanish},
	}
}

const figuresSchema = `{
  "$schema": "https://json-schema.org/draft/2020-12/schema",
  "type": "object",
  "title": "Figures of a cam bolt",
  "additionalProperties": false,
  "required": ["throwMm", "clickDegrees"],
  "properties": {
    "throwMm": {
      "type": "number", "title": "Throw", "x-unit": "mm", "minimum": 0.1, "maximum": 200,
      "description": "Half of the depth, at the opener, between the cam at 0 and at 180 degrees.",
      "examples": [12, 8]
    },
    "clickDegrees": {
      "type": "number", "title": "Degrees per click", "x-unit": "degrees", "minimum": 0.2, "maximum": 180,
      "description": "How far the bolt turns from one click to the next.",
      "examples": [15, 22.5]
    }
  }
}`

const settingSchema = `{
  "$schema": "https://json-schema.org/draft/2020-12/schema",
  "type": "object",
  "title": "Where a cam bolt stands",
  "additionalProperties": false,
  "required": ["degrees"],
  "properties": {
    "degrees": {
      "type": "number", "title": "Angle", "x-unit": "degrees", "minimum": 0, "maximum": 180, "x-deeper": "LARGER",
      "description": "How far the cam is turned from its shallowest position.",
      "examples": [90, 45]
    }
  }
}`
