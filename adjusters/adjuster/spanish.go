package adjuster

var spanish = phrases{
	deeper: "más profundo", shallower: "menos profundo", and: "y", of: " de ",
	past:   "Pase de ese punto al menos %s y regrese, de modo que el movimiento termine en sentido %s.",
	noPast: "El recorrido termina aquí, así que no se puede pasar de ese punto y regresar para quitar el juego; después lea este surco con cuidado.",
	pinch:  "Mantenga las manos lejos de donde puedan quedar atrapadas mientras algo se mueva.",
	inch:   "pulg",
}
