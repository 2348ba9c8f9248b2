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

var catalogue = leveling.Catalogue[phrases]{leveling.English: &english, leveling.Spanish: &spanish}

// say notes a violation in every language. What only a program or the keeper of the service can send wrong
// (ids of requests, page tokens, imports, keys made by hand) is said in English alone.
func say(v *leveling.Violations, field string, phrase func(*phrases) string, args ...any) {
	args = leveling.Short(args)
	v.Say(field, func(l leveling.Language) string {
		return fmt.Sprintf(phrase(catalogue.In(l)), args...)
	})
}
