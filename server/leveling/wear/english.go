package wear

var english = phrases{
	method: "generalised least squares on each row's chain of depths, what a visit's readings have in common removed, with a component row by visit from the residuals of all rows; relative to the mean of the middle third of the rows",

	notEnough: "not enough history: %d of at least 3 visits that can be compared since its last changed part",
	asOthers:  "drifts as the others do",
	deeper:    "drifts deeper than the other rows by %s per 100 %s (%s to %s)",
	shallower: "drifts shallower than the other rows by %s per 100 %s (%s to %s)",
	unlike:    "; that is unlike the rest: inspect it for worn or wrong parts",
	usedUp:    "; its travel is used up",
	between:   "; its travel lasts %s to %s %s more",
	atLeast:   "; its travel lasts %s %s more at least",
	noEnd:     "; no end of its travel is in sight",

	about:        "%s: %s",
	wornUnlike:   "unlike the rest in wear; inspect before the season, and order parts in time.",
	fewRows:      "Too few rows have a history, or they share too few visits, to tell one row's wear from what all have in common.",
	fewVisits:    "Signed visits whose area is known: %d. Wear is told from 3 on.",
	edge:         "%s, the edge rows: they %s.",
	edgeAlike:    "drift as the others do",
	edgeDeeper:   "drift deeper than the others by %s per 100 %s (%s by chance if they were alike)",
	edgeShallow:  "drift shallower than the others by %s per 100 %s (%s by chance if they were alike)",
	common:       "All rows together drift deeper by %s per 100 %s (%s to %s), as the fixture that read them tells; the travel that is left counts it.",
	commonUp:     "All rows together drift shallower by %s per 100 %s (%s to %s), as the fixture that read them tells; the travel that is left counts it.",
	commonNone:   "No drift of all rows together shows in the fixture that read them; it may be up to %s per 100 %s, and the travel that is left counts that.",
	noCommon:     "How long the travel lasts is not told: what all rows wear alike cannot be seen. Read the planter with one and the same fixture, its zero unchanged, at three signed visits whose planted area differs.",
	foundDeeper:  "found %s deeper than last left, against the planter's median row (%s to %s)",
	foundShallow: "found %s shallower than last left, against the planter's median row (%s to %s)",
	foundAlike:   "found as last left, against the planter's median row",
	scatter:      "The readings scatter %s times as much about their lines as their uncertainty says: parts that were changed unrecorded, or wear that comes in jumps.",
}
