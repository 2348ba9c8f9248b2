package wear

var english = phrases{
	method: "generalised least squares on each row's chain of depths, what a visit's readings have in common removed; relative to the mean of the middle third of the rows",

	notEnough: "not enough history: %d of at least 3 visits that can be compared since its last changed part",
	deeper:    "drifts deeper than the other rows by %s per 100 %s (%s to %s)",
	shallower: "drifts shallower than the other rows by %s per 100 %s (%s to %s)",
	unlike:    "; that is unlike the rest: inspect it for worn or wrong parts",
	usedUp:    "; its travel is used up",
	between:   "; its travel lasts %s to %s %s more",
	atLeast:   "; its travel lasts %s %s more at least",
	noEnd:     "; no end of its travel is in sight",

	about:      "%s: %s",
	wornUnlike: "unlike the rest in wear; inspect before the season, and order parts in time.",
	fewRows:    "Too few rows have a history, or they share too few visits, to tell one row's wear from what all have in common.",
	fewVisits:  "Signed visits whose area is known: %d. Wear is told from 3 on.",
	edge:       "%s, the edge rows: they drift against the others by %s per 100 %s (%s by chance if they were alike).",
	scatter:    "The readings scatter %s times as much about their lines as their uncertainty says: parts that were changed unrecorded, or wear that comes in jumps.",
	relative:   "What all rows wear alike cannot be seen in readings relative to each other.",
}
