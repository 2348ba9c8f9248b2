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
		Spanish: adjuster.Text{
			Title:     "Perno excéntrico",
			CountUnit: adjuster.CountUnit{One: "clic", Other: "clics"},
			InspectionPoints: []adjuster.InspectionPoint{
				{ID: "cam-play", Title: "Juego de la leva en su asiento, como recorrido en el abresurco", Unit: "mm", Limit: 1.5, WorseWhen: adjuster.WorseLarger,
					Guidance: "Mueva la leva de un lado a otro sin girarla y mida cuánto cambia la profundidad del abresurco. El límite es práctica común; siga el manual del fabricante donde dé uno. Si lo pasa, cambie el perno o su asiento."},
				{ID: "arm-play", Title: "Juego de cada brazo de rueda niveladora en su pivote", Unit: "mm", Limit: 2, WorseWhen: adjuster.WorseLarger,
					Guidance: "Mueva cada rueda niveladora hacia arriba y hacia abajo con la mano, con el surco sobre su soporte. Mida izquierda y derecha por separado: se desgastan por separado. El límite es práctica común; siga el manual del fabricante donde dé uno. Si lo pasa, cambie el buje."},
				{ID: "opener-disc", Title: "Diámetro de los discos abresurcos", Unit: "mm", Limit: 368, WorseWhen: adjuster.WorseSmaller,
					Guidance: "Mida de lado a lado de cada disco; uno nuevo tiene comúnmente {381 mm|15 pulg}. Cambiarlo a los {368 mm|14 1/2 pulg} es práctica común, algunos llegan a {356 mm|14 pulg}; siga el manual del fabricante donde dé un límite. La mitad de lo que los discos pierden en diámetro el surco lo pierde en profundidad, con el mismo ajuste."},
				{ID: "bolt-lock", Title: "El seguro del perno lo sujeta en su clic",
					Guidance: "Trate de girar el perno apretado: no debe moverse. Una leva que se corre pierde la profundidad en el campo. Práctica común; siga el manual del fabricante."},
			},
			Cautions: []string{
				"Apoye el surco sobre un soporte o en el suelo, con el levante bloqueado, antes de acercar una mano al mecanismo de profundidad; nunca meta la mano debajo de un surco sostenido solo por la hidráulica.",
				"Quite la carga de las ruedas niveladoras antes de aflojar el perno: una leva con carga gira de golpe, y la llave con ella.",
				"Cerca de 0 y de 180 grados un clic cambia poco; en el medio es donde más cambia.",
				"La leva tiene juego: termine cada movimiento en sentido más profundo y luego apriete el perno como dice el manual del fabricante.",
			},
		},
	}
}

const figuresSchema = `{
  "$schema": "https://json-schema.org/draft/2020-12/schema",
  "type": "object",
  "title": "Figures of a cam bolt", "x-es": {"title": "Datos de un perno excéntrico"},
  "additionalProperties": false,
  "required": ["throwMm", "clickDegrees"],
  "properties": {
    "throwMm": {
      "type": "number", "title": "Throw", "x-unit": "mm", "minimum": 0.1, "maximum": 200,
      "description": "Half of the depth, at the opener, between the cam at 0 and at 180 degrees.",
      "x-es": {"title": "Excentricidad", "description": "La mitad de la profundidad, en el abresurco, entre la leva a 0 y a 180 grados."},
      "examples": [12, 8]
    },
    "clickDegrees": {
      "type": "number", "title": "Degrees per click", "x-unit": "degrees", "minimum": 0.2, "maximum": 180,
      "description": "How far the bolt turns from one click to the next.",
      "x-es": {"x-unit": "grados", "title": "Grados por clic", "description": "Cuánto gira el perno de un clic al siguiente."},
      "examples": [15, 22.5]
    }
  }
}`

const settingSchema = `{
  "$schema": "https://json-schema.org/draft/2020-12/schema",
  "type": "object",
  "title": "Where a cam bolt stands", "x-es": {"title": "Dónde está un perno excéntrico"},
  "additionalProperties": false,
  "required": ["degrees"],
  "properties": {
    "degrees": {
      "type": "number", "title": "Angle", "x-unit": "degrees", "minimum": 0, "maximum": 180, "x-deeper": "LARGER",
      "description": "How far the cam is turned from its shallowest position.",
      "x-es": {"x-unit": "grados", "title": "Ángulo", "description": "Cuánto está girada la leva desde su posición menos profunda."},
      "examples": [90, 45]
    }
  }
}`
