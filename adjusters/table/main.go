// Command table is the adjuster of any mechanism that somebody can list: a name and a nominal depth for
// each of its settings. It needs no program of its own.
package main

import "rowdatum/adjusters/adjuster"

func main() { adjuster.Serve(style(), table{}) }

// style says what is common to whatever a table describes. Its constants are ours, no source: nobody knows
// the mechanism.
func style() adjuster.Style {
	return adjuster.Style{
		ID: "table", Version: "1.0.0",
		KeepsMarks: true, SetsPlantingDepth: true,
		FiguresSchema: figuresSchema, SettingSchema: settingSchema,
		ScaleSd: 0.05, SeatingMm: 0.3, TouchSeconds: 90,
		English: adjuster.Text{
			Title:     "Table of settings",
			CountUnit: adjuster.CountUnit{One: "step", Other: "steps"},
			InspectionPoints: []adjuster.InspectionPoint{
				{ID: "arm-play", Title: "Play of each gauge-wheel arm on its pivot", Unit: "mm", Limit: 2, WorseWhen: adjuster.WorseLarger,
					Guidance: "Move each gauge wheel up and down by hand with the row on its stand. Measure left and right apart: they wear apart. The limit is common practice; follow the maker's manual where it gives one. Past it, renew the bushing."},
				{ID: "opener-disc", Title: "Diameter of the opener discs", Unit: "mm", Limit: 368, WorseWhen: adjuster.WorseSmaller,
					Guidance: "Measure across each disc; a new one is commonly {381 mm|15 in}. Replacing at {368 mm|14 1/2 in} is common practice, some go to {356 mm|14 in}; follow the maker's manual where it gives a limit. Half of what the discs lose in diameter the row loses in depth, at the same setting."},
				{ID: "setting-holds", Title: "The mechanism stays at its setting",
					Guidance: "Load and unload the gauge wheels and look whether the setting moved: it must not. Common practice; follow the maker's manual."},
			},
			Cautions: []string{
				"Set the row on a stand or the ground with the lift locked out before a hand goes near the depth linkage; never reach under a row that only hydraulics hold up.",
				"Take the load off the gauge wheels before the mechanism is loosened, and let the row settle before reading it.",
				"The depths of this mechanism come from a table that the shop wrote; follow the maker's manual in how it is moved.",
			},
		},
		Languages: []adjuster.Language{spanish},
	}
}

const figuresSchema = `{
  "$schema": "https://json-schema.org/draft/2020-12/schema",
  "type": "object",
  "title": "A table of settings and depths",
  "additionalProperties": false,
  "required": ["settings", "depthsMm"],
  "properties": {
    "settings": {
      "type": "array", "title": "Settings", "minItems": 2, "maxItems": 200,
      "description": "The name of every setting, from the shallowest to the deepest, as it is written on the mechanism.",
      "items": {"type": "string", "title": "Setting", "minLength": 1, "maxLength": 40},
      "examples": [["A", "B", "C", "D"], ["1", "2", "3", "4"]]
    },
    "depthsMm": {
      "type": "array", "title": "Depth of each setting", "x-unit": "mm", "minItems": 2, "maxItems": 200,
      "description": "The nominal depth of every setting, at the opener, in the same order.",
      "items": {"type": "number", "title": "Depth of this setting", "x-unit": "mm", "minimum": -100, "maximum": 500},
      "examples": [[30, 36.5, 44, 50.5], [20, 26, 32.5, 40]]
    }
  }
}`

const settingSchema = `{
  "$schema": "https://json-schema.org/draft/2020-12/schema",
  "type": "object",
  "title": "Where the mechanism stands",
  "additionalProperties": false,
  "required": ["at"],
  "properties": {
    "at": {
      "type": "string", "title": "Setting", "minLength": 1, "maxLength": 40,
      "description": "The setting that the mechanism is at, named as in the table.",
      "examples": ["B", "2"]
    }
  }
}`
