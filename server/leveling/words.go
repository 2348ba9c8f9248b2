package leveling

// phrases are this package's words in one language.
type phrases struct {
	row, rows, and     string
	moreThan, lessThan string // take a percentage
	inch, under        string // under takes a length that is not reached

	notWithin  string // figure, lowest, highest, unit
	notAbove   string // figure, bound, unit
	tooSmall   string // figure, lowest, unit
	unreadable string
	missing    string // fewest, most characters
	wrongSize  string // characters, fewest, most

	blockHeight      string // height, highest
	rowsWrong        string // rows, most
	rowNumber        string // number, largest
	rowTwice         string // number, list, place in it
	aboveZero        string // length, largest
	sectionBackwards string // first row, last row
	sectionShares    string // place of the other
	confidence       string // chance
	noRow            string // number
	noDatum          string // least, most

	park, stands, raisedIron, hands, manual string // the cautions
}

var english = phrases{
	row: "Row", rows: "Rows", and: "and",
	moreThan: "more than %s", lessThan: "less than %s",
	inch: "in", under: "under %s",

	notWithin:  "is %s, must be from %s to %s%s",
	notAbove:   "is %s, must be above %s%s",
	tooSmall:   "is %s, must be %s%s or more",
	unreadable: "is not readable text",
	missing:    "is missing, must be %d to %d characters",
	wrongSize:  "has %d characters, must have %d to %d",

	blockHeight:      "is %s, must be the height of the blocks, above 0 and at most %d mm",
	rowsWrong:        "has %d rows, must have 1 to %d",
	rowNumber:        "is %d, must be from 1 to %d",
	rowTwice:         "is %d, and so is %s[%d].row; each row may be given once",
	aboveZero:        "is %s, must be above 0 and at most %d mm",
	sectionBackwards: "goes from row %d to row %d, must go from a row to one that is not before it",
	sectionShares:    "shares rows with sections[%d]",
	confidence:       "is %s, must be 0.5 or more and below 1",
	noRow:            "is %d, must be the number of a row of this request",
	noDatum:          "is missing; SET_DEPTH needs the depth to set, from %d to %d mm",

	park:       "Park level, chock the wheels, stop the engine, take the key out and release hydraulic pressure.",
	stands:     "Lock out the lift and set stands under the frame on a solid floor; check each stand's own rating.",
	raisedIron: "Never go under iron held by hydraulics or a jack alone.",
	hands:      "Keep hands clear of pinch points, and see that nobody else is near when anything moves.",
	manual:     "Follow the operator's manual and local codes; where work calls for a licensed person, leave it to one.",
}

var spanish = phrases{
	row: "Fila", rows: "Filas", and: "y",
	moreThan: "más de %s", lessThan: "menos de %s",
	inch: "pulg", under: "ni %s",

	notWithin:  "es %s, debe ser de %s a %s%s",
	notAbove:   "es %s, debe ser mayor que %s%s",
	tooSmall:   "es %s, debe ser %s%s o más",
	unreadable: "no es un texto legible",
	missing:    "falta, debe tener de %d a %d caracteres",
	wrongSize:  "tiene %d caracteres, debe tener de %d a %d",

	blockHeight:      "es %s, debe ser la altura de los bloques, mayor que 0 y de %d mm como máximo",
	rowsWrong:        "tiene %d filas, debe tener de 1 a %d",
	rowNumber:        "es %d, debe ser de 1 a %d",
	rowTwice:         "es %d, igual que %s[%d].row; cada fila se da una sola vez",
	aboveZero:        "es %s, debe ser mayor que 0 y de %d mm como máximo",
	sectionBackwards: "va de la fila %d a la fila %d, debe ir de una fila a otra que no esté antes",
	sectionShares:    "comparte filas con sections[%d]",
	confidence:       "es %s, debe ser 0.5 o más y menor que 1",
	noRow:            "es %d, debe ser el número de una fila de esta solicitud",
	noDatum:          "falta; SET_DEPTH necesita la profundidad que se quiere, de %d a %d mm",

	park:       "Estacione en terreno plano, calce las ruedas, apague el motor, saque la llave y libere la presión hidráulica.",
	stands:     "Trabe el levante y ponga soportes bajo el bastidor sobre piso firme; verifique la capacidad de cada soporte.",
	raisedIron: "Nunca se meta debajo de un equipo sostenido solo por la hidráulica o por un gato.",
	hands:      "Mantenga las manos lejos de donde puedan quedar atrapadas, y vea que no haya nadie más cerca cuando algo se mueva.",
	manual:     "Siga el manual del operador y las normas locales; si el trabajo pide una persona habilitada, déjeselo a ella.",
}

func (v Voice) phrases() *phrases { return In(v.Language, &english, &spanish) }
