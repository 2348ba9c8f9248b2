package main

import "rowdatum/adjusters/adjuster"

var spanish = adjuster.Language{Tag: "es", Words: map[string]string{
	"Table of settings": "Tabla de posiciones",
	"step":              "paso",
	"steps":             "pasos",
	"Play of each gauge-wheel arm on its pivot": "Juego de cada brazo de rueda niveladora en su pivote",
	"Move each gauge wheel up and down by hand with the row on its stand. Measure left and right apart: they wear apart. The limit is common practice; follow the maker's manual where it gives one. Past it, renew the bushing.": "Mueva cada rueda niveladora hacia arriba y hacia abajo con la mano, con el surco sobre su soporte. Mida izquierda y derecha por separado: se desgastan por separado. El límite es práctica común; siga el manual del fabricante donde dé uno. Si lo pasa, cambie el buje.",
	"Diameter of the opener discs": "Diámetro de los discos abresurcos",
	"Measure across each disc; a new one is commonly {381 mm|15 in}. Replacing at {368 mm|14 1/2 in} is common practice, some go to {356 mm|14 in}; follow the maker's manual where it gives a limit. Half of what the discs lose in diameter the row loses in depth, at the same setting.": "Mida de lado a lado de cada disco; uno nuevo tiene comúnmente {381 mm|15 pulg}. Cambiarlo a los {368 mm|14 1/2 pulg} es práctica común, algunos llegan a {356 mm|14 pulg}; siga el manual del fabricante donde dé un límite. La mitad de lo que los discos pierden en diámetro el surco lo pierde en profundidad, con el mismo ajuste.",
	"The mechanism stays at its setting": "El mecanismo se queda en su posición",
	"Load and unload the gauge wheels and look whether the setting moved: it must not. Common practice; follow the maker's manual.":                                  "Cargue y descargue las ruedas niveladoras y vea si la posición cambió: no debe cambiar. Práctica común; siga el manual del fabricante.",
	"Set the row on a stand or the ground with the lift locked out before a hand goes near the depth linkage; never reach under a row that only hydraulics hold up.": "Apoye el surco sobre un soporte o en el suelo, con el levante bloqueado, antes de acercar una mano al mecanismo de profundidad; nunca meta la mano debajo de un surco sostenido solo por la hidráulica.",
	"Take the load off the gauge wheels before the mechanism is loosened, and let the row settle before reading it.":                                                 "Quite la carga de las ruedas niveladoras antes de soltar el mecanismo, y deje que el surco se asiente antes de leerlo.",
	"The depths of this mechanism come from a table that the shop wrote; follow the maker's manual in how it is moved.":                                              "Las profundidades de este mecanismo vienen de una tabla que escribió el taller; siga el manual del fabricante en cómo se mueve.",
	"A table of settings and depths": "Una tabla de posiciones y profundidades",
	"Settings":                       "Posiciones",
	"The name of every setting, from the shallowest to the deepest, as it is written on the mechanism.": "El nombre de cada posición, de la menos profunda a la más profunda, como está escrito en el mecanismo.",
	"Setting":               "Posición",
	"Depth of each setting": "Profundidad de cada posición",
	"The nominal depth of every setting, at the opener, in the same order.": "La profundidad nominal de cada posición, en el abresurco, en el mismo orden.",
	"Depth of this setting":                                        "Profundidad de esta posición",
	"Where the mechanism stands":                                   "Dónde está el mecanismo",
	"The setting that the mechanism is at, named as in the table.": "La posición en que está el mecanismo, nombrada como en la tabla.",
	"Move from %s to %s, %s %s.":                                   "Mueva de %s a %s, %s %s.",
}}
