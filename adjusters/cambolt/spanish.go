package main

import "rowdatum/adjusters/adjuster"

var spanish = adjuster.Language{Tag: "es", Words: map[string]string{
	"Cam bolt": "Perno excéntrico",
	"click":    "clic",
	"clicks":   "clics",
	"Play of the cam in its seat, as travel at the opener": "Juego de la leva en su asiento, como recorrido en el abresurco",
	"Rock the cam without turning it and measure how far the opener's depth changes. The limit is common practice; follow the maker's manual where it gives one. Past it, replace the bolt or its seat.": "Mueva la leva de un lado a otro sin girarla y mida cuánto cambia la profundidad del abresurco. El límite es práctica común; siga el manual del fabricante donde dé uno. Si lo pasa, cambie el perno o su asiento.",
	"Play of each gauge-wheel arm on its pivot": "Juego de cada brazo de rueda niveladora en su pivote",
	"Move each gauge wheel up and down by hand with the row on its stand. Measure left and right apart: they wear apart. The limit is common practice; follow the maker's manual where it gives one. Past it, renew the bushing.": "Mueva cada rueda niveladora hacia arriba y hacia abajo con la mano, con el surco sobre su soporte. Mida izquierda y derecha por separado: se desgastan por separado. El límite es práctica común; siga el manual del fabricante donde dé uno. Si lo pasa, cambie el buje.",
	"Diameter of the opener discs": "Diámetro de los discos abresurcos",
	"Measure across each disc; a new one is commonly {381 mm|15 in}. Replacing at {368 mm|14 1/2 in} is common practice, some go to {356 mm|14 in}; follow the maker's manual where it gives a limit. Half of what the discs lose in diameter the row loses in depth, at the same setting.": "Mida de lado a lado de cada disco; uno nuevo tiene comúnmente {381 mm|15 pulg}. Cambiarlo a los {368 mm|14 1/2 pulg} es práctica común, algunos llegan a {356 mm|14 pulg}; siga el manual del fabricante donde dé un límite. La mitad de lo que los discos pierden en diámetro el surco lo pierde en profundidad, con el mismo ajuste.",
	"The bolt's lock holds it at its click": "El seguro del perno lo sujeta en su clic",
	"Try to turn the tightened bolt: it must not move. A cam that creeps loses the depth in the field. Common practice; follow the maker's manual.":                  "Trate de girar el perno apretado: no debe moverse. Una leva que se corre pierde la profundidad en el campo. Práctica común; siga el manual del fabricante.",
	"Set the row on a stand or the ground with the lift locked out before a hand goes near the depth linkage; never reach under a row that only hydraulics hold up.": "Apoye el surco sobre un soporte o en el suelo, con el levante bloqueado, antes de acercar una mano al mecanismo de profundidad; nunca meta la mano debajo de un surco sostenido solo por la hidráulica.",
	"Take the load off the gauge wheels before loosening the bolt: a loaded cam spins, and its wrench with it.":                                                      "Quite la carga de las ruedas niveladoras antes de aflojar el perno: una leva con carga gira de golpe, y la llave con ella.",
	"Near 0 and 180 degrees a click changes little; in the middle it changes most.":                                                                                  "Cerca de 0 y de 180 grados un clic cambia poco; en el medio es donde más cambia.",
	"The cam has slack: finish every move in the deeper direction, then tighten the bolt as the maker's manual says.":                                                "La leva tiene juego: termine cada movimiento en sentido más profundo y luego apriete el perno como dice el manual del fabricante.",
	"Figures of a cam bolt": "Datos de un perno excéntrico",
	"Throw":                 "Excentricidad",
	"Half of the depth, at the opener, between the cam at 0 and at 180 degrees.": "La mitad de la profundidad, en el abresurco, entre la leva a 0 y a 180 grados.",
	"degrees":           "grados",
	"Degrees per click": "Grados por clic",
	"How far the bolt turns from one click to the next.": "Cuánto gira el perno de un clic al siguiente.",
	"Where a cam bolt stands":                            "Dónde está un perno excéntrico",
	"Angle":                                              "Ángulo",
	"How far the cam is turned from its shallowest position.": "Cuánto está girada la leva desde su posición menos profunda.",
	"Turn the cam bolt %s %s, to %s degrees.":                 "Gire el perno excéntrico %s %s, a %s grados.",
}}
