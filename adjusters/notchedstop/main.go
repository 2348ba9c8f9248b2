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
		Spanish: adjuster.Text{
			Title:     "Tope de profundidad con muescas",
			CountUnit: adjuster.CountUnit{One: "muesca", Other: "muescas"},
			InspectionPoints: []adjuster.InspectionPoint{
				{ID: "notch-wear", Title: "Juego del tope en su muesca, como recorrido en el abresurco", Unit: "mm", Limit: 1.5, WorseWhen: adjuster.WorseLarger,
					Guidance: "Mueva el tope de un lado a otro en su muesca y mida cuánto cambia la profundidad del abresurco. El límite es práctica común; siga el manual del fabricante donde dé uno. Si lo pasa, cambie el tope o su cremallera."},
				{ID: "contact-wear", Title: "Desgaste de las caras de contacto del mecanismo de profundidad", Unit: "mm", Limit: 3, WorseWhen: adjuster.WorseLarger,
					Guidance: "Apoye una regla sobre la cara donde el brazo de la rueda niveladora toca el tope y mida el hueco. El límite es práctica común; siga el manual del fabricante donde dé uno. Si lo pasa, cambie la pieza gastada."},
				{ID: "arm-play", Title: "Juego de cada brazo de rueda niveladora en su pivote", Unit: "mm", Limit: 2, WorseWhen: adjuster.WorseLarger,
					Guidance: "Mueva cada rueda niveladora hacia arriba y hacia abajo con la mano, con el surco sobre su soporte. Mida izquierda y derecha por separado: se desgastan por separado. El límite es práctica común; siga el manual del fabricante donde dé uno. Si lo pasa, cambie el buje."},
				{ID: "opener-disc", Title: "Diámetro de los discos abresurcos", Unit: "mm", Limit: 368, WorseWhen: adjuster.WorseSmaller,
					Guidance: "Mida de lado a lado de cada disco; uno nuevo tiene comúnmente {381 mm|15 pulg}. Cambiarlo a los {368 mm|14 1/2 pulg} es práctica común, algunos llegan a {356 mm|14 pulg}; siga el manual del fabricante donde dé un límite. La mitad de lo que los discos pierden en diámetro el surco lo pierde en profundidad, con el mismo ajuste."},
				{ID: "spring", Title: "El resorte del tope lo mete por completo en la muesca",
					Guidance: "Levante el tope y suéltelo: debe caer solo en su lugar en cada muesca. Si no lo hace, limpie o cambie el resorte. Práctica común; siga el manual del fabricante."},
			},
			Cautions: []string{
				"Apoye el surco sobre un soporte o en el suelo, con el levante bloqueado, antes de acercar una mano al tope de profundidad; nunca meta la mano debajo de un surco sostenido solo por la hidráulica.",
				"Quite la carga de las ruedas niveladoras antes de sacar un tope de su muesca, y suéltelo solo cuando esté por completo en la siguiente.",
				"Un tope con muescas puede dejar un surco hasta media muesca lejos de donde debería estar.",
			},
		},
	}
}

const figuresSchema = `{
  "$schema": "https://json-schema.org/draft/2020-12/schema",
  "type": "object",
  "title": "Figures of a notched depth stop", "x-es": {"title": "Datos de un tope de profundidad con muescas"},
  "additionalProperties": false,
  "required": ["notches"],
  "oneOf": [{"required": ["mmPerNotch"]}, {"required": ["depthsMm"]}],
  "properties": {
    "notches": {
      "type": "integer", "title": "Notches", "minimum": 2, "maximum": 500,
      "description": "How many notches the stop has. Notch 1 is the shallowest.",
      "x-es": {"title": "Muescas", "description": "Cuántas muescas tiene el tope. La muesca 1 es la menos profunda."},
      "examples": [20, 12]
    },
    "mmPerNotch": {
      "type": "number", "title": "Depth per notch", "x-unit": "mm", "minimum": 0.1, "maximum": 100,
      "description": "How much deeper each notch sets the row, at the opener, where the notches are even. {6.35 mm|1/4 in} is common practice.",
      "x-es": {"title": "Profundidad por muesca", "description": "Cuánto más profundo deja el surco cada muesca, en el abresurco, donde las muescas son parejas. {6.35 mm|1/4 pulg} es práctica común."},
      "examples": [6.35, 4]
    },
    "depthsMm": {
      "type": "array", "title": "Depth of each notch", "x-unit": "mm", "minItems": 2, "maxItems": 500,
      "description": "The depth of every notch, from the shallowest to the deepest, where the notches are uneven.",
      "x-es": {"title": "Profundidad de cada muesca", "description": "La profundidad de cada muesca, de la menos profunda a la más profunda, donde las muescas no son parejas."},
      "items": {"type": "number", "title": "Depth of this notch", "x-es": {"title": "Profundidad de esta muesca"}, "x-unit": "mm", "minimum": -100, "maximum": 500},
      "examples": [[20, 26, 32.5, 39.5, 47]]
    }
  }
}`

const settingSchema = `{
  "$schema": "https://json-schema.org/draft/2020-12/schema",
  "type": "object",
  "title": "Where a notched depth stop stands", "x-es": {"title": "Dónde está un tope de profundidad con muescas"},
  "additionalProperties": false,
  "required": ["notch"],
  "properties": {
    "notch": {
      "type": "integer", "title": "Notch", "minimum": 1, "maximum": 500, "x-deeper": "LARGER",
      "description": "The notch that the stop is in, counted from the shallowest.",
      "x-es": {"title": "Muesca", "description": "La muesca en que está el tope, contada desde la menos profunda."},
      "examples": [9]
    }
  }
}`
