package adjuster

// spanish is what the SDK itself says in Spanish.
var spanish = Language{Tag: "es", Words: map[string]string{
	sayDeeper:    "más profundo",
	sayShallower: "menos profundo",
	sayPart:      "%d/%d de %s",
	sayWholePart: "%.0f y %d/%d %s",
	sayInches:    "%s pulg",
	sayPast:      "Pase de ese punto al menos %s y regrese, de modo que el movimiento termine en sentido %s.",
	sayNoPast:    "El recorrido termina aquí, así que no se puede pasar de ese punto y regresar para quitar el juego; después lea este surco con cuidado.",
	sayPinch:     "Mantenga las manos lejos de donde puedan quedar atrapadas mientras algo se mueva.",
}}
