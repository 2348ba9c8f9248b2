// Command notched-stop is the adjuster of depth stops that move in notches, evenly spaced or each
// with a depth of its own. Their handles are marked, so that in the field every row moves alike.
package main

import "rowdatum/adjusters/adjuster"

func main() { adjuster.Serve(style(), stop{}) }

// style says what a notched stop is. Its constants are ours, no source; the limits of its inspection
// points are common practice, no source.
func style() adjuster.Style {
	return adjuster.Style{
		ID: "notched-stop", Version: "1.0.0",
		KeepsMarks: true, SetsPlantingDepth: true,
		FiguresSchema: figuresSchema, SettingSchema: settingSchema, SettingOptional: true,
		ScaleSd: 0.05, SeatingMm: 0.3, TouchSeconds: 60,
		English: adjuster.Text{
			Title:     "Notched depth stop",
			CountUnit: adjuster.CountUnit{One: "notch", Other: "notches"},
			InspectionPoints: []adjuster.InspectionPoint{
				{ID: "notch-wear", Title: "Play of the stop within its notch, as travel at the opener", Unit: "mm", Limit: 1.5, WorseWhen: adjuster.WorseLarger,
					Guidance: "Rock the stop in its notch and measure how far the opener's depth changes. The limit is common practice; follow the maker's manual where it gives one. Past it, replace the stop or its rack."},
				{ID: "contact-wear", Title: "Wear of the contact faces of the depth linkage", Unit: "mm", Limit: 3, WorseWhen: adjuster.WorseLarger,
					Guidance: "Lay a straight edge over the face where the gauge-wheel arm meets the stop and measure the hollow. The limit is common practice; follow the maker's manual where it gives one. Past it, replace the worn part."},
				{ID: "arm-play", Title: "Play of each gauge-wheel arm on its pivot", Unit: "mm", Limit: 2, WorseWhen: adjuster.WorseLarger,
					Guidance: "Move each gauge wheel up and down by hand with the row on its stand. Measure left and right apart: they wear apart. The limit is common practice; follow the maker's manual where it gives one. Past it, renew the bushing."},
				{ID: "opener-disc", Title: "Diameter of the opener discs", Unit: "mm", Limit: 368, WorseWhen: adjuster.WorseSmaller,
					Guidance: "Measure across each disc; a new one is commonly {381 mm|15 in}. Replacing at {368 mm|14 1/2 in} is common practice, some go to {356 mm|14 in}; follow the maker's manual where it gives a limit. Half of what the discs lose in diameter the row loses in depth, at the same setting."},
				{ID: "spring", Title: "The stop's spring pulls it fully into the notch",
					Guidance: "Lift the stop and let go: it must drop home by itself in every notch. Clean or replace the spring if it does not. Common practice; follow the maker's manual."},
			},
			Cautions: []string{
				"Set the row on a stand or the ground with the lift locked out before a hand goes near the depth stop; never reach under a row that only hydraulics hold up.",
				"Take the load off the gauge wheels before lifting a stop out of its notch, and let go only when it sits fully in the next one.",
				"A notched stop can leave a row up to half a notch from where it should be.",
			},
		},
		Languages: []adjuster.Language{spanish},
	}
}

const figuresSchema = `{
  "$schema": "https://json-schema.org/draft/2020-12/schema",
  "type": "object",
  "title": "Figures of a notched depth stop",
  "additionalProperties": false,
  "required": ["notches"],
  "oneOf": [{"required": ["mmPerNotch"]}, {"required": ["depthsMm"]}],
  "properties": {
    "notches": {
      "type": "integer", "title": "Notches", "minimum": 2, "maximum": 500,
      "description": "How many notches the stop has. Notch 1 is the shallowest.",
      "examples": [20, 12]
    },
    "mmPerNotch": {
      "type": "number", "title": "Depth per notch", "x-unit": "mm", "minimum": 0.1, "maximum": 100,
      "description": "How much deeper each notch sets the row, at the opener, where the notches are even. {6.35 mm|1/4 in} is common practice.",
      "examples": [6.35, 4]
    },
    "depthsMm": {
      "type": "array", "title": "Depth of each notch", "x-unit": "mm", "minItems": 2, "maxItems": 500,
      "description": "The depth of every notch, from the shallowest to the deepest, where the notches are uneven.",
      "items": {"type": "number", "title": "Depth of this notch", "x-unit": "mm", "minimum": -100, "maximum": 500},
      "examples": [[20, 26, 32.5, 39.5, 47]]
    }
  }
}`

const settingSchema = `{
  "$schema": "https://json-schema.org/draft/2020-12/schema",
  "type": "object",
  "title": "Where a notched depth stop stands",
  "additionalProperties": false,
  "required": ["notch"],
  "properties": {
    "notch": {
      "type": "integer", "title": "Notch", "minimum": 1, "maximum": 500, "x-deeper": "LARGER",
      "description": "The notch that the stop is in, counted from the shallowest.",
      "examples": [9]
    }
  }
}`
