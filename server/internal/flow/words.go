package flow

import (
	"fmt"

	"rowdatum/server/leveling"
)

// phrases are what flow itself says to a technician, in one language.
type phrases struct {
	single        string // row, what its adjuster says of it
	likeInches    string
	rowNotRead    string
	datumNotRead  string
	unusedFigures string // mechanism
	choseAnew     string

	// what is wrong with a request
	noRows        string // most
	manyRows      string // rows, most
	noMechanism   string // id
	readingsWrong string // readings, most
	someDepths    string
	noCount       string
	noSuchMove    string
	noMove        string
	idWrong       string // id, most characters
	noEtag        string
	noFixtureEtag string
	roleTooHigh   string
	expires       string
}

var english = phrases{
	single:        "%s: %s",
	likeInches:    "All readings are below 6: these look like inches. The API takes millimetres.",
	rowNotRead:    "aim.row was given, and is read only with MATCH_ROW.",
	datumNotRead:  "aim.datumMm was given, and is read only with SET_DEPTH.",
	unusedFigures: "No row has mechanism %q; its figures were not checked.",
	choseAnew:     "This plan chose its depth anew: rows that were brought to the earlier one may have to move again.",

	noRows:        "is empty, must hold 1 to %d rows",
	manyRows:      "has %d rows, at most %d are taken",
	noMechanism:   "%q is not the id of a mechanism of this request",
	readingsWrong: "has %d readings, must have 1 to %d",
	someDepths:    "is given on some rows and not on others; give it on all, or on none where all stand at one depth",
	noCount:       "says neither count nor settingAfter; one of them is needed",
	noSuchMove:    "is not a move that this row's mechanism can make from where it stands",
	noMove:        "leaves the row where it stands",
	idWrong:       "is %q, must be 1 to %d lower-case letters, digits and hyphens, no hyphen at either end",
	noEtag:        "is missing; pass the one that was read, so that nobody overwrites what they did not see",
	noFixtureEtag: "is missing; pass the fixture's, so that nobody overwrites what they did not see",
	roleTooHigh:   "must be a role that is not above your own",
	expires:       "must lie ahead, at most 400 days",
}

var spanish = phrases{
	single:        "%s: %s",
	likeInches:    "Todas las lecturas están por debajo de 6: parecen pulgadas. La API recibe milímetros.",
	rowNotRead:    "Se dio aim.row, que solo se lee con MATCH_ROW.",
	datumNotRead:  "Se dio aim.datumMm, que solo se lee con SET_DEPTH.",
	unusedFigures: "Ningún surco tiene el mecanismo %q; sus datos no se revisaron.",
	choseAnew:     "Este plan eligió su profundidad de nuevo: los surcos que se llevaron a la anterior tal vez tengan que moverse otra vez.",

	noRows:        "no hay ninguno, debe haber de 1 a %d surcos",
	manyRows:      "tiene %d surcos, se admiten %d como máximo",
	noMechanism:   "%q no es el id de un mecanismo de esta solicitud",
	readingsWrong: "tiene %d lecturas, debe tener de 1 a %d",
	someDepths:    "se da en unos surcos y en otros no; delo en todos, o en ninguno si todos están a la misma profundidad",
	noCount:       "no dice ni count ni settingAfter; hace falta uno de los dos",
	noSuchMove:    "no es un ajuste que el mecanismo de este surco pueda hacer desde donde está",
	noMove:        "deja el surco donde está",
	idWrong:       "es %q, debe tener de 1 a %d letras minúsculas, cifras y guiones, sin guion al principio ni al final",
	noEtag:        "falta; mande el que se leyó, para que nadie borre lo que no vio",
	noFixtureEtag: "falta; mande el del calibre, para que nadie borre lo que no vio",
	roleTooHigh:   "debe ser un permiso que no pase del suyo",
	expires:       "debe ser una fecha futura, dentro de 400 días como máximo",
}

// say notes a violation in every language. What only a program or the keeper of the service can send wrong
// (ids of requests, page tokens, imports, keys made by hand) is said in English alone.
func say(v *leveling.Violations, field string, phrase func(*phrases) string, args ...any) {
	args = leveling.Short(args)
	v.Say(field, func(l leveling.Language) string {
		return fmt.Sprintf(phrase(phrasesIn(leveling.Voice{Language: l})), args...)
	})
}

func phrasesIn(v leveling.Voice) *phrases { return leveling.In(v.Language, &english, &spanish) }
