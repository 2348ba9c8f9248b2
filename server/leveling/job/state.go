package job

import (
	"rowdatum/server/leveling"
	"rowdatum/server/leveling/alike"
	"rowdatum/server/leveling/estimate"
	"rowdatum/server/leveling/plan"
	"rowdatum/server/leveling/worth"
)

// State is what follows from a job's events. It is never changed once made. It has no words: In makes a
// state that has them.
type State struct {
	Revision   int
	Stage      Stage
	CreateTime leveling.Micros // of the first event
	UpdateTime leveling.Micros // of the last
	Opened     *Opened
	Rows       []RowState // by rising number

	Aim                 leveling.Aim   // of the last plan issued, else the job's: verdicts go by it
	DatumMm             *float64       // of the last plan issued
	SpreadMm            *float64       // of the rows' depths; nil while fewer than two are known
	ProvableToleranceMm *float64       // the largest over the rows that are known; nil while none is
	Found, Now          *Worth         // of all rows together: as first found, and as they stand; nil while fewer than two are known
	Alike               *alike.Finding // rows that read unlike the rest together, as first found; nil: none
	RepeatabilityMm     float64        // as pooled from this job
	Doubt               *Doubt         // of the fixture's stated repeatability; nil: none
	Issued              *Issued        // the plan last issued
	PlanRevision        int            // that issued it, 0 before the first

	Cautions     []CautionState
	Marks        []plan.MechanismMarks // of the groups that stand where the last plan puts them
	Warnings     []string              // of In
	Signature    *Signature
	VoidReason   string
	SigningNeeds []string     // of In: what stands in the way of signing
	Inspections  []Inspection // in force, by row and point
	Notes        []Note       // in force, in order

	log       []logged
	bytes     int       // that the log takes, about
	rows      []*rowLog // as Rows; shared with earlier States
	plannedAt []int     // LastMove of every row when the last plan was issued
	firstPlan int       // revision of the first plan issued, 0 before
	styles    map[string]*leveling.Style
}

// logged is one event of the log, and the revision of the one that struck it.
type logged struct {
	*Event
	struckBy int
}

// RowState is one row as it stands.
type RowState struct {
	Row       int
	Mechanism string
	Setting   leveling.JSON // empty where nobody knows
	LastMove  int           // revision of its last move or part change: what readings and moves give as AfterMove
	Moved     bool          // in this job

	AsFound  *Depth            // by the readings before any move or part change
	Known    bool              // whether Estimate's depth means anything; its scale always does
	Estimate estimate.Estimate // Readings are those that count in the present stay
	Measured bool              // a reading of the present stay counts; else the depth is predicted

	Verdict          leveling.Verdict // at the job's datum; 0 without a datum or a depth
	Chance           float64          // of no meaning without a verdict
	Even             *Range           // of the depth of a stay's first reading of the whole row, where it would make the row even
	EvenNumber       *Range           // Even as the fixture's own numbers, mm
	FromDatumMm      *float64         // depth minus the datum; nil without either
	FromOthersMm     *float64         // depth minus the median of the other rows' depths; nil while no other is known
	ReadingsToSettle int              // 1 to 20 more readings prove the row even, if its depth stays; 0: none do, or it is even

	Next             NextStep
	Move             *PlannedMove // NextMove only
	Why              string       // of In
	SideDifferenceMm *float64     // left minus right, in the present stay
	Surprising       bool         // its last reading looks wrong: another is asked for
	LeftOut          []int        // revisions of the present stay's readings that do not count
	Exception        string       // the reason that the row was signed with

	undecided bool   // it may be even, and neither readings with this fixture nor the last plan's moves can say
	why       reason // nil where there is nothing to say
}

// Worth is what is known of all rows together whose depths are known.
type Worth struct {
	TrueSpread worth.Spread // of their true depths
	Chance     *float64     // that all which are neither stuck nor excepted are within tolerance of the datum at once; nil without a datum
}

// Doubt is what speaks against the fixture's stated repeatability.
type Doubt struct {
	ScatterMm float64 // of this job's repeated readings alone, before the ruling rounds them
	Repeats   int     // their degrees of freedom, 6 at least
}

// Depth is a depth with its standard uncertainty.
type Depth struct{ Mm, UncertaintyMm float64 }

// Range is a closed range of depths.
type Range struct{ FromMm, ToMm float64 }

// PlannedMove is a move of the plan that is to be done.
type PlannedMove struct {
	Option leveling.Option
	Unit   string
	Say    string
}

// CautionState is one caution, and who ticked it when; Person is empty while it is open.
type CautionState struct {
	ID       string
	Text     string // of In
	Person   string
	TickTime leveling.Micros
}

// Signature is the signature under a job.
type Signature struct {
	Person      string
	SignTime    leveling.Micros
	Recipe      int // of the hash
	ContentHash string
	Exceptions  []Exception
}

// NextStep is what to do next at a row.
type NextStep int

// The steps.
const (
	NextNothing       NextStep = iota // wait for the other rows; or the job is closed
	NextRead                          // take a reading
	NextReadAgain                     // take another: the last surprises, or these cannot say
	NextMove                          // do the plan's move
	NextReadAfterMove                 // take a reading: the row was moved
	NextDone                          // even
	NextExcept                        // the plan can do nothing: except it with a reason
	NextPlan                          // ask for a plan
)

// String returns the step's word in the API.
func (n NextStep) String() string {
	return [...]string{"NOTHING", "READ", "READ_AGAIN", "MOVE", "READ_AFTER_MOVE", "DONE", "EXCEPT", "PLAN"}[n]
}

// Row returns the state of a row, nil where the job has no such row.
func (s *State) Row(number int) *RowState {
	if i := s.index(number); i >= 0 {
		return &s.Rows[i]
	}
	return nil
}

// StruckBy returns the revision of the event that struck one, 0 where it stands.
func (s *State) StruckBy(revision int) int {
	if revision < 1 || revision > len(s.log) {
		return 0
	}
	return s.log[revision-1].struckBy
}

// Wrote returns the events that the request of an id wrote, and its hash; none where the id is new.
func (s *State) Wrote(requestID string) (events []Event, hash string) {
	for _, e := range s.log {
		if e.Request != nil && e.Request.ID == requestID {
			events, hash = append(events, *e.Event), e.Request.Hash
		}
	}
	return events, hash
}

// DepthMm is the depth that a reading means.
func (o *Opened) DepthMm(r Reading) float64 {
	x := r.Value
	if r.Unit == leveling.Inch {
		x *= 25.4
	}
	return o.Fixture.DepthMm(x)
}
