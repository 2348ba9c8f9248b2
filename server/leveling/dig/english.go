package dig

var english = phrases{
	method: "one-way random-effects analysis of variance: components from mean squares, rows' depths shrunk towards their mean (best linear unbiased prediction), uncertainty with the Prasad-Rao term for the components being estimated; a row whose seeds scatter more than the others' (F test, 5 %) stands on its own scatter, by Student's t",

	even: "even: %s", off: "to be corrected: %s", unsure: "unsure: %s; %s",
	deeper:    "plants %s deeper than the rows' mean, give or take %s",
	shallower: "plants %s shallower than the rows' mean, give or take %s",
	alike:     "plants at the rows' mean, give or take %s",
	noise:     ", which may be chance",
	settles:   "%d more seeds settle it, if it stays so", settleOne: "1 more seed settles it, if it stays so",
	never: "not even %d more seeds would settle it, if it stays so",

	bounces:   "its seeds scatter by %s, %s times as much as the others': look at down force, closing and the seed's way into the trench, not at the handle",
	bounceOff: "its seeds scatter by %s, %s times as much as the others': look at down force, closing and the seed's way into the trench before you turn its handle",
	bounceOdd: "its seeds scatter by %s, %s times as much as the others', which may be chance: the row is judged by its own scatter",

	noDifference: "These seeds do not show that the rows differ: rows that were all alike would differ as much with a chance of %s.",
	negative:     "The rows differ less than seeds of one row do; the variance between rows came out negative and counts as 0.",
	oneSeed:      "%s: one seed only, so its own scatter is taken from the other rows.",
	fewRows:      "With %d rows, how much rows differ is itself little known: dig more rows before many are moved.",
	place:        "How well a row is level shows only where speed, soil and down force were alike: dig all rows at one place.",

	tooLong: "is %d bytes long, must be at most %d", onLine: "line %d: %s", onlySeparators: "has separators only",
	notRow: "%q is not a row number", notDepth: "%q is not a depth", noDepth: "has a row and no depth",
	unclearComma:    "the comma in %q may be a decimal sign or stand between two depths; write decimals with a point, like 50.5, and a space or a semicolon between depths",
	unclearFraction: "%q can be read in two ways; write whole inches, a space, and a fraction below one, like 1 7/8 or 2 1/8",
	noSeeds:         "has no seeds; each line is a row number, then depths",
}
