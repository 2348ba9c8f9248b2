package main

import "rowdatum/adjusters/adjuster"

var spanish = adjuster.Language{Tag: "es", Words: map[string]string{
	"Threaded depth handle": "Manija de profundidad con rosca",
	"turn":                  "vuelta",
	"turns":                 "vueltas",
	"Play of the handle in its thread, along the rod": "Juego de la manija en su rosca, a lo largo de la varilla",
	"Push and pull the handle along its rod and measure how far it moves before the depth linkage does. The limit is common practice; follow the maker's manual where it gives one. Past it, replace the handle or its nut before leveling this row.": "Empuje y jale la manija a lo largo de su varilla y mida cuánto se mueve antes que el mecanismo de profundidad. El límite es práctica común; siga el manual del fabricante donde dé uno. Si lo pasa, cambie la manija o su tuerca antes de nivelar este surco.",
	"Wear of the contact faces of the depth linkage": "Desgaste de las caras de contacto del mecanismo de profundidad",
	"Lay a straight edge over the face where the gauge-wheel arm meets the linkage and measure the hollow. The limit is common practice; follow the maker's manual where it gives one. Past it, replace the worn part: it no longer gives its full travel.": "Apoye una regla sobre la cara donde el brazo de la rueda niveladora toca el mecanismo y mida el hueco. El límite es práctica común; siga el manual del fabricante donde dé uno. Si lo pasa, cambie la pieza gastada: ya no da su recorrido completo.",
	"Play of each gauge-wheel arm on its pivot": "Juego de cada brazo de rueda niveladora en su pivote",
	"Move each gauge wheel up and down by hand with the row on its stand. Measure left and right apart: they wear apart. The limit is common practice; follow the maker's manual where it gives one. Past it, renew the bushing.": "Mueva cada rueda niveladora hacia arriba y hacia abajo con la mano, con el surco sobre su soporte. Mida izquierda y derecha por separado: se desgastan por separado. El límite es práctica común; siga el manual del fabricante donde dé uno. Si lo pasa, cambie el buje.",
	"Diameter of the opener discs": "Diámetro de los discos abresurcos",
	"Measure across each disc; a new one is commonly {381 mm|15 in}. Replacing at {368 mm|14 1/2 in} is common practice, some go to {356 mm|14 in}; follow the maker's manual where it gives a limit. Half of what the discs lose in diameter the row loses in depth, at the same setting.": "Mida de lado a lado de cada disco; uno nuevo tiene comúnmente {381 mm|15 pulg}. Cambiarlo a los {368 mm|14 1/2 pulg} es práctica común, algunos llegan a {356 mm|14 pulg}; siga el manual del fabricante donde dé un límite. La mitad de lo que los discos pierden en diámetro el surco lo pierde en profundidad, con el mismo ajuste.",
	"The handle's lock or detent holds": "El seguro o retén de la manija sujeta",
	"Try to turn the handle without releasing its lock. It must not move: a handle that creeps loses the depth in the field. Common practice; follow the maker's manual.": "Trate de girar la manija sin soltar su seguro. No debe moverse: una manija que se corre pierde la profundidad en el campo. Práctica común; siga el manual del fabricante.",
	"Set the row on a stand or the ground with the lift locked out before a hand goes near the depth linkage; never reach under a row that only hydraulics hold up.":      "Apoye el surco sobre un soporte o en el suelo, con el levante bloqueado, antes de acercar una mano al mecanismo de profundidad; nunca meta la mano debajo de un surco sostenido solo por la hidráulica.",
	"Take the load off the gauge wheels before turning a handle, then let the row settle on its stop again before reading it.":                                            "Quite la carga de las ruedas niveladoras antes de girar una manija, y luego deje que el surco se asiente otra vez en su tope antes de leerlo.",
	"The thread has slack: finish every move in the deeper direction.":                                                                                                    "La rosca tiene juego: termine cada movimiento en sentido más profundo.",
	"Figures of a threaded depth handle": "Datos de una manija de profundidad con rosca",
	"Depth per turn":                     "Profundidad por vuelta",
	"How much deeper one full turn sets the row, at the opener. A handle that works through a lever moves more or less than its thread's lead: measure it over several turns.": "Cuánto más profundo deja el surco una vuelta completa, en el abresurco. Una manija que trabaja por una palanca mueve más o menos que el paso de su rosca: mídalo en varias vueltas.",
	"Smallest step": "Paso más chico",
	"The smallest part of a turn at which the handle can be locked. A quarter turn is common practice.": "La parte más chica de una vuelta en que se puede asegurar la manija. Un cuarto de vuelta es práctica común.",
	"Whole travel": "Recorrido completo",
	"Turns from the shallow stop to the deep stop.":                  "Vueltas desde el tope menos profundo hasta el más profundo.",
	"Where a threaded depth handle stands":                           "Dónde está una manija de profundidad con rosca",
	"Turns from the shallow stop":                                    "Vueltas desde el tope menos profundo",
	"How many turns the handle stands deeper than its shallow stop.": "Cuántas vueltas más profundo que su tope menos profundo está la manija.",
	"Turn the depth handle %s %s.":                                   "Gire la manija de profundidad %s %s.",
}}
