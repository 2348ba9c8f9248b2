// Command shimmed-arm is the adjuster of gauge-wheel arms that are trimmed by shims: every stack that
// a kit can make, with the fewest shims changed. Shims only trim a row to the others.
package main

import "rowdatum/adjusters/adjuster"

func main() { adjuster.Serve(style(), arm{}) }

// style says what a shimmed arm is. Its constants are ours, no source; the limits of its inspection
// points are common practice, no source.
func style() adjuster.Style {
	return adjuster.Style{
		ID: "shimmed-arm", Version: "1.0.0",
		FiguresSchema: figuresSchema, SettingSchema: settingSchema,
		ScaleSd: 0.03, SeatingMm: 0.2, TouchSeconds: 300,
		English: adjuster.Text{
			Title:     "Shimmed gauge-wheel arm",
			CountUnit: adjuster.CountUnit{One: "shim", Other: "shims"},
			InspectionPoints: []adjuster.InspectionPoint{
				{ID: "arm-play", Title: "Play of each gauge-wheel arm on its pivot", Unit: "mm", Limit: 2, WorseWhen: adjuster.WorseLarger,
					Guidance: "Move each gauge wheel up and down by hand with the row on its stand. Measure left and right apart: they wear apart. The limit is common practice; follow the maker's manual where it gives one. Past it, renew the bushing before changing shims."},
				{ID: "arm-hole", Title: "Wear of the arm's hole, over the bolt's diameter", Unit: "mm", Limit: 1.5, WorseWhen: adjuster.WorseLarger,
					Guidance: "Measure the hole across its worn direction and take off the bolt's diameter. The limit is common practice; follow the maker's manual where it gives one. Past it, replace or bush the arm."},
				{ID: "opener-disc", Title: "Diameter of the opener discs", Unit: "mm", Limit: 368, WorseWhen: adjuster.WorseSmaller,
					Guidance: "Measure across each disc; a new one is commonly {381 mm|15 in}. Replacing at {368 mm|14 1/2 in} is common practice, some go to {356 mm|14 in}; follow the maker's manual where it gives a limit. Half of what the discs lose in diameter the row loses in depth, at the same setting."},
				{ID: "shims-flat", Title: "Shims flat, clean and without burrs",
					Guidance: "Take the stack apart and wipe every shim. Replace bent, rusty or hammered ones: they add thickness that goes away in use. Common practice; follow the maker's manual."},
			},
			Cautions: []string{
				"Set the row on a stand with the lift locked out before loosening an arm; never reach under a row that only hydraulics hold up.",
				"Hold up the gauge wheel before its bolt comes out: the arm drops.",
				"Measure every shim before it goes in; sheet differs from its nominal thickness by several percent.",
				"Tighten the bolt as the maker's manual says, then let the row settle before reading it.",
				"Shims trim a row to the others; its handle or stop sets planting depth.",
			},
		},
		Languages: []adjuster.Language{spanish},
	}
}

const figuresSchema = `{
  "$schema": "https://json-schema.org/draft/2020-12/schema",
  "type": "object",
  "title": "Figures of a shimmed gauge-wheel arm",
  "additionalProperties": false,
  "required": ["leverRatio", "kitMm", "stackMaxMm", "shimMakes"],
  "properties": {
    "leverRatio": {
      "type": "number", "title": "Lever ratio", "minimum": 0.01, "maximum": 20,
      "description": "How far the opener moves for a shim, over the shim's thickness: 2 where it moves twice as far as the shim is thick.",
      "examples": [1.8, 1]
    },
    "kitMm": {
      "type": "array", "title": "Shim kit", "x-unit": "mm", "minItems": 1, "maxItems": 32, "uniqueItems": true,
      "description": "The thicknesses of shim at hand, each once; any number of each may be used.",
      "items": {"type": "number", "title": "Thickness", "x-unit": "mm", "minimum": 0.05, "maximum": 50},
      "examples": [[0.5, 1, 2, 3]]
    },
    "stackMaxMm": {
      "type": "number", "title": "Largest stack", "x-unit": "mm", "minimum": 0.05, "maximum": 100,
      "description": "The thickest stack that the arm and its bolts take.",
      "examples": [12]
    },
    "shimMakes": {
      "type": "string", "title": "A shim more makes the row", "enum": ["DEEPER", "SHALLOWER"], "x-labels": ["deeper", "shallower"],
      "description": "Whether adding a shim makes this row deeper or shallower."
    }
  }
}`

const settingSchema = `{
  "$schema": "https://json-schema.org/draft/2020-12/schema",
  "type": "object",
  "title": "The shims in a gauge-wheel arm",
  "additionalProperties": false,
  "required": ["shimsMm"],
  "properties": {
    "shimsMm": {
      "type": "array", "title": "Shims in the stack now", "x-unit": "mm", "maxItems": 100,
      "description": "The thickness of every shim in the stack now; an empty list where there is none.",
      "items": {"type": "number", "title": "Thickness", "x-unit": "mm", "minimum": 0.001, "maximum": 100},
      "examples": [[2, 1], []]
    }
  }
}`
