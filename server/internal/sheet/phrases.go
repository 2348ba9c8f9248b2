package sheet

import "rowdatum/server/leveling"

// phrases are this package's words in one language. What a phrase takes is said behind it, in English's
// order.
type phrases struct {
	title               string
	draft, draftMeans   string
	void, voidMeans     string // voidMeans takes the reason
	page                string // page, pages
	owner               string
	workOrder, job      string
	rows, planted       string
	rowsApart           string // rows, spacing
	mechanisms          string
	fixture             string
	window, blocks      string
	pointerPlate        string
	ruled, repeats      string // length
	repeated, floor     string // length
	datum               string
	datumBand           string // datum, tolerance
	noDatum             string
	spread              string
	spreadChange        string // found, left
	trueSpread          string // spread of the numbers, from, to
	allWithin           string // rows proven even, rows, chance that they are within tolerance
	provenEven          string
	someOf              string // how many, of all
	excepted, estimated string
	opened, signed      string
	signedBy            string // person, time
	notSigned           string

	picture      string
	pictureSays  string
	keyFound     string
	keyLeft      string
	keyEstimated string
	keyUnsure    string
	keyOff       string
	keyBand      string

	rowByRow              string
	row, asFound, asLeft  string
	how, fromDatum        string
	verdict, sure, moved  string
	measured, foretold    string
	notRead, foundUnknown string
	even, off             string
	unsure, stuck         string
	inMoves               string // net count, moves
	newPart               string
	meaning               string
	uncertaintyMeans      string
	evenMeans             string // tolerance, confidence
	unsureMeans, offMeans string // offMeans takes the confidence
	stuckMeans            string
	estimateMeans         string
	depthMeans            string
	exceptions            string
	oneRow, manyRows      string // row; rows
	marks                 string
	countedFrom           string // title, unit, row
	standsAt              string // title, unit, row, setting
	deep, shallow, level  string // length
	marksTable            string
	referenceDepth        string
	unmarked              string // rows
	marksUse              string

	inspections                     string
	point, value, limit, finding    string
	worn, good, atMost, atLeast     string // length
	byEye, comment                  string
	toOrder                         string
	partFor                         string // title, rows
	parts, toMind, notes            string
	aboutRow                        string // row in words, text
	cautions, caution, by, when     string
	open                            string
	people, person, did             string
	didReadings, didPlans, didMoves string // how many
	didParts, didPoints, didTicks   string
	didOpen, didSign                string
	signingNeeds                    string
	contentHash, hashMeans          string
}

var catalogue = leveling.Catalogue[phrases]{leveling.English: &english, leveling.Spanish: &spanish}
