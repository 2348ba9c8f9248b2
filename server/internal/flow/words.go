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
	visitLeftOut  string // job

	// what is wrong with a request
	noRows        string // most
	manyRows      string // rows, most
	noMechanism   string // id
	readingsWrong string // readings, most
	someDepths    string
	noCount       string
	areaTwice     string
	noSuchMove    string
	noMove        string
	idWrong       string // id, most characters
	noEtag        string
	noFixtureEtag string
	roleTooHigh   string
	expires       string
}

var catalogue = leveling.Catalogue[phrases]{leveling.English: &english, leveling.Spanish: &spanish}

// say notes a violation.
func say(v *leveling.Violations, field string, phrase func(*phrases) string, args ...any) {
	v.Say(field, catalogue.Message(phrase, args...))
}
