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
		Spanish: adjuster.Text{
			Title:     "Placa con pasador",
			CountUnit: adjuster.CountUnit{One: "agujero", Other: "agujeros"},
			InspectionPoints: []adjuster.InspectionPoint{
				{ID: "pin-hole", Title: "Desgaste del agujero en uso, sobre el diámetro del pasador", Unit: "mm", Limit: 1.5, WorseWhen: adjuster.WorseLarger,
					Guidance: "Mida el agujero en el sentido del desgaste y reste el diámetro del pasador. El límite es práctica común; siga el manual del fabricante donde dé uno. Si lo pasa, cambie la placa."},
				{ID: "arm-play", Title: "Juego de cada brazo de rueda niveladora en su pivote", Unit: "mm", Limit: 2, WorseWhen: adjuster.WorseLarger,
					Guidance: "Mueva cada rueda niveladora hacia arriba y hacia abajo con la mano, con el surco sobre su soporte. Mida izquierda y derecha por separado: se desgastan por separado. El límite es práctica común; siga el manual del fabricante donde dé uno. Si lo pasa, cambie el buje."},
				{ID: "opener-disc", Title: "Diámetro de los discos abresurcos", Unit: "mm", Limit: 368, WorseWhen: adjuster.WorseSmaller,
					Guidance: "Mida de lado a lado de cada disco; uno nuevo tiene comúnmente {381 mm|15 pulg}. Cambiarlo a los {368 mm|14 1/2 pulg} es práctica común, algunos llegan a {356 mm|14 pulg}; siga el manual del fabricante donde dé un límite. La mitad de lo que los discos pierden en diámetro el surco lo pierde en profundidad, con el mismo ajuste."},
				{ID: "pin-clip", Title: "El seguro del pasador lo sujeta",
					Guidance: "Jale el pasador con el seguro puesto: debe quedarse. Cambie un seguro doblado o faltante. Práctica común; siga el manual del fabricante."},
			},
			Cautions: []string{
				"Apoye el surco sobre un soporte o en el suelo, con el levante bloqueado, antes de acercar una mano al mecanismo de profundidad; nunca meta la mano debajo de un surco sostenido solo por la hidráulica.",
				"Sostenga las ruedas niveladoras antes de sacar el pasador: el brazo cae, y los agujeros cortan dedos.",
				"Nunca alinee los agujeros con el dedo; use un punzón. Vuelva a poner el seguro antes de bajar el surco.",
			},
		},
	}
}

const figuresSchema = `{
  "$schema": "https://json-schema.org/draft/2020-12/schema",
  "type": "object",
  "title": "Figures of a pin plate", "x-es": {"title": "Datos de una placa con pasador"},
  "additionalProperties": false,
  "required": ["holesMm"],
  "properties": {
    "holesMm": {
      "type": "array", "title": "Depth of each hole", "x-unit": "mm", "minItems": 2, "maxItems": 200,
      "description": "The depth that each hole sets, at the opener, from the shallowest to the deepest.",
      "x-es": {"title": "Profundidad de cada agujero", "description": "La profundidad que da cada agujero, en el abresurco, del menos profundo al más profundo."},
      "items": {"type": "number", "title": "Depth of this hole", "x-es": {"title": "Profundidad de este agujero"}, "x-unit": "mm", "minimum": -100, "maximum": 500},
      "examples": [[20, 27, 33, 41.5, 51], [30, 36]]
    }
  }
}`

const settingSchema = `{
  "$schema": "https://json-schema.org/draft/2020-12/schema",
  "type": "object",
  "title": "Where a pin plate stands", "x-es": {"title": "Dónde está una placa con pasador"},
  "additionalProperties": false,
  "required": ["hole"],
  "properties": {
    "hole": {
      "type": "integer", "title": "Hole", "minimum": 1, "maximum": 200, "x-deeper": "LARGER",
      "description": "The hole that the pin is in, counted from the shallowest.",
      "x-es": {"title": "Agujero", "description": "El agujero en que está el pasador, contado desde el menos profundo."},
      "examples": [2, 1]
    }
  }
}`
