package job

// phrases are the sentences of this package in one language. A length comes with its unit, a chance with
// its percent sign; what a phrase takes is said behind it, in English's order.
type phrases struct {
	even, off, unsure, stuck string // verdicts

	stands            string // verdict, depth, from the datum, chance, tolerance
	foretold          string // depth, from the datum
	deeper, shallower string // length
	atDatum           string
	moveBrings        string // stands, depth, chance

	waits, askPlan      string
	partChanged         string
	movedUnread         string
	notRead             string
	noTravel            string
	settles, settleMany string // stands; settleMany also takes how many readings
	cannotProve         string // stands
	planIsOld           string // stands
	moveIsOld           string // stands
	planIsHelpless      string // stands

	farFromForetold string // reading, foretold
	farFromOwn      string // reading, the others
	farFromOthers   string // reading, middle of the others
	farFromAsLeft   string // reading, as last left
	farOnOne        string // reading, from the datum

	about         string // rows, what
	surprises     string
	foundUnknown  string
	placeUnknown  string
	lopsided      string
	strange       string
	worn          string
	inchesTyped   string
	alsoOpen      string // the other job
	notTicked     string // caution
	lackReading   string
	lackAfterMove string
	lackPlan      string
	lackEven      string

	// what is wrong with what was sent
	entriesWrong  string // entries, most
	noRow         string // number
	noMove        string // revision, row
	noDepth       string // depth, lowest, highest
	rowTwice      string // row
	nameMove      string // row
	nameSetting   string // row, setting
	noPoint       string // point, row, points
	noPoints      string // point, row
	noValue       string // what is measured
	noEvent       string // revision, last revision
	noCaution     string // id
	rowBesideAll  string // row
	exceptedTwice string // row
}

var english = phrases{
	even: "even", off: "off", unsure: "unsure", stuck: "stuck",

	stands:     "%s: %s, %s, %s sure to be within %s of it",
	foretold:   "moved and not read since: foretold %s, %s",
	deeper:     "%s deeper than the datum",
	shallower:  "%s shallower than the datum",
	atDatum:    "at the datum",
	moveBrings: "%s; the move brings it to %s, %s sure",

	waits:          "read; some other row is still to be read before there can be a plan",
	askPlan:        "read; all rows are, so ask for a plan",
	partChanged:    "a part was changed: what was read before no longer counts",
	movedUnread:    "moved before it was ever read",
	notRead:        "not read yet",
	noTravel:       "stuck: no setting leaves the travel that the season needs",
	settles:        "%s; 1 more reading settles it, if it agrees",
	settleMany:     "%s; %d more readings settle it, if they agree",
	cannotProve:    "%s; this fixture cannot prove the tolerance: except the row with a reason, or take a finer fixture",
	planIsOld:      "%s; the plan did not know this: ask for a new one",
	moveIsOld:      "%s; read since the plan, whose move no longer makes it even: ask for a new one",
	planIsHelpless: "%s; the plan can do nothing for it: look for worn parts, or except it with a reason",

	farFromForetold: "the reading of %s is far from the %s that was foretold; it does not count until another agrees",
	farFromOwn:      "the last reading, %s, does not agree with the others (%s); it does not count until another agrees",
	farFromOthers:   "its only reading, %s, is far from the other rows (their middle is %s); read it once more",
	farFromAsLeft:   "its only reading, %s, is far from the %s that it was last left at; read it once more",
	farOnOne:        "its only reading, %s, puts it %s: a long way to move on one reading; read it once more first",

	about:         "%s: %s",
	surprises:     "the last reading surprises; read once more.",
	foundUnknown:  "moved, or given a new part, before it was read, so what was found there is not known.",
	placeUnknown:  "nobody has said where the mechanism stands.",
	lopsided:      "the left and right sides differ by more than the tolerance; look for worn arms.",
	strange:       "its moves gave far more or less than they should; check the count, then look for wear.",
	worn:          "a part was found worn out.",
	inchesTyped:   "All rows lie less than 6 mm deep: were inches typed as millimetres?",
	alsoOpen:      "Job %s of this planter was open already when this one was opened: work in one of the two and void the other. Where a row that both moved stands, nobody knows in the end.",
	notTicked:     "This caution is not ticked: %s",
	lackReading:   "not read.",
	lackAfterMove: "moved and not read since.",
	lackPlan:      "no plan has been issued, so there is no datum to be even with.",
	lackEven:      "not even; bring it to the datum, read it again, or except it with a reason.",

	entriesWrong:  "has %d entries, must have 1 to %d",
	noRow:         "is %d, must be the number of a row of this planter",
	noMove:        "is %d, must be the revision of a move or part change of row %d, or 0 before the first",
	noDepth:       "means a depth of %s mm, must mean one from %d to %d mm",
	rowTwice:      "is %d, which an earlier move of this request names too",
	nameMove:      "is missing; nobody knows where row %d stands, so the last move that you know of must be named, 0 before the first",
	nameSetting:   "is missing; row %d is known to stand at %s",
	noPoint:       "is %q, must be one of row %d's inspection points: %s",
	noPoints:      "is %q, must be one of row %d's inspection points: there are none",
	noValue:       "is missing; %s is measured",
	noEvent:       "is %d, must be that of an event of this job, 1 to %d",
	noCaution:     "is %q, must be the id of a caution of this job",
	rowBesideAll:  "is %d, must be left out beside unproven",
	exceptedTwice: "is %d, which an earlier exception covers",
}

var spanish = phrases{
	even: "parejo", off: "fuera", unsure: "dudoso", stuck: "sin recorrido",

	stands:     "%s: %s, %s, con %s de seguridad de estar a no más de %s de ese nivel",
	foretold:   "movido y no leído desde entonces: se espera %s, %s",
	deeper:     "%s más hondo que el nivel común",
	shallower:  "%s menos hondo que el nivel común",
	atDatum:    "en el nivel común",
	moveBrings: "%s; el ajuste lo lleva a %s, con %s de seguridad",

	waits:          "leído; falta leer algún otro surco antes de poder hacer un plan",
	askPlan:        "leído; ya lo están todos, así que pida un plan",
	partChanged:    "se cambió una pieza: lo que se leyó antes ya no cuenta",
	movedUnread:    "movido antes de leerlo por primera vez",
	notRead:        "todavía sin leer",
	noTravel:       "sin recorrido: ninguna posición deja el recorrido que pide la temporada",
	settles:        "%s; 1 lectura más lo decide, si coincide",
	settleMany:     "%s; %d lecturas más lo deciden, si coinciden",
	cannotProve:    "%s; este calibre no puede probar la tolerancia: exceptúe el surco con un motivo, o use un calibre más fino",
	planIsOld:      "%s; el plan no sabía esto: pida uno nuevo",
	moveIsOld:      "%s; leído después del plan, cuyo ajuste ya no lo deja parejo: pida un plan nuevo",
	planIsHelpless: "%s; el plan no puede hacer nada por él: busque piezas gastadas, o exceptúelo con un motivo",

	farFromForetold: "la lectura de %s está lejos de lo que se esperaba (%s); no cuenta hasta que otra coincida",
	farFromOwn:      "la última lectura, %s, no coincide con las otras (%s); no cuenta hasta que otra coincida",
	farFromOthers:   "su única lectura, %s, está lejos de los demás surcos (que rondan %s); léalo una vez más",
	farFromAsLeft:   "su única lectura, %s, está lejos de como quedó la última vez (%s); léalo una vez más",
	farOnOne:        "su única lectura, %s, lo pone %s: es mucho para moverlo con una sola lectura; léalo una vez más antes",

	about:         "%s: %s",
	surprises:     "la última lectura sorprende; lea una vez más.",
	foundUnknown:  "hubo un ajuste o una pieza nueva antes de la primera lectura, así que no se sabe cómo se encontró.",
	placeUnknown:  "nadie ha dicho en qué posición está el mecanismo.",
	lopsided:      "los lados izquierdo y derecho difieren en más que la tolerancia; busque brazos gastados.",
	strange:       "los ajustes dieron mucho más o mucho menos de lo debido; revise la cuenta y luego busque desgaste.",
	worn:          "se encontró una pieza gastada.",
	inchesTyped:   "Todos los surcos quedan a menos de 6 mm: ¿se escribieron pulgadas como milímetros?",
	alsoOpen:      "El trabajo %s de esta sembradora ya estaba abierto cuando se abrió este: trabaje en uno de los dos y anule el otro. Dónde queda un surco que movieron los dos, al final nadie lo sabe.",
	notTicked:     "Falta confirmar esta precaución: %s",
	lackReading:   "falta leer.",
	lackAfterMove: "falta leer después del ajuste.",
	lackPlan:      "no se ha hecho ningún plan, así que no hay nivel común con el que comparar.",
	lackEven:      "falta emparejar; lleve al nivel común, lea otra vez, o exceptúe con un motivo.",

	entriesWrong:  "tiene %d anotaciones, debe tener de 1 a %d",
	noRow:         "es %d, debe ser el número de un surco de esta sembradora",
	noMove:        "es %d, debe ser la revisión de un ajuste o de un cambio de pieza del surco %d, o 0 antes del primero",
	noDepth:       "da una profundidad de %s mm, debe dar una de %d a %d mm",
	rowTwice:      "es %d, un surco que ya está en otro ajuste de esta solicitud",
	nameMove:      "falta; nadie sabe en qué posición está el surco %d, así que hay que decir el último ajuste que se conoce, 0 antes del primero",
	nameSetting:   "falta; se sabe que el surco %d está en %s",
	noPoint:       "es %q, debe ser uno de los puntos de desgaste del surco %d: %s",
	noPoints:      "es %q, pero el surco %d no tiene puntos de desgaste",
	noValue:       "falta; este punto se mide: %s",
	noEvent:       "es %d, debe ser la de una anotación de este trabajo, de 1 a %d",
	noCaution:     "es %q, debe ser el id de una precaución de este trabajo",
	rowBesideAll:  "es %d, no se da junto con unproven",
	exceptedTwice: "es %d, un surco que ya tiene otra excepción",
}
