package leveling

import "math"

// Style is what an adjuster says of the kind of mechanism it serves.
type Style struct {
	ID                string
	Title             string
	Version           string
	CountUnit         CountUnit
	KeepsMarks        bool    // handles are marked, so that every row moves the same count in the field
	SetsPlantingDepth bool    // false where it only trims a row
	FiguresSchema     string  // JSON Schema, JSON text
	SettingSchema     string  // JSON Schema, JSON text
	ScaleSd           float64 // prior sd of a row's scale, 0 or more
	SeatingMm         float64 // sd of seating after any move, 0 or more
	SlackMm           float64 // lost motion when reversing, 0 or more
	Approach          Approach
	TouchSeconds      float64 // getting at one row, moving it, measuring it again, above 0
	InspectionPoints  []InspectionPoint
	Cautions          []string
	State             StyleState
	StateReason       string // why it is not serving, for a person
}

// CountUnit is the word for one and for several of what is counted.
type CountUnit struct{ One, Other string }

// For returns the word that goes with count: up to one, part or whole, is one.
func (u CountUnit) For(count float64) string {
	if size := math.Abs(count); size > 0 && size <= 1 {
		return u.One
	}
	return u.Other
}

// Approach is the direction in which every move of a style ends.
type Approach int

// The approaches.
const (
	AnyApproach Approach = iota
	ApproachShallower
	ApproachDeeper
)

// InspectionPoint is what a technician inspects on a row unit.
type InspectionPoint struct {
	ID        string
	Title     string
	Unit      string   // "mm", or empty for a point judged by eye
	Limit     *float64 // nil for a point judged by eye
	WorseWhen WorseWhen
	Guidance  string
}

// WorseWhen says on which side of its limit a part is worn out.
type WorseWhen int

// The sides.
const (
	ByEye WorseWhen = iota
	WorseLarger
	WorseSmaller
)

// StyleState is the state of a style's adjuster.
type StyleState int

// The states.
const (
	Starting StyleState = iota + 1
	Serving
	Restarting
	Quarantined
)

// JSON is the text of a JSON object whose shape a style declares: figures or a setting. The core only
// compares it, so it must be canonical, as adjusters/schema writes it. Empty means not known.
type JSON string

// Mechanism is a style with its figures, as fitted to a group of rows.
type Mechanism struct {
	ID      string
	Style   string // a style's id
	Figures JSON
}

// Option is one setting that a row could be brought to.
type Option struct {
	Leave           bool    // the one option that leaves the row alone
	EffectMm        float64 // nominal change of depth, positive deeper
	Count           float64 // counts to move
	SettingAfter    JSON    // empty where the setting is not known
	TravelKnown     bool    // whether the travels below mean anything
	ShallowerLeftMm float64 // nominal travel left to the shallowest setting, 0 or more
	DeeperLeftMm    float64 // nominal travel left to the deepest setting, 0 or more
}

// OptionsQuestion asks for the options of rows of one style.
type OptionsQuestion struct {
	Figures []JSON       // the mechanisms' figures, each once
	Rows    []RowSetting // the rows
}

// RowSetting is one row of a question.
type RowSetting struct {
	Mechanism int  // index into the question's Figures
	Setting   JSON // empty where nobody knows
}

// RowOptions answers for one row: options by rising effect then rising count, or what is wrong. A
// violation's Field starts with "figures" or "setting" and is relative to the mechanism or the row.
type RowOptions struct {
	Options    []Option
	Violations []Violation
}

// Choice is an option chosen for one row, to be put in words.
type Choice struct {
	RowSetting
	Option Option
}

// Words are what to say about one choice.
type Words struct {
	Say      string   // what to do; empty for leave
	Cautions []string // what else to mind about this row
}
