package plan

import "rowdatum/server/leveling"

// phrases are the sentences of this package in one language. A length comes with its unit, a chance with
// its percent sign; what a phrase takes is said behind it, in English's order.
type phrases struct {
	matched    string // depth
	left       string // reads, sure
	moved      string // reads, why not left, brings, sure
	reread     string // reading it again, reads, sure
	leftUneven string // reads, sure, why nothing is nearer
	nearest    string // reads, brings, away, sure
	stuck      string // depth, travel

	reads             string // depth, away
	deeper, shallower string // length
	atDatum           string
	sure              string // chance, tolerance
	travel            string // towards shallower, towards deeper
	noTravel          string // travel
	widens            string
	leftSure          string // chance, tolerance
	bringsDeeper      string // length, depth
	bringsShallower   string // length, depth
	smallestSpread    string
	undecided         string // tolerance that would do
	notWorth          string // length
	nearBefore        string
	heldBack          string // travel
	nothingNearer     string
	again, againMany  string // againMany: readings

	about           string // rows, what
	noneReaches     string // travel, what the datum is
	askedDepth      string
	meanOfReadings  string
	stuckRows       string // travel
	wornRows        string // why
	wornClosest     string
	wornOut         string
	nearRows        string
	undecidedRows   string // tolerance that would do
	offRows         string
	readFirst       string // readings
	readFirstOnce   string
	ofPlanter       string // rows, tolerance, chance of all, chance asked of each
	coarse          string // ruling, tolerance, ruling that would do
	unknownRows     string
	trimmedRows     string
	noReference     string // row
	otherReference  string // row named, row taken
	needMore        string // provable now, wanted, readings
	needOneMore     string // provable now, wanted
	hardly          string // readings, wanted, provable then
	never           string // wanted, provable at best
	unmarkedNotEven string
	unmarkedUnknown string
	unmarkedStrange string

	farFromOthers string // row, reading, middle of the others
	disagrees     string // row, which reading, reading, its others

	// Of field moves.
	outOfTravel string
	trimmed     string
	unknown     string
	noneMoves   string
	notReached  string // length
	estimated   string
	notAll      string
}

var catalogue = leveling.Catalogue[phrases]{leveling.English: &english, leveling.Spanish: &spanish}

// seedPhrases take the place of those that speak of readings and fixtures, where the rows' depths are what dug seeds
// say. They take what these take.
type seedPhrases struct {
	reads            string
	stuck            string
	undecided        string
	again, againMany string

	meanOfReadings string
	nearRows       string
	undecidedRows  string
	needMore       string
	needOneMore    string
	hardly         string
	never          string
}

// over are phrases with those of seeds in their place.
func (s *seedPhrases) over(p phrases) *phrases {
	p.reads, p.stuck, p.undecided, p.again, p.againMany = s.reads, s.stuck, s.undecided, s.again, s.againMany
	p.meanOfReadings, p.nearRows, p.undecidedRows = s.meanOfReadings, s.nearRows, s.undecidedRows
	p.needMore, p.needOneMore, p.hardly, p.never = s.needMore, s.needOneMore, s.hardly, s.never
	return &p
}

var ofSeeds = leveling.Catalogue[seedPhrases]{leveling.English: &englishSeeds, leveling.Spanish: &spanishSeeds}
