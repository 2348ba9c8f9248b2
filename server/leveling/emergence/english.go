package emergence

var english = phrases{
	none:    "For rows %s apart the published figures tell no difference in the time to emergence.",
	some:    "The deepest row may need about %[2]s degree days (°C) more to emerge than the shallowest, %[1]s above it.",
	days:    "; at this field's degree days that is about %s days",
	guide:   "A guide for corn, no forecast: soil, moisture, residue and seed matter as much.",
	shallow: "%s of the spread lie shallower than %s, for which no figure was published: shallower seed comes up less evenly, not just sooner.",

	lauer:   "125 degree days (°F) to emergence; 15 more for each %s below %s",
	range1:  "100 to 120 degree days (°F) to emergence",
	range2:  "90 to 120 degree days (°F) to emergence",
	formula: "how a day's degree days are reckoned: 50 to 86 °F",
	late:    "on one of two soils a plant that came late lost about 5 %% of its yield a day; seed at %s came up first and least evenly",
}
