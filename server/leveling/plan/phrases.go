package plan

// phrases are the sentences of this package in one language. A length comes with its unit, a chance with
// its percent sign; what a phrase takes is said behind it, in English's order.
type phrases struct {
	matched    string // depth
	left       string // reads, sure
	moved      string // reads, why not left, brings, sure
	reread     string // reads, sure, settling
	leftUneven string // reads, sure, why nothing is nearer
	nearest    string // reads, brings, away, sure
	stuck      string // depth, travel

	reads               string // depth, away
	deeper, shallower   string // length
	atDatum             string
	sure                string // chance, tolerance
	travel              string // towards shallower, towards deeper
	noTravel            string // travel
	widens              string
	leftSure            string // chance, tolerance
	bringsDeeper        string // length, depth
	bringsShallower     string // length, depth
	smallestSpread      string
	unprovable          string
	heldBack            string // travel
	nothingNearer       string
	settles, settleMany string // settleMany: readings
	neverSettles        string // readings

	about           string // rows, what
	noneReaches     string // travel, what the datum is
	askedDepth      string
	meanOfReadings  string
	stuckRows       string // travel
	wornRows        string // why
	wornClosest     string
	wornOut         string
	nearRows        string
	unknownRows     string
	trimmedRows     string
	noReference     string // row
	otherReference  string // row named, row taken
	needMore        string // provable now, wanted, readings
	needOneMore     string // provable now, wanted
	hardly          string // readings, wanted, provable then
	never           string // wanted, provable at best
	unmarkedNotEven string
	unmarkedUnknown string
	unmarkedStrange string

	farFromOthers string // row, reading, middle of the others
	disagrees     string // row, which reading, reading, its others
}

var english = phrases{
	matched:    "left alone: reads %s, and the other rows are brought to it",
	left:       "left alone: %s, %s",
	moved:      "moved: %s; %s; %s, %s",
	reread:     "read again: %s, %s, so these readings cannot say whether it is even; %s",
	leftUneven: "left although not even: %s, %s; %s",
	nearest:    "moved as near as it goes: %s; %s, which leaves it %s, %s",
	stuck:      "stuck: reads %s, and none of its settings leaves %s; look for worn or wrong parts, or ask for less travel",

	reads:           "reads %s, %s",
	deeper:          "%s deeper than the datum",
	shallower:       "%s shallower than the datum",
	atDatum:         "right at the datum",
	sure:            "%s sure to be within %s of the datum",
	travel:          "%s of travel towards shallower and %s towards deeper for the season",
	noTravel:        "where it stands it does not leave %s",
	widens:          "left there it would widen the spread",
	leftSure:        "left there it would be %s sure to be within %s",
	bringsDeeper:    "%s deeper brings it to %s",
	bringsShallower: "%s shallower brings it to %s",
	smallestSpread:  "it lies within the smallest spread that all rows can reach",
	unprovable:      "readings as uncertain as these prove no row even at any depth: read it again, or take a finer fixture or a wider tolerance",
	heldBack:        "a further setting would bring it nearer, but not leave %s; look for worn parts, or ask for less travel",
	nothingNearer:   "no setting brings it nearer: look for worn parts",
	settles:         "1 more reading settles it, if it agrees with these",
	settleMany:      "%d more readings settle it, if they agree with these",
	neverSettles:    "not even %d more would settle it, if they agree with these",

	about:           "%s: %s",
	noneReaches:     "No row can be brought to a setting that leaves %s, so the datum is only %s.",
	askedDepth:      "the depth that was asked for",
	meanOfReadings:  "the mean of the readings",
	stuckRows:       "stuck, not counted in the spread; no setting leaves %s.",
	wornRows:        "not even, and %s",
	wornClosest:     "the smallest spread that all rows can reach leaves it so.",
	wornOut:         "no setting in reach helps; look for worn parts before the season.",
	nearRows:        "not proven even after the move; each row says what remains. Measure again.",
	unknownRows:     "nobody has said where the mechanism stands, so the travel left was not checked and the setting afterwards is not known.",
	trimmedRows:     "this mechanism only trims the row, so the travel left for planting depth was not checked here.",
	noReference:     "Row %d was named to count marks from, but it is not a row that keeps marks.",
	otherReference:  "Row %d was named to count marks from, but carries no mark; they count from row %d.",
	needMore:        "these readings can prove %s at best, and %s is wanted; %d more readings of each would do.",
	needOneMore:     "these readings can prove %s at best, and %s is wanted; 1 more reading of each would do.",
	hardly:          "not even %d more readings can prove %s (%s then); take a finer fixture or a wider tolerance.",
	never:           "no number of readings with this fixture can prove %s (%s at best); take a finer fixture or a wider tolerance.",
	unmarkedNotEven: "no mark, because the plan does not make it even.",
	unmarkedUnknown: "no mark, because nobody has said where the mechanism stands.",
	unmarkedStrange: "no mark, because its setting is none that the other rows of its mechanism know.",

	farFromOthers: "Row %d: its only reading, %s, is far from the other rows (their middle is %s); read it once more.",
	disagrees:     "Row %d: reading %d, %s, does not agree with its others (%s); it was counted all the same, so read the row once more.",
}

var spanish = phrases{
	matched:    "se deja: está a %s, y los demás surcos se llevan a esa profundidad",
	left:       "se deja: %s, %s",
	moved:      "se mueve: %s; %s; %s, %s",
	reread:     "leer otra vez: %s, %s, así que estas lecturas no alcanzan para decir si está parejo; %s",
	leftUneven: "se deja aunque no está parejo: %s, %s; %s",
	nearest:    "se acerca lo más que se puede: %s; %s, y queda %s, %s",
	stuck:      "sin recorrido: está a %s, y ninguna de sus posiciones deja %s; busque piezas gastadas o equivocadas, o pida menos recorrido",

	reads:           "está a %s, %s",
	deeper:          "%s más hondo que el nivel común",
	shallower:       "%s menos hondo que el nivel común",
	atDatum:         "justo en el nivel común",
	sure:            "con %s de seguridad de estar a no más de %s del nivel común",
	travel:          "%s de recorrido hacia menos hondo y %s hacia más hondo para la temporada",
	noTravel:        "donde está no deja %s",
	widens:          "si se deja ahí, aumenta la diferencia entre surcos",
	leftSure:        "si se deja ahí, hay %s de seguridad de que esté a no más de %s",
	bringsDeeper:    "con %s más de profundidad llega a %s",
	bringsShallower: "con %s menos de profundidad llega a %s",
	smallestSpread:  "está dentro de la menor diferencia que todos los surcos pueden alcanzar",
	unprovable:      "con lecturas tan inciertas no se prueba parejo ningún surco, sea cual sea su profundidad: léalo otra vez, o use un calibre más fino o una tolerancia más amplia",
	heldBack:        "otra posición lo acercaría más, pero no dejaría %s; busque piezas gastadas, o pida menos recorrido",
	nothingNearer:   "ninguna posición lo acerca más: busque piezas gastadas",
	settles:         "1 lectura más lo decide, si coincide con estas",
	settleMany:      "%d lecturas más lo deciden, si coinciden con estas",
	neverSettles:    "ni %d lecturas más lo decidirían, si coinciden con estas",

	about:           "%s: %s",
	noneReaches:     "Ningún surco puede llevarse a una posición que deje %s, así que el nivel común es solo %s.",
	askedDepth:      "la profundidad que se pidió",
	meanOfReadings:  "el promedio de las lecturas",
	stuckRows:       "sin recorrido, y sin contar en la diferencia entre surcos; ninguna posición deja %s.",
	wornRows:        "sin emparejar, y %s",
	wornClosest:     "la menor diferencia que todos los surcos pueden alcanzar lo deja así.",
	wornOut:         "ninguna posición a su alcance ayuda; busque piezas gastadas antes de la temporada.",
	nearRows:        "sin probar ni después del ajuste; en cada surco se dice qué falta. Mida otra vez.",
	unknownRows:     "nadie ha dicho en qué posición está el mecanismo, así que no se revisó el recorrido que queda ni se sabe la posición final.",
	trimmedRows:     "aquí el mecanismo solo corrige el surco, así que no se revisó el recorrido que queda para la profundidad de siembra.",
	noReference:     "Se pidió contar las marcas desde el surco %d, pero ese surco no lleva marcas.",
	otherReference:  "Se pidió contar las marcas desde el surco %d, pero no lleva marca; se cuentan desde el surco %d.",
	needMore:        "estas lecturas prueban como mucho %s, y se quiere %s; bastarían %d lecturas más de cada uno.",
	needOneMore:     "estas lecturas prueban como mucho %s, y se quiere %s; bastaría 1 lectura más de cada uno.",
	hardly:          "ni %d lecturas más pueden probar %s (%s en ese caso); use un calibre más fino o una tolerancia más amplia.",
	never:           "con este calibre, ninguna cantidad de lecturas puede probar %s (%s como mucho); use un calibre más fino o una tolerancia más amplia.",
	unmarkedNotEven: "sin marca, porque el plan no logra emparejar.",
	unmarkedUnknown: "sin marca, porque nadie ha dicho en qué posición está el mecanismo.",
	unmarkedStrange: "sin marca, porque la posición no es ninguna de las que conocen los demás surcos del mismo mecanismo.",

	farFromOthers: "Surco %d: su única lectura, %s, está lejos de los demás surcos (que rondan %s); léalo una vez más.",
	disagrees:     "Surco %d: la lectura %d, %s, no coincide con las otras (%s); se contó de todos modos, así que lea el surco una vez más.",
}
