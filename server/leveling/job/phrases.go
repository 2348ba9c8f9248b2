package job

import "rowdatum/server/leveling"

// phrases are the sentences of this package in one language. A length comes with its unit, a chance with
// its percent sign; what a phrase takes is said behind it, in English's order.
type phrases struct {
	even, off, unsure, stuck string // verdicts

	stands            string // verdict, depth, from the datum, chance, tolerance
	foretold          string // depth, from the datum
	deeper, shallower string // length
	atDatum           string
	moveBrings        string // stands, depth, chance

	waits, askPlan      string
	waitsForMatched     string
	readMatched         string
	readMatchedMany     string // readings
	partChanged         string
	movedUnread         string
	notRead             string
	noTravel            string
	settles, settleMany string // stands; settleMany takes how many readings before it
	cannotDecide        string // stands
	notWorthMoving      string // stands
	planIsOld           string // stands
	moveIsOld           string // stands
	planIsHelpless      string // stands

	farFromForetold string // reading, foretold
	farFromOwn      string // reading, the others
	farFromOthers   string // reading, middle of the others
	farFromAsLeft   string // reading, as last left
	farOnOne        string // reading, from the datum

	about         string // rows, what
	surprises     string
	foundUnknown  string
	placeUnknown  string
	lopsided      string
	strange       string
	worn          string
	inchesTyped   string
	scatters      string // scatter, repeats, stated, pooled
	alsoOpen      string // the other job
	nearlyFull    string // most entries, most MiB
	notTicked     string // caution
	lackReading   string
	lackAfterMove string
	lackPlan      string
	lackEven      string

	// what is wrong with what was sent
	entriesWrong  string // entries, most
	noRow         string // number
	noMove        string // revision, row
	noDepth       string // depth, lowest, highest
	rowTwice      string // row
	nameMove      string // row
	nameSetting   string // row, setting
	noPoint       string // point, row, points
	noPoints      string // point, row
	noValue       string // what is measured
	noEvent       string // revision, last revision
	noCaution     string // id
	rowBesideAll  string // row
	exceptedTwice string // row
}

var catalogue = leveling.Catalogue[phrases]{leveling.English: &english, leveling.Spanish: &spanish}
