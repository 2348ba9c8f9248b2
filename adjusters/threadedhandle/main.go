// Command threaded-handle is the adjuster of depth handles on a thread: so many mm a turn, in steps
// that the handle's lock allows, between a shallow and a deep stop.
package main

import "rowdatum/adjusters/adjuster"

func main() { adjuster.Serve(style(), handle{}) }

// style says what a threaded handle is. Its constants are ours, no source; the limits of its
// inspection points are common practice, no source.
func style() adjuster.Style {
	return adjuster.Style{
		ID: "threaded-handle", Version: "1.0.0",
		SetsPlantingDepth: true,
		FiguresSchema:     figuresSchema, SettingSchema: settingSchema, SettingOptional: true,
		ScaleSd: 0.08, SeatingMm: 0.3, SlackMm: 0.6, Approach: adjuster.ApproachDeeper, TouchSeconds: 60,
		CountStep: 0.25,
		English: adjuster.Text{
			Title:     "Threaded depth handle",
			CountUnit: adjuster.CountUnit{One: "turn", Other: "turns"},
			InspectionPoints: []adjuster.InspectionPoint{
				{ID: "handle-play", Title: "Play of the handle in its thread, along the rod", Unit: "mm", Limit: 1.5, WorseWhen: adjuster.WorseLarger,
					Guidance: "Push and pull the handle along its rod and measure how far it moves before the depth linkage does. The limit is common practice; follow the maker's manual where it gives one. Past it, replace the handle or its nut before leveling this row."},
				{ID: "contact-wear", Title: "Wear of the contact faces of the depth linkage", Unit: "mm", Limit: 3, WorseWhen: adjuster.WorseLarger,
					Guidance: "Lay a straight edge over the face where the gauge-wheel arm meets the linkage and measure the hollow. The limit is common practice; follow the maker's manual where it gives one. Past it, replace the worn part: it no longer gives its full travel."},
				{ID: "arm-play", Title: "Play of each gauge-wheel arm on its pivot", Unit: "mm", Limit: 2, WorseWhen: adjuster.WorseLarger,
					Guidance: "Move each gauge wheel up and down by hand with the row on its stand. Measure left and right apart: they wear apart. The limit is common practice; follow the maker's manual where it gives one. Past it, renew the bushing."},
				{ID: "opener-disc", Title: "Diameter of the opener discs", Unit: "mm", Limit: 368, WorseWhen: adjuster.WorseSmaller,
					Guidance: "Measure across each disc; a new one is commonly {381 mm|15 in}. Replacing at {368 mm|14 1/2 in} is common practice, some go to {356 mm|14 in}; follow the maker's manual where it gives a limit. Half of what the discs lose in diameter the row loses in depth, at the same setting."},
				{ID: "handle-lock", Title: "The handle's lock or detent holds",
					Guidance: "Try to turn the handle without releasing its lock. It must not move: a handle that creeps loses the depth in the field. Common practice; follow the maker's manual."},
			},
			Cautions: []string{
				"Set the row on a stand or the ground with the lift locked out before a hand goes near the depth linkage; never reach under a row that only hydraulics hold up.",
				"Take the load off the gauge wheels before turning a handle, then let the row settle on its stop again before reading it.",
				"The thread has slack: finish every move in the deeper direction.",
			},
		},
		Languages: []adjuster.Language{spanish},
	}
}

const figuresSchema = `{
  "$schema": "https://json-schema.org/draft/2020-12/schema",
  "type": "object",
  "title": "Figures of a threaded depth handle",
  "additionalProperties": false,
  "required": ["mmPerTurn", "smallestTurn", "totalTurns"],
  "properties": {
    "mmPerTurn": {
      "type": "number", "title": "Depth per turn", "x-unit": "mm", "minimum": 0.1, "maximum": 50,
      "description": "How much deeper one full turn sets the row, at the opener. A handle that works through a lever moves more or less than its thread's lead: measure it over several turns.",
      "examples": [6.35, 3.175, 2.5]
    },
    "smallestTurn": {
      "type": "number", "title": "Smallest step", "x-unit": "turn", "minimum": 0.01, "maximum": 10,
      "description": "The smallest part of a turn at which the handle can be locked. A quarter turn is common practice.",
      "default": 0.25, "examples": [0.25, 0.5, 1]
    },
    "totalTurns": {
      "type": "number", "title": "Whole travel", "x-unit": "turns", "exclusiveMinimum": 0, "maximum": 200,
      "description": "Turns from the shallow stop to the deep stop.",
      "examples": [16, 12]
    }
  }
}`

const settingSchema = `{
  "$schema": "https://json-schema.org/draft/2020-12/schema",
  "type": "object",
  "title": "Where a threaded depth handle stands",
  "additionalProperties": false,
  "required": ["turns"],
  "properties": {
    "turns": {
      "type": "number", "title": "Turns from the shallow stop", "x-unit": "turns", "minimum": 0, "maximum": 200, "x-deeper": "LARGER",
      "description": "How many turns the handle stands deeper than its shallow stop.",
      "examples": [8, 7.75]
    }
  }
}`
