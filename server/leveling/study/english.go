package study

var english = phrases{
	crossed:   "two-way crossed random-effects analysis of variance, rows by people",
	onePerson: "one-way random-effects analysis of variance of one person's readings by rows; what people differ by was not studied",
	pooled:    "; people by rows pooled into the repeatability, because its p is above 0.25",
	kept:      "; people by rows kept as a component of its own, because its p is not above 0.25",

	good:     "Good enough: one reading of each row can prove %s.",
	goodWith: "Good enough for %s with %d readings of each row.",
	poor:     "Not good enough for %s: even %d readings of each row prove only %s. Take a finer fixture or a wider tolerance.",

	negative:   "The component of %s came out negative and counts as 0.",
	noScatter:  "No reading differed from its repeats: the ruling hides the scatter, and the fixture may be poorer than this shows where rows lie between two lines. Its repeatability stays %s.",
	fewPeople:  "Let one person read all rows of a planter: what several people would prove is not told, because that takes %d people in a study, and here read %d.",
	people:     "People differ. Let one person read all rows of a planter: where several do, one reading each proves %s in place of %s.",
	fewDegrees: "The scatter rests on few repeats only, %.0f; more of them make what can be proven smaller.",
	finer:      "Nearly all of the scatter is the ruling's, %s: a finer scale would help more than more readings.",
	byRows:     "people by rows", persons: "people", rows: "rows",

	tooMany: "has %d readings, at most %d are taken", wrongRows: "has %d rows, must have 2 to %d", wrongPeople: "has %d people, must have 1 to %d",
	unequal: "has %d readings of row %d by %q, must have %d: every person reads every row equally often, at least twice",
}
