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
	aboveZero        string // figure, largest, unit
	sectionBackwards string // first row, last row
	sectionShares    string // place of the other
	confidence       string // chance
	noRow            string // number
	noDatum          string // least, most
	manySections     string // sections, most
	manyMechanisms   string // mechanisms, most
	manyReferences   string // rows, most
	manyIDs          string // ids, most
	noMechanism      string // id
	noMechanisms     string
	idTwice          string // id
	noStyle          string
	notGiven         string // row
	secondReference  string // row, the other, mechanism
	notOfPlanter     string // row
	fewRows          string // rows, least, most
	seedsWrong       string // seeds, most
	oneSeedEach      string

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
	aboveZero:        "is %s, must be above 0 and at most %d%s",
	sectionBackwards: "goes from row %d to row %d, must go from a row to one that is not before it",
	sectionShares:    "shares rows with sections[%d]",
	confidence:       "is %s, must be 0.5 or more and below 1",
	noRow:            "is %d, must be the number of a row of this request",
	noDatum:          "is missing; SET_DEPTH needs the depth to set, from %d to %d mm",
	manySections:     "has %d sections, at most %d are taken",
	manyMechanisms:   "has %d mechanisms, at most %d are taken",
	manyReferences:   "has %d rows, at most %d are taken",
	manyIDs:          "has %d ids, at most %d are taken",
	noMechanism:      "%q is not the id of a mechanism of this planter",
	noMechanisms:     "is empty, must name at least one mechanism",
	idTwice:          "%q is the id of another mechanism; each id may be used once",
	noStyle:          "is missing, must be the id of an installed style",
	notGiven:         "is %d, must be the number of a row given here",
	secondReference:  "is %d, but row %d is already the reference row of mechanism %q; at most one a mechanism",
	notOfPlanter:     "is %d, which this planter does not have",
	fewRows:          "has %d rows, must have %d to %d",
	seedsWrong:       "has %d seeds, must have 1 to %d",
	oneSeedEach:      "have one seed each; at least one row needs two or more, so that seeds of one row can be told from rows",

	park:       "Park level, chock the wheels, stop the engine, take the key out and release hydraulic pressure.",
	stands:     "Lock out the lift and set stands under the frame on a solid floor; check each stand's own rating.",
	raisedIron: "Never go under iron held by hydraulics or a jack alone.",
	hands:      "Keep hands clear of pinch points, and see that nobody else is near when anything moves.",
	manual:     "Follow the operator's manual and local codes; where work calls for a licensed person, leave it to one.",
}

var spanish = phrases{
	row: "Surco", rows: "Surcos", and: "y",
	moreThan: "más de %s", lessThan: "menos de %s",
	inch: "pulg", under: "menos de %s",

	notWithin:  "es %s, debe ser de %s a %s%s",
	notAbove:   "es %s, debe ser mayor que %s%s",
	tooSmall:   "es %s, debe ser %s%s o más",
	unreadable: "no es un texto legible",
	missing:    "falta, debe tener de %d a %d caracteres",
	wrongSize:  "tiene %d caracteres, debe tener de %d a %d",

	blockHeight:      "es %s, debe ser la altura de los bloques, mayor que 0 y de %d mm como máximo",
	rowsWrong:        "tiene %d surcos, debe tener de 1 a %d",
	rowNumber:        "es %d, debe ser de 1 a %d",
	rowTwice:         "es %d, igual que %s[%d].row; cada surco se da una sola vez",
	aboveZero:        "es %s, debe ser mayor que 0 y de %d%s como máximo",
	sectionBackwards: "va del surco %d al surco %d, debe ir de un surco a otro que no esté antes",
	sectionShares:    "comparte surcos con sections[%d]",
	confidence:       "es %s, debe ser 0.5 o más y menor que 1",
	noRow:            "es %d, debe ser el número de un surco de esta solicitud",
	noDatum:          "falta; SET_DEPTH necesita la profundidad que se quiere, de %d a %d mm",
	manySections:     "tiene %d secciones, se admiten %d como máximo",
	manyMechanisms:   "tiene %d mecanismos, se admiten %d como máximo",
	manyReferences:   "tiene %d surcos, se admiten %d como máximo",
	manyIDs:          "tiene %d identificadores, se admiten %d como máximo",
	noMechanism:      "%q no es el id de un mecanismo de esta sembradora",
	noMechanisms:     "no hay ninguno, debe nombrar al menos un mecanismo",
	idTwice:          "%q es el id de otro mecanismo; cada id se usa una sola vez",
	noStyle:          "falta, debe ser el id de un tipo de mecanismo instalado",
	notGiven:         "es %d, debe ser el número de un surco de los dados aquí",
	secondReference:  "es %d, pero el surco %d ya es el de referencia del mecanismo %q; cada mecanismo tiene uno como máximo",
	notOfPlanter:     "es %d, un surco que esta sembradora no tiene",
	fewRows:          "tiene %d surcos, debe tener de %d a %d",
	seedsWrong:       "tiene %d semillas, debe tener de 1 a %d",
	oneSeedEach:      "tienen una semilla cada uno; al menos un surco necesita dos o más, para distinguir entre semillas de un surco y entre surcos",

	park:       "Estacione en terreno plano, calce las ruedas, apague el motor, saque la llave y libere la presión hidráulica.",
	stands:     "Trabe el levante y ponga soportes bajo el bastidor sobre piso firme; verifique la capacidad de cada soporte.",
	raisedIron: "Nunca se meta debajo de un equipo sostenido solo por la hidráulica o por un gato.",
	hands:      "Mantenga las manos lejos de donde puedan quedar atrapadas, y vea que no haya otra persona cerca cuando algo se mueva.",
	manual:     "Siga el manual del operador y las normas locales; si el trabajo pide una persona habilitada, déjeselo a ella.",
}

func (v Voice) phrases() *phrases { return In(v.Language, &english, &spanish) }
