package flow

var english = phrases{
	single:        "%s: %s",
	likeInches:    "All readings are below 6: these look like inches. The API takes millimetres.",
	rowNotRead:    "aim.row was given, and is read only with MATCH_ROW.",
	datumNotRead:  "aim.datumMm was given, and is read only with SET_DEPTH.",
	unusedFigures: "No row has mechanism %q; its figures were not checked.",
	choseAnew:     "This plan chose its depth anew: rows that were brought to the earlier one may have to move again.",
	visitLeftOut:  "The visit %s is left out: what is kept of it is no longer what was signed.",

	noRows:        "is empty, must hold 1 to %d rows",
	manyRows:      "has %d rows, at most %d are taken",
	noMechanism:   "%q is not the id of a mechanism of this request",
	readingsWrong: "has %d readings, must have 1 to %d",
	someDepths:    "is given on some rows and not on others; give it on all, or on none where all stand at one depth",
	noCount:       "says neither count nor settingAfter; one of them is needed",
	areaTwice:     "is given beside hectares, which it takes the place of; give one of the two",
	noSuchMove:    "is not a move that this row's mechanism can make from where it stands",
	noMove:        "leaves the row where it stands",
	idWrong:       "is %q, must be 1 to %d lower-case letters, digits and hyphens, no hyphen at either end",
	noEtag:        "is missing; pass the one that was read, so that nobody overwrites what they did not see",
	noFixtureEtag: "is missing; pass the fixture's, so that nobody overwrites what they did not see",
	roleTooHigh:   "must be a role that is not above your own",
	expires:       "must lie ahead, at most 400 days",
}
