// Command pin-plate is the adjuster of depth plates with a row of holes and a pin, each hole with a depth
// of its own. The holes are marked, so that in the field every row moves alike.
package main

import "rowdatum/adjusters/adjuster"

func main() { adjuster.Serve(style(), plate{}) }

// style says what a pin plate is. Its constants are ours, no source; the limits of its inspection points are
// common practice, no source.
func style() adjuster.Style {
	return adjuster.Style{
		ID: "pin-plate", Version: "1.0.0",
		KeepsMarks: true, SetsPlantingDepth: true,
		FiguresSchema: figuresSchema, SettingSchema: settingSchema,
		ScaleSd: 0.03, SeatingMm: 0.3, TouchSeconds: 90,
		English: adjuster.Text{
			Title:     "Pin plate",
			CountUnit: adjuster.CountUnit{One: "hole", Other: "holes"},
			InspectionPoints: []adjuster.InspectionPoint{
				{ID: "pin-hole", Title: "Wear of the hole in use, over the pin's diameter", Unit: "mm", Limit: 1.5, WorseWhen: adjuster.WorseLarger,
					Guidance: "Measure the hole across its worn direction and take off the pin's diameter. The limit is common practice; follow the maker's manual where it gives one. Past it, replace the plate."},
				{ID: "arm-play", Title: "Play of each gauge-wheel arm on its pivot", Unit: "mm", Limit: 2, WorseWhen: adjuster.WorseLarger,
					Guidance: "Move each gauge wheel up and down by hand with the row on its stand. Measure left and right apart: they wear apart. The limit is common practice; follow the maker's manual where it gives one. Past it, renew the bushing."},
				{ID: "opener-disc", Title: "Diameter of the opener discs", Unit: "mm", Limit: 368, WorseWhen: adjuster.WorseSmaller,
					Guidance: "Measure across each disc; a new one is commonly {381 mm|15 in}. Replacing at {368 mm|14 1/2 in} is common practice, some go to {356 mm|14 in}; follow the maker's manual where it gives a limit. Half of what the discs lose in diameter the row loses in depth, at the same setting."},
				{ID: "pin-clip", Title: "The pin's clip holds it",
					Guidance: "Pull at the pin with its clip in: it must stay. Replace a bent or missing clip. Common practice; follow the maker's manual."},
			},
			Cautions: []string{
				"Set the row on a stand or the ground with the lift locked out before a hand goes near the depth linkage; never reach under a row that only hydraulics hold up.",
				"Hold up the gauge wheels before the pin comes out: the arm drops, and holes shear fingers.",
				"Never line up holes with a finger; use a drift. Put the clip back before the row is let down.",
			},
		},
		Languages: []adjuster.Language{spanish},
	}
}

const figuresSchema = `{
  "$schema": "https://json-schema.org/draft/2020-12/schema",
  "type": "object",
  "title": "Figures of a pin plate",
  "additionalProperties": false,
  "required": ["holesMm"],
  "properties": {
    "holesMm": {
      "type": "array", "title": "Depth of each hole", "x-unit": "mm", "minItems": 2, "maxItems": 200,
      "description": "The depth that each hole sets, at the opener, from the shallowest to the deepest.",
      "items": {"type": "number", "title": "Depth of this hole", "x-unit": "mm", "minimum": -100, "maximum": 500},
      "examples": [[20, 27, 33, 41.5, 51], [30, 36]]
    }
  }
}`

const settingSchema = `{
  "$schema": "https://json-schema.org/draft/2020-12/schema",
  "type": "object",
  "title": "Where a pin plate stands",
  "additionalProperties": false,
  "required": ["hole"],
  "properties": {
    "hole": {
      "type": "integer", "title": "Hole", "minimum": 1, "maximum": 200, "x-deeper": "LARGER",
      "description": "The hole that the pin is in, counted from the shallowest.",
      "examples": [2, 1]
    }
  }
}`
