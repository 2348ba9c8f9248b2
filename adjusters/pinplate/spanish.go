package main

import "rowdatum/adjusters/adjuster"

var spanish = adjuster.Language{Tag: "es", Words: map[string]string{
	"Pin plate": "Placa con pasador",
	"hole":      "agujero",
	"holes":     "agujeros",
	"Wear of the hole in use, over the pin's diameter": "Desgaste del agujero en uso, sobre el diámetro del pasador",
	"Measure the hole across its worn direction and take off the pin's diameter. The limit is common practice; follow the maker's manual where it gives one. Past it, replace the plate.": "Mida el agujero en el sentido del desgaste y reste el diámetro del pasador. El límite es práctica común; siga el manual del fabricante donde dé uno. Si lo pasa, cambie la placa.",
	"Play of each gauge-wheel arm on its pivot": "Juego de cada brazo de rueda niveladora en su pivote",
	"Move each gauge wheel up and down by hand with the row on its stand. Measure left and right apart: they wear apart. The limit is common practice; follow the maker's manual where it gives one. Past it, renew the bushing.": "Mueva cada rueda niveladora hacia arriba y hacia abajo con la mano, con el surco sobre su soporte. Mida izquierda y derecha por separado: se desgastan por separado. El límite es práctica común; siga el manual del fabricante donde dé uno. Si lo pasa, cambie el buje.",
	"Diameter of the opener discs": "Diámetro de los discos abresurcos",
	"Measure across each disc; a new one is commonly {381 mm|15 in}. Replacing at {368 mm|14 1/2 in} is common practice, some go to {356 mm|14 in}; follow the maker's manual where it gives a limit. Half of what the discs lose in diameter the row loses in depth, at the same setting.": "Mida de lado a lado de cada disco; uno nuevo tiene comúnmente {381 mm|15 pulg}. Cambiarlo a los {368 mm|14 1/2 pulg} es práctica común, algunos llegan a {356 mm|14 pulg}; siga el manual del fabricante donde dé un límite. La mitad de lo que los discos pierden en diámetro el surco lo pierde en profundidad, con el mismo ajuste.",
	"The pin's clip holds it": "El seguro del pasador lo sujeta",
	"Pull at the pin with its clip in: it must stay. Replace a bent or missing clip. Common practice; follow the maker's manual.":                                    "Jale el pasador con el seguro puesto: debe quedarse. Cambie un seguro doblado o faltante. Práctica común; siga el manual del fabricante.",
	"Set the row on a stand or the ground with the lift locked out before a hand goes near the depth linkage; never reach under a row that only hydraulics hold up.": "Apoye el surco sobre un soporte o en el suelo, con el levante bloqueado, antes de acercar una mano al mecanismo de profundidad; nunca meta la mano debajo de un surco sostenido solo por la hidráulica.",
	"Hold up the gauge wheels before the pin comes out: the arm drops, and holes shear fingers.":                                                                     "Sostenga las ruedas niveladoras antes de sacar el pasador: el brazo cae, y los agujeros cortan dedos.",
	"Never line up holes with a finger; use a drift. Put the clip back before the row is let down.":                                                                  "Nunca alinee los agujeros con el dedo; use un punzón. Vuelva a poner el seguro antes de bajar el surco.",
	"Figures of a pin plate": "Datos de una placa con pasador",
	"Depth of each hole":     "Profundidad de cada agujero",
	"The depth that each hole sets, at the opener, from the shallowest to the deepest.": "La profundidad que da cada agujero, en el abresurco, del menos profundo al más profundo.",
	"Depth of this hole":       "Profundidad de este agujero",
	"Where a pin plate stands": "Dónde está una placa con pasador",
	"Hole":                     "Agujero",
	"The hole that the pin is in, counted from the shallowest.": "El agujero en que está el pasador, contado desde el menos profundo.",
	"Move the pin %s %s, to hole %d.":                           "Mueva el pasador %s %s, al agujero %d.",
}}
