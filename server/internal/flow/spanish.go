package flow

var spanish = phrases{
	single:        "%s: %s",
	likeInches:    "Todas las lecturas están por debajo de 6: parecen pulgadas. La API recibe milímetros.",
	rowNotRead:    "Se dio aim.row, que solo se lee con MATCH_ROW.",
	datumNotRead:  "Se dio aim.datumMm, que solo se lee con SET_DEPTH.",
	unusedFigures: "Ningún surco tiene el mecanismo %q; sus datos no se revisaron.",
	choseAnew:     "Este plan eligió su profundidad de nuevo: los surcos que se llevaron a la anterior tal vez tengan que moverse otra vez.",
	visitLeftOut:  "La visita %s queda fuera: lo que se guarda de ella ya no es lo que se firmó.",

	noRows:        "no hay ninguno, debe haber de 1 a %d surcos",
	manyRows:      "tiene %d surcos, se admiten %d como máximo",
	noMechanism:   "%q no es el id de un mecanismo de esta solicitud",
	readingsWrong: "tiene %d lecturas, debe tener de 1 a %d",
	someDepths:    "se da en unos surcos y en otros no; delo en todos, o en ninguno si todos están a la misma profundidad",
	noCount:       "no dice ni count ni settingAfter; hace falta uno de los dos",
	areaTwice:     "se da junto con hectares, que reemplaza; dé uno de los dos",
	noSuchMove:    "no es un ajuste que el mecanismo de este surco pueda hacer desde donde está",
	noMove:        "deja el surco donde está",
	idWrong:       "es %q, debe tener de 1 a %d letras minúsculas, cifras y guiones, sin guion al principio ni al final",
	noEtag:        "falta; mande el que se leyó, para que nadie borre lo que no vio",
	noFixtureEtag: "falta; mande el del calibre, para que nadie borre lo que no vio",
	roleTooHigh:   "debe ser un permiso que no pase del suyo",
	expires:       "debe ser una fecha futura, dentro de 400 días como máximo",
}
