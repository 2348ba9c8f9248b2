package leveling

// phrases are this package's words in one language.
type phrases struct {
	row, rows, and     string
	moreThan, lessThan string // take a percentage
	inch, under        string // under takes a length that is not reached

	notWithin   string // amount, lowest amount, highest
	notAbove    string // amount, bound
	tooSmall    string // amount, lowest
	unreadable  string
	unprintable string // the character
	missing     string // fewest, most characters
	wrongSize   string // characters, fewest, most

	blockHeight      string // height, highest
	rowsWrong        string // rows, most
	rowNumber        string // number, largest
	rowTwice         string // number, list, place in it
	aboveZero        string // amount, largest
	sectionBackwards string // first row, last row
	sectionShares    string // place of the other
	confidence       string // chance
	noRow            string // number
	noDatum          string // least, most
	manySections     string // sections, most
	manyMechanisms   string // mechanisms, most
	manyReferences   string // rows, most
	manyIDs          string // ids, most
	noMechanism      string // id
	noMechanisms     string
	idTwice          string // id
	noStyle          string
	notGiven         string // row
	secondReference  string // row, the other, mechanism
	notOfPlanter     string // row
	fewRows          string // rows, least, most
	seedsWrong       string // seeds, most
	oneSeedEach      string

	park, stands, raisedIron, hands, manual string // the cautions
}

var catalogue = Catalogue[phrases]{English: &english, Spanish: &spanish}

func (v Voice) phrases() *phrases { return catalogue.In(v.Language) }
