package leveling

import "math"

// Style is what an adjuster says of the kind of mechanism it serves.
type Style struct {
	ID                string            `json:"id,omitzero"`
	Title             string            `json:"title,omitzero"`
	Version           string            `json:"version,omitzero"`
	CountUnit         CountUnit         `json:"countUnit,omitzero"`
	KeepsMarks        bool              `json:"keepsMarks,omitzero"`        // handles are marked, so that every row moves the same count in the field
	SetsPlantingDepth bool              `json:"setsPlantingDepth,omitzero"` // false where it only trims a row
	FiguresSchema     string            `json:"figuresSchema,omitzero"`     // JSON Schema, JSON text
	SettingSchema     string            `json:"settingSchema,omitzero"`     // JSON Schema, JSON text
	ScaleSd           float64           `json:"scaleSd,omitzero"`           // prior sd of a row's scale, 0 or more
	SeatingMm         float64           `json:"seatingMm,omitzero"`         // sd of seating after any move, 0 or more
	SlackMm           float64           `json:"slackMm,omitzero"`           // lost motion when reversing, 0 or more
	Approach          Approach          `json:"approach,omitzero"`
	TouchSeconds      float64           `json:"touchSeconds,omitzero"` // of an option that does not say its own: getting at a row, moving it, reading it once; above 0
	InspectionPoints  []InspectionPoint `json:"inspectionPoints,omitzero"`
	Cautions          []string          `json:"cautions,omitzero"`
	State             StyleState        `json:"state,omitzero"`
	StateReason       string            `json:"stateReason,omitzero"` // why it is not serving, for a person
}

// CountUnit is the word for one and for several of what is counted.
type CountUnit struct {
	One   string `json:"one"`
	Other string `json:"other"`
}

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
	ID        string    `json:"id,omitzero"`
	Title     string    `json:"title,omitzero"`
	Unit      string    `json:"unit,omitzero"`  // "mm", or empty for a point judged by eye
	Limit     *float64  `json:"limit,omitzero"` // nil for a point judged by eye
	WorseWhen WorseWhen `json:"worseWhen,omitzero"`
	Guidance  string    `json:"guidance,omitzero"`
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

// MarshalJSON writes the object as it is, not as a text.
func (j JSON) MarshalJSON() ([]byte, error) {
	if j == "" {
		return []byte("null"), nil
	}
	return []byte(j), nil
}

// UnmarshalJSON reads what MarshalJSON wrote.
func (j *JSON) UnmarshalJSON(text []byte) error {
	if *j = JSON(text); *j == "null" {
		*j = ""
	}
	return nil
}

// Mechanism is a style with its figures, as fitted to a group of rows.
type Mechanism struct {
	ID      string `json:"id,omitzero"`
	Style   string `json:"style,omitzero"` // a style's id
	Figures JSON   `json:"figures,omitzero"`
}

// Option is one setting that a row could be brought to.
type Option struct {
	Leave           bool    `json:"leave,omitzero"`           // the one option that leaves the row alone
	EffectMm        float64 `json:"effectMm,omitzero"`        // nominal change of depth, positive deeper
	Count           float64 `json:"count,omitzero"`           // counts to move
	SettingAfter    JSON    `json:"settingAfter,omitzero"`    // empty where the setting is not known
	TravelKnown     bool    `json:"travelKnown,omitzero"`     // whether the travels below mean anything
	ShallowerLeftMm float64 `json:"shallowerLeftMm,omitzero"` // nominal travel left to the shallowest setting, 0 or more
	DeeperLeftMm    float64 `json:"deeperLeftMm,omitzero"`    // nominal travel left to the deepest setting, 0 or more
	Seconds         float64 `json:"seconds,omitzero"`         // bringing the row there and reading it once; 0 is the style's TouchSeconds
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

// RowOptions answers for one row: options by rising effect, those of one effect in
// the adjuster's own order, or what is wrong. A violation's Field starts with "figures" or "setting" and is
// relative to the mechanism or the row.
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
