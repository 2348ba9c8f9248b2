package sheet

// phrases are this package's words in one language. What a phrase takes is said behind it, in English's
// order.
type phrases struct {
	tag string // of the language, for the page

	title               string
	draft, draftMeans   string
	void, voidMeans     string // voidMeans takes the reason
	page                string // page, pages
	owner               string
	workOrder, job      string
	rows, planted       string
	rowsApart           string // rows, spacing
	mechanisms          string
	fixture             string
	window, blocks      string
	pointerPlate        string
	ruled, repeats      string // length
	repeated, floor     string // length
	datum               string
	datumBand           string // datum, tolerance
	noDatum             string
	spread              string
	spreadChange        string // found, left
	provenEven          string
	someOf              string // how many, of all
	excepted, estimated string
	opened, signed      string
	signedBy            string // person, time
	notSigned           string

	picture      string
	pictureSays  string
	keyFound     string
	keyLeft      string
	keyEstimated string
	keyUnsure    string
	keyOff       string
	keyBand      string

	rowByRow              string
	row, asFound, asLeft  string
	how, fromDatum        string
	verdict, sure, moved  string
	measured, foretold    string
	notRead, foundUnknown string
	even, off             string
	unsure, stuck         string
	inMoves               string // net count, moves
	newPart               string
	meaning               string
	uncertaintyMeans      string
	evenMeans             string // tolerance, confidence
	unsureMeans, offMeans string // offMeans takes the confidence
	stuckMeans            string
	estimateMeans         string
	depthMeans            string
	exceptions            string
	oneRow, manyRows      string // row; rows
	marks                 string
	countedFrom           string // title, unit, row
	standsAt              string // title, unit, row, setting
	deep, shallow, level  string // length
	marksTable            string
	referenceDepth        string
	unmarked              string // rows
	marksUse              string

	inspections                     string
	point, value, limit, finding    string
	worn, good, atMost, atLeast     string // length
	byEye, comment                  string
	toOrder                         string
	partFor                         string // title, rows
	parts, toMind, notes            string
	aboutRow                        string // row in words, text
	cautions, caution, by, when     string
	open                            string
	people, person, did             string
	didReadings, didPlans, didMoves string // how many
	didParts, didPoints, didTicks   string
	didOpen, didSign                string
	signingNeeds                    string
	contentHash, hashMeans          string
}

var english = phrases{
	tag:   "en",
	title: "Leveling sheet",
	draft: "DRAFT", draftMeans: "This job is not signed. Figures and moves may still change.",
	void: "VOID", voidMeans: "This job was closed without a result: %s",
	page:  "Page %d of %d",
	owner: "Owner", workOrder: "Work order", job: "Job",
	rows: "Rows", planted: "Planted so far", rowsApart: "%d, %s apart", mechanisms: "Mechanisms by row",
	fixture: "Fixture", window: "window box", blocks: "blocks", pointerPlate: "pointer plate",
	ruled: "ruled in %s", repeats: "readings said to repeat to %s", repeated: "in this job to %s", floor: "floor uneven by %s",
	datum: "Datum", datumBand: "%s, tolerance %s either side", noDatum: "none yet: no plan has been made",
	spread: "Spread of the rows", spreadChange: "found %s, left %s",
	provenEven: "Rows proven even", someOf: "%d of %d", excepted: "Rows signed with a reason", estimated: "Rows estimated, not read again",
	opened: "Opened", signed: "Signed", signedBy: "%s, %s", notSigned: "not signed",

	picture:      "All rows",
	pictureSays:  "Every row's opener seen from behind, row 1 on the left; lower is deeper. Depths are magnified.",
	keyFound:     "as found",
	keyLeft:      "as left, read",
	keyEstimated: "as left, estimated",
	keyUnsure:    "unsure",
	keyOff:       "off or stuck",
	keyBand:      "datum and tolerance",

	rowByRow: "Row by row", row: "Row", asFound: "As found", asLeft: "As left", how: "As left is", fromDatum: "From datum",
	verdict: "Verdict", sure: "Chance", moved: "Moved",
	measured: "read", foretold: "estimated", notRead: "not read", foundUnknown: "not known",
	even: "Even", off: "Off", unsure: "Unsure", stuck: "Stuck",
	inMoves: "%s in %d moves", newPart: "new part",

	meaning: "What the figures mean",
	uncertaintyMeans: "A figure behind ± is twice the standard uncertainty: of a hundred such ranges, about 95 hold the depth that this fixture would show " +
		"if it were read without end. It comes from the ruling, from how well readings repeat, from how often the row was read and, after a move, from what the mechanism makes of it.",
	evenMeans:     "Even: the readings make it at least %[2]s sure that the row is within %[1]s of the datum; Chance is how sure.",
	offMeans:      "Off: at least %s sure that it is not.",
	unsureMeans:   "Unsure: the readings can say neither.",
	stuckMeans:    "Stuck: no setting of the row leaves the travel that the season needs.",
	estimateMeans: "Estimated: an estimate, not a measurement. The row was moved and not read again; its depth is foretold from earlier readings and from what its move should do.",
	depthMeans:    "Depths are this fixture's numbers and compare rows with each other. They are not planting depth: that is set in the field, and proven by digging seeds.",

	exceptions: "* Signed although not proven even", oneRow: "Row %d", manyRows: "Rows %s",
	marks: "Marks", countedFrom: "%s: %s counted from row %d", standsAt: "%s: %s counted from row %d, which stands at %s",
	deep: "%s deep", shallow: "%s shallow", level: "level",
	marksTable: "Their steps are uneven, so these rows go by a table:", referenceDepth: "Reference row at",
	unmarked: "No mark: rows %s.",
	marksUse: "Under each mark is what the mechanism's steps leave. In the field, move every row the same count from its own mark.",

	inspections: "Inspection", point: "Point", value: "Found", limit: "Limit", finding: "Finding",
	worn: "WORN", good: "good", atMost: "at most %s", atLeast: "at least %s", byEye: "by eye", comment: "Comment",
	toOrder: "Parts to order, by what was found worn: ", partFor: "%s (%s)",
	parts:  "Parts changed",
	toMind: "To mind", notes: "Notes", aboutRow: "%s: %s",
	cautions: "Cautions", caution: "Caution", by: "Ticked by", when: "When", open: "not ticked",
	people: "People", person: "Person", did: "Did",
	didReadings: "readings: %d", didPlans: "plans: %d", didMoves: "moves: %d", didParts: "parts changed: %d", didPoints: "points inspected: %d", didTicks: "cautions ticked: %d",
	didOpen:      "opened the job",
	didSign:      "signed",
	signingNeeds: "Before it can be signed",
	contentHash:  "Content hash",
	hashMeans:    "The SHA-256 of the job's whole log as it was signed. If an entry of the log were changed afterwards, it would no longer come out.",
}

// Rows are surcos and a datum a nivel común, as everywhere in the service.
var spanish = phrases{
	tag:   "es",
	title: "Hoja de nivelación",
	draft: "BORRADOR", draftMeans: "Este trabajo no está firmado. Las cifras y los ajustes todavía pueden cambiar.",
	void: "ANULADO", voidMeans: "Este trabajo se cerró sin resultado: %s",
	page:  "Página %d de %d",
	owner: "Dueño", workOrder: "Orden de trabajo", job: "Trabajo",
	rows: "Surcos", planted: "Sembrado hasta ahora", rowsApart: "%d, a %s", mechanisms: "Mecanismos por surco",
	fixture: "Calibre", window: "caja con ventana", blocks: "bloques", pointerPlate: "placa con aguja",
	ruled: "graduado en %s", repeats: "se dice que las lecturas repiten a %s", repeated: "en este trabajo, a %s", floor: "piso desparejo en %s",
	datum: "Nivel común", datumBand: "%s, tolerancia de %s a cada lado", noDatum: "todavía no hay: no se ha hecho ningún plan",
	spread: "Diferencia entre surcos", spreadChange: "al llegar %s, al salir %s",
	provenEven: "Surcos probados parejos", someOf: "%d de %d", excepted: "Surcos firmados con un motivo", estimated: "Surcos estimados, sin leer otra vez",
	opened: "Abierto", signed: "Firmado", signedBy: "%s, %s", notSigned: "sin firmar",

	picture:      "Todos los surcos",
	pictureSays:  "El abresurco de cada surco visto desde atrás, el surco 1 a la izquierda; más abajo es más hondo. Las profundidades están ampliadas.",
	keyFound:     "al llegar",
	keyLeft:      "al salir, leído",
	keyEstimated: "al salir, estimado",
	keyUnsure:    "dudoso",
	keyOff:       "fuera o sin recorrido",
	keyBand:      "nivel común y tolerancia",

	rowByRow: "Surco por surco", row: "Surco", asFound: "Al llegar", asLeft: "Al salir", how: "Dato al salir", fromDatum: "Del nivel común",
	verdict: "Veredicto", sure: "Seguridad", moved: "Ajuste",
	measured: "leído", foretold: "estimado", notRead: "sin leer", foundUnknown: "no se sabe",
	even: "Parejo", off: "Fuera", unsure: "Dudoso", stuck: "Sin recorrido",
	inMoves: "%s en %d ajustes", newPart: "pieza nueva",

	meaning: "Qué significan las cifras",
	uncertaintyMeans: "La cifra detrás de ± es el doble de la incertidumbre estándar: de cien intervalos así, unos 95 contienen la profundidad que este calibre mostraría " +
		"si se leyera sin fin. Viene de la graduación, de lo bien que repiten las lecturas, de cuántas veces se leyó el surco y, después de un ajuste, de lo que el mecanismo hace con él.",
	evenMeans:     "Parejo: las lecturas dan al menos %[2]s de seguridad de que el surco está a no más de %[1]s del nivel común; esa es la Seguridad.",
	offMeans:      "Fuera: al menos %s de seguridad de que no lo está.",
	unsureMeans:   "Dudoso: las lecturas no pueden decir ni una cosa ni la otra.",
	stuckMeans:    "Sin recorrido: ninguna posición del surco deja el recorrido que pide la temporada.",
	estimateMeans: "Estimado: una estimación, no una medición. El surco se movió y no se leyó otra vez; su profundidad se deduce de lecturas anteriores y de lo que el ajuste debería hacer.",
	depthMeans:    "Las profundidades son números de este calibre y comparan los surcos entre sí. No son la profundidad de siembra: esa se pone en el campo y se comprueba desenterrando semillas.",

	exceptions: "* Firmados sin probar que estén parejos", oneRow: "Surco %d", manyRows: "Surcos %s",
	marks: "Marcas", countedFrom: "%s: %s desde el surco %d", standsAt: "%s: %s desde el surco %d, que está en %s",
	deep: "%s más hondo", shallow: "%s menos hondo", level: "a nivel",
	marksTable: "Sus pasos son desiguales, así que estos surcos van por una tabla:", referenceDepth: "Surco de referencia a",
	unmarked: "Sin marca: surcos %s.",
	marksUse: "Debajo de cada marca está lo que dejan los pasos del mecanismo. En el campo, mueva cada surco la misma cuenta desde su propia marca.",

	inspections: "Inspección", point: "Punto", value: "Encontrado", limit: "Límite", finding: "Resultado",
	worn: "GASTADA", good: "buena", atMost: "como máximo %s", atLeast: "como mínimo %s", byEye: "a ojo", comment: "Comentario",
	toOrder: "Piezas para pedir, por lo que se halló gastado: ", partFor: "%s (%s)",
	parts:  "Piezas cambiadas",
	toMind: "A tener en cuenta", notes: "Notas", aboutRow: "%s: %s",
	cautions: "Precauciones", caution: "Precaución", by: "Confirmada por", when: "Cuándo", open: "sin confirmar",
	people: "Personas", person: "Persona", did: "Hizo",
	didReadings: "lecturas: %d", didPlans: "planes: %d", didMoves: "ajustes: %d", didParts: "piezas cambiadas: %d", didPoints: "puntos inspeccionados: %d", didTicks: "precauciones confirmadas: %d",
	didOpen:      "abrió el trabajo",
	didSign:      "firmó",
	signingNeeds: "Antes de poder firmar",
	contentHash:  "Huella del contenido",
	hashMeans:    "El SHA-256 de todo el registro del trabajo tal como se firmó. Si después se cambiara una entrada del registro, ya no daría lo mismo.",
}
