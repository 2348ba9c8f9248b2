package emergence

var spanish = phrases{
	none:    "Para surcos que difieren en %s de profundidad, las cifras publicadas no dan diferencia en el tiempo hasta la emergencia.",
	some:    "El surco más hondo puede necesitar unos %[2]s grados-día (°C) más para emerger que el menos hondo, que está %[1]s más arriba.",
	days:    "; con los grados-día de este campo son unos %s días",
	guide:   "Es una guía para maíz, no un pronóstico: suelo, humedad, rastrojo y semilla pesan tanto como esto.",
	shallow: "%s de la diferencia quedan a menos de %s de profundidad, donde no hay cifra publicada: la semilla menos honda emerge menos pareja, no solo antes.",

	lauer:   "125 grados-día (°F) hasta la emergencia; 15 más por cada %s debajo de %s",
	range1:  "de 100 a 120 grados-día (°F) hasta la emergencia",
	range2:  "de 90 a 120 grados-día (°F) hasta la emergencia",
	formula: "cómo se calculan los grados-día de un día: de 50 a 86 °F",
	late:    "en uno de dos suelos, una planta tardía perdió cerca de 5 %% de su rendimiento por día; la semilla a %s emergió primero y menos pareja",
}
