package job

import (
	"rowdatum/server/leveling"
	"rowdatum/server/leveling/plan"
)

// Event is one thing that happened in a job. Its place in the log is its Revision, from 1 without gaps.
// Exactly one of the pointers is set.
type Event struct {
	Revision   int             `json:"revision"`
	CreateTime leveling.Micros `json:"createTime"`          // by the service's clock
	EventTime  leveling.Micros `json:"eventTime,omitempty"` // by the writer's clock
	Person     string          `json:"person,omitempty"`
	Request    *Request        `json:"request,omitempty"` // that wrote it, where it can be sent again

	Opened     *Opened     `json:"opened,omitempty"`
	Reading    *Reading    `json:"reading,omitempty"`
	Move       *Move       `json:"move,omitempty"`
	PartChange *PartChange `json:"partChange,omitempty"`
	Inspection *Inspection `json:"inspection,omitempty"`
	Note       *Note       `json:"note,omitempty"`
	Strike     *Strike     `json:"strike,omitempty"`
	Tick       *Tick       `json:"tick,omitempty"`
	Issued     *Issued     `json:"issued,omitempty"`
	Signed     *Signed     `json:"signed,omitempty"`
	Voided     *Voided     `json:"voided,omitempty"`
}

// Request is what a write was asked by: a repeat of it has its id and its hash.
type Request struct {
	ID   string `json:"id"`   // the caller's own
	Hash string `json:"hash"` // of the whole request
}

// Opened is the copy that a job is worked from: later edits of planter, fixture or adjusters do not
// change the job.
type Opened struct {
	Planter     leveling.Planter          `json:"planter"`
	Fixture     leveling.ShopFixture      `json:"fixture"`
	Styles      map[string]leveling.Style `json:"styles"` // of the planter's mechanisms, by id, schemas left out
	Aim         leveling.Aim              `json:"aim"`
	Reach       leveling.Reach            `json:"reach"`
	Verify      Verify                    `json:"verify"`
	WorkOrder   string                    `json:"workOrder,omitempty"`
	Hectares    *float64                  `json:"hectares,omitempty"`    // that the planter had planted by then, in all; nil: not known
	AlsoOpen    string                    `json:"alsoOpen,omitempty"`    // another job of the planter that was open then
	LengthUnit  leveling.LengthUnit       `json:"lengthUnit,omitempty"`  // that its words say lengths in; empty: the fixture's, or what was typed
	AreaUnit    leveling.AreaUnit         `json:"areaUnit,omitempty"`    // that its words say areas in; empty: hectares
	PlantedArea *float64                  `json:"plantedArea,omitempty"` // Hectares as they were typed, in AreaUnit; nil: they were typed as hectares
}

// AreaIn is the area planted by then in a unit, as it was typed where it was typed in that; 0 where it is not known.
func (o *Opened) AreaIn(u leveling.AreaUnit) float64 {
	switch {
	case o.Hectares == nil:
		return 0
	case o.PlantedArea != nil && (u == leveling.Acre) == (o.AreaUnit == leveling.Acre):
		return *o.PlantedArea
	}
	return u.Area(*o.Hectares)
}

// Verify says which rows must be read again after they were moved.
type Verify int

// The rules.
const (
	VerifyMoved      Verify = iota // every moved row, once after its last move
	VerifyWhenNeeded               // rows whose predicted depth is not proven even, or far off by one reading
)

// Reading is one fixture number taken on one row, as typed.
type Reading struct {
	Row       int                 `json:"row"`
	Value     float64             `json:"value"` // in Unit, before the fixture's conversion
	Unit      leveling.LengthUnit `json:"unit"`
	Side      Side                `json:"side,omitempty"`
	AfterMove int                 `json:"afterMove,omitempty"` // revision of the last move or part change of the row that its writer knew
}

// Side is the side of a row unit, seen from behind, looking in the direction of travel.
type Side string

// The sides.
const (
	WholeRow Side = ""
	Left     Side = "LEFT"
	Right    Side = "RIGHT"
)

// Move is what was done to a row's mechanism.
type Move struct {
	Row           int           `json:"row"`
	SettingBefore leveling.JSON `json:"settingBefore,omitempty"`
	SettingAfter  leveling.JSON `json:"settingAfter,omitempty"`
	Count         float64       `json:"count"`
	EffectMm      float64       `json:"effectMm"`            // nominal
	Plan          int           `json:"plan,omitempty"`      // revision of the plan that asked for it; 0: none did
	AfterMove     *int          `json:"afterMove,omitempty"` // as in a reading; nil: not said
}

// PartChange ends what was learned of a row.
type PartChange struct {
	Row  int    `json:"row"`
	Part string `json:"part"`
}

// Inspection is one point inspected on one row.
type Inspection struct {
	Row     int      `json:"row"`
	Point   string   `json:"point"`
	Value   *float64 `json:"value,omitempty"`
	Worn    bool     `json:"worn,omitempty"`
	Comment string   `json:"comment,omitempty"`
}

// Note is about a row, or with Row 0 about the job.
type Note struct {
	Row  int    `json:"row,omitempty"`
	Text string `json:"text"`
}

// Strike takes an earlier event out of force.
type Strike struct {
	Revision int    `json:"revision"`
	Reason   string `json:"reason,omitempty"`
}

// Tick is a caution ticked by Event.Person.
type Tick struct {
	Caution string `json:"caution"`
}

// Issued is a plan as issued.
type Issued struct {
	Plan plan.Plan    `json:"plan"`
	Says []IssuedMove `json:"says"` // one a row of the plan
	Aim  leveling.Aim `json:"aim"`
	Free bool         `json:"free,omitempty"` // the datum was not held by rows that were moved and are even
}

// IssuedMove is how a move of an issued plan is said.
type IssuedMove struct {
	Unit string `json:"unit,omitempty"`
	Say  string `json:"say,omitempty"`
}

// Signed closes a job.
type Signed struct {
	Exceptions  []Exception `json:"exceptions,omitempty"`
	Recipe      int         `json:"recipe,omitempty"` // of the hash, see proto/seal; 0 is the first
	ContentHash string      `json:"contentHash"`
}

// Exception is a row signed although it is not proven even; Unproven is all rows that the fixture cannot
// prove.
type Exception struct {
	Row      int    `json:"row,omitempty"`
	Unproven bool   `json:"unproven,omitempty"`
	Reason   string `json:"reason"`
}

// Voided closes a job that came to nothing.
type Voided struct {
	Reason string `json:"reason"`
}

// Stage is what a job has come to.
type Stage int

// The stages.
const (
	StageOpen Stage = iota + 1
	StageSigned
	StageVoided
)
