package flow

import "rowdatum/server/leveling"

// phrases are what flow itself says to a technician, in one language.
type phrases struct {
	single        string // row, what its adjuster says of it
	likeInches    string
	rowNotRead    string
	datumNotRead  string
	unusedFigures string // mechanism
	choseAnew     string
}

var english = phrases{
	single:        "%s: %s",
	likeInches:    "All readings are below 6: these look like inches. The API takes millimetres.",
	rowNotRead:    "aim.row was given, and is read only with MATCH_ROW.",
	datumNotRead:  "aim.datumMm was given, and is read only with SET_DEPTH.",
	unusedFigures: "No row has mechanism %q; its figures were not checked.",
	choseAnew:     "This plan chose its depth anew: rows that were brought to the earlier one may have to move again.",
}

var spanish = phrases{
	single:        "%s: %s",
	likeInches:    "Todas las lecturas están por debajo de 6: parecen pulgadas. La API recibe milímetros.",
	rowNotRead:    "Se dio aim.row, que solo se lee con MATCH_ROW.",
	datumNotRead:  "Se dio aim.datumMm, que solo se lee con SET_DEPTH.",
	unusedFigures: "Ninguna fila tiene el mecanismo %q; sus datos no se revisaron.",
	choseAnew:     "Este plan eligió su profundidad de nuevo: las filas que se llevaron a la anterior tal vez tengan que moverse otra vez.",
}

func phrasesIn(v leveling.Voice) *phrases { return leveling.In(v.Language, &english, &spanish) }
