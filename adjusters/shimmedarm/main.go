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
		Spanish: adjuster.Text{
			Title:     "Brazo de rueda niveladora con suplementos",
			CountUnit: adjuster.CountUnit{One: "suplemento", Other: "suplementos"},
			InspectionPoints: []adjuster.InspectionPoint{
				{ID: "arm-play", Title: "Juego de cada brazo de rueda niveladora en su pivote", Unit: "mm", Limit: 2, WorseWhen: adjuster.WorseLarger,
					Guidance: "Mueva cada rueda niveladora hacia arriba y hacia abajo con la mano, con el surco sobre su soporte. Mida izquierda y derecha por separado: se desgastan por separado. El límite es práctica común; siga el manual del fabricante donde dé uno. Si lo pasa, cambie el buje antes de cambiar suplementos."},
				{ID: "arm-hole", Title: "Desgaste del agujero del brazo, sobre el diámetro del perno", Unit: "mm", Limit: 1.5, WorseWhen: adjuster.WorseLarger,
					Guidance: "Mida el agujero en el sentido del desgaste y reste el diámetro del perno. El límite es práctica común; siga el manual del fabricante donde dé uno. Si lo pasa, cambie el brazo o póngale un buje."},
				{ID: "opener-disc", Title: "Diámetro de los discos abresurcos", Unit: "mm", Limit: 368, WorseWhen: adjuster.WorseSmaller,
					Guidance: "Mida de lado a lado de cada disco; uno nuevo tiene comúnmente {381 mm|15 pulg}. Cambiarlo a los {368 mm|14 1/2 pulg} es práctica común, algunos llegan a {356 mm|14 pulg}; siga el manual del fabricante donde dé un límite. La mitad de lo que los discos pierden en diámetro el surco lo pierde en profundidad, con el mismo ajuste."},
				{ID: "shims-flat", Title: "Suplementos planos, limpios y sin rebabas",
					Guidance: "Desarme la pila y limpie cada suplemento. Cambie los doblados, oxidados o golpeados: agregan un espesor que desaparece con el uso. Práctica común; siga el manual del fabricante."},
			},
			Cautions: []string{
				"Apoye el surco sobre un soporte, con el levante bloqueado, antes de aflojar un brazo; nunca meta la mano debajo de un surco sostenido solo por la hidráulica.",
				"Sostenga la rueda niveladora antes de sacar su perno: el brazo cae.",
				"Mida cada suplemento antes de ponerlo; la chapa difiere de su espesor nominal en varios por ciento.",
				"Apriete el perno como dice el manual del fabricante y luego deje que el surco se asiente antes de leerlo.",
				"Los suplementos ajustan un surco a los demás; su manija o tope fija la profundidad de siembra.",
			},
		},
	}
}

const figuresSchema = `{
  "$schema": "https://json-schema.org/draft/2020-12/schema",
  "type": "object",
  "title": "Figures of a shimmed gauge-wheel arm", "x-es": {"title": "Datos de un brazo de rueda niveladora con suplementos"},
  "additionalProperties": false,
  "required": ["leverRatio", "kitMm", "stackMaxMm", "shimMakes"],
  "properties": {
    "leverRatio": {
      "type": "number", "title": "Lever ratio", "minimum": 0.01, "maximum": 20,
      "description": "How far the opener moves for a shim, over the shim's thickness: 2 where it moves twice as far as the shim is thick.",
      "x-es": {"title": "Relación de palanca", "description": "Cuánto se mueve el abresurco con un suplemento, sobre el espesor del suplemento: 2 donde se mueve el doble de ese espesor."},
      "examples": [1.8, 1]
    },
    "kitMm": {
      "type": "array", "title": "Shim kit", "x-unit": "mm", "minItems": 1, "maxItems": 32, "uniqueItems": true,
      "description": "The thicknesses of shim at hand, each once; any number of each may be used.",
      "x-es": {"title": "Juego de suplementos", "description": "Los espesores de suplemento que hay a mano, cada uno una vez; de cada uno se puede usar cualquier cantidad."},
      "items": {"type": "number", "title": "Thickness", "x-es": {"title": "Espesor"}, "x-unit": "mm", "minimum": 0.05, "maximum": 50},
      "examples": [[0.5, 1, 2, 3]]
    },
    "stackMaxMm": {
      "type": "number", "title": "Largest stack", "x-unit": "mm", "minimum": 0.05, "maximum": 100,
      "description": "The thickest stack that the arm and its bolts take.",
      "x-es": {"title": "Pila máxima", "description": "La pila más gruesa que admiten el brazo y sus pernos."},
      "examples": [12]
    },
    "shimMakes": {
      "type": "string", "title": "A shim more makes the row", "enum": ["DEEPER", "SHALLOWER"], "x-labels": ["deeper", "shallower"],
      "description": "Whether adding a shim makes this row deeper or shallower.",
      "x-es": {"title": "Un suplemento más deja el surco", "x-labels": ["más profundo", "menos profundo"], "description": "Si agregar un suplemento deja este surco más profundo o menos profundo."}
    }
  }
}`

const settingSchema = `{
  "$schema": "https://json-schema.org/draft/2020-12/schema",
  "type": "object",
  "title": "The shims in a gauge-wheel arm", "x-es": {"title": "Los suplementos de un brazo de rueda niveladora"},
  "additionalProperties": false,
  "required": ["shimsMm"],
  "properties": {
    "shimsMm": {
      "type": "array", "title": "Shims in the stack now", "x-unit": "mm", "maxItems": 100,
      "description": "The thickness of every shim in the stack now; an empty list where there is none.",
      "x-es": {"title": "Suplementos en la pila ahora", "description": "El espesor de cada suplemento que hay ahora en la pila; una lista vacía donde no hay ninguno."},
      "items": {"type": "number", "title": "Thickness", "x-es": {"title": "Espesor"}, "x-unit": "mm", "minimum": 0.001, "maximum": 100},
      "examples": [[2, 1], []]
    }
  }
}`
