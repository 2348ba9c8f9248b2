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
		Spanish: adjuster.Text{
			Title:     "Manija de profundidad con rosca",
			CountUnit: adjuster.CountUnit{One: "vuelta", Other: "vueltas"},
			InspectionPoints: []adjuster.InspectionPoint{
				{ID: "handle-play", Title: "Juego de la manija en su rosca, a lo largo de la varilla", Unit: "mm", Limit: 1.5, WorseWhen: adjuster.WorseLarger,
					Guidance: "Empuje y jale la manija a lo largo de su varilla y mida cuánto se mueve antes que el mecanismo de profundidad. El límite es práctica común; siga el manual del fabricante donde dé uno. Si lo pasa, cambie la manija o su tuerca antes de nivelar este surco."},
				{ID: "contact-wear", Title: "Desgaste de las caras de contacto del mecanismo de profundidad", Unit: "mm", Limit: 3, WorseWhen: adjuster.WorseLarger,
					Guidance: "Apoye una regla sobre la cara donde el brazo de la rueda niveladora toca el mecanismo y mida el hueco. El límite es práctica común; siga el manual del fabricante donde dé uno. Si lo pasa, cambie la pieza gastada: ya no da su recorrido completo."},
				{ID: "arm-play", Title: "Juego de cada brazo de rueda niveladora en su pivote", Unit: "mm", Limit: 2, WorseWhen: adjuster.WorseLarger,
					Guidance: "Mueva cada rueda niveladora hacia arriba y hacia abajo con la mano, con el surco sobre su soporte. Mida izquierda y derecha por separado: se desgastan por separado. El límite es práctica común; siga el manual del fabricante donde dé uno. Si lo pasa, cambie el buje."},
				{ID: "opener-disc", Title: "Diámetro de los discos abresurcos", Unit: "mm", Limit: 368, WorseWhen: adjuster.WorseSmaller,
					Guidance: "Mida de lado a lado de cada disco; uno nuevo tiene comúnmente {381 mm|15 pulg}. Cambiarlo a los {368 mm|14 1/2 pulg} es práctica común, algunos llegan a {356 mm|14 pulg}; siga el manual del fabricante donde dé un límite. La mitad de lo que los discos pierden en diámetro el surco lo pierde en profundidad, con el mismo ajuste."},
				{ID: "handle-lock", Title: "El seguro o retén de la manija sujeta",
					Guidance: "Trate de girar la manija sin soltar su seguro. No debe moverse: una manija que se corre pierde la profundidad en el campo. Práctica común; siga el manual del fabricante."},
			},
			Cautions: []string{
				"Apoye el surco sobre un soporte o en el suelo, con el levante bloqueado, antes de acercar una mano al mecanismo de profundidad; nunca meta la mano debajo de un surco sostenido solo por la hidráulica.",
				"Quite la carga de las ruedas niveladoras antes de girar una manija, y luego deje que el surco se asiente otra vez en su tope antes de leerlo.",
				"La rosca tiene juego: termine cada movimiento en sentido más profundo.",
			},
		},
	}
}

const figuresSchema = `{
  "$schema": "https://json-schema.org/draft/2020-12/schema",
  "type": "object",
  "title": "Figures of a threaded depth handle", "x-es": {"title": "Datos de una manija de profundidad con rosca"},
  "additionalProperties": false,
  "required": ["mmPerTurn", "smallestTurn", "totalTurns"],
  "properties": {
    "mmPerTurn": {
      "type": "number", "title": "Depth per turn", "x-unit": "mm", "minimum": 0.1, "maximum": 50,
      "description": "How much deeper one full turn sets the row, at the opener. A handle that works through a lever moves more or less than its thread's lead: measure it over several turns.",
      "x-es": {"title": "Profundidad por vuelta", "description": "Cuánto más profundo deja el surco una vuelta completa, en el abresurco. Una manija que trabaja por una palanca mueve más o menos que el paso de su rosca: mídalo en varias vueltas."},
      "examples": [6.35, 3.175, 2.5]
    },
    "smallestTurn": {
      "type": "number", "title": "Smallest step", "x-unit": "turn", "minimum": 0.01, "maximum": 10,
      "description": "The smallest part of a turn at which the handle can be locked. A quarter turn is common practice.",
      "x-es": {"title": "Paso más chico", "x-unit": "vuelta", "description": "La parte más chica de una vuelta en que se puede asegurar la manija. Un cuarto de vuelta es práctica común."},
      "default": 0.25, "examples": [0.25, 0.5, 1]
    },
    "totalTurns": {
      "type": "number", "title": "Whole travel", "x-unit": "turns", "exclusiveMinimum": 0, "maximum": 200,
      "description": "Turns from the shallow stop to the deep stop.",
      "x-es": {"title": "Recorrido completo", "x-unit": "vueltas", "description": "Vueltas desde el tope menos profundo hasta el más profundo."},
      "examples": [16, 12]
    }
  }
}`

const settingSchema = `{
  "$schema": "https://json-schema.org/draft/2020-12/schema",
  "type": "object",
  "title": "Where a threaded depth handle stands", "x-es": {"title": "Dónde está una manija de profundidad con rosca"},
  "additionalProperties": false,
  "required": ["turns"],
  "properties": {
    "turns": {
      "type": "number", "title": "Turns from the shallow stop", "x-unit": "turns", "minimum": 0, "maximum": 200, "x-deeper": "LARGER",
      "description": "How many turns the handle stands deeper than its shallow stop.",
      "x-es": {"title": "Vueltas desde el tope menos profundo", "x-unit": "vueltas", "description": "Cuántas vueltas más profundo que su tope menos profundo está la manija."},
      "examples": [8, 7.75]
    }
  }
}`
