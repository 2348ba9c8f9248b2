package adjuster

var english = phrases{
	deeper: "deeper", shallower: "shallower", and: "and", of: " ",
	past:   "Go at least %s past it and come back, so that the move ends going %s.",
	noPast: "The travel ends here, so it cannot go past it and back to take up the slack; read this row with care afterwards.",
	pinch:  "Keep hands clear of pinch points while anything moves.",
	inch:   "in",
}
