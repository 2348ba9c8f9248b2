package plan

import (
	"rowdatum/server/leveling"
	"rowdatum/server/leveling/estimate"
	"rowdatum/server/leveling/worth"
)

// Problem is everything a plan follows from. The caller has checked it: aim and reach pass their own
// Check, row numbers differ, every row has options with exactly one leave, all figures are finite.
type Problem struct {
	Rows          []Row // in any order
	Aim           leveling.Aim
	Reach         leveling.Reach
	Seeds         bool    // the estimates are of seeds that were dug, not of readings: words say so, and they already expect of each row what the others are like
	ReferenceRows []int   // rows that marks count from, at most one a group
	ResolutionMm  float64 // the fixture's ruling; 0: none, or not known
	Window        *Window // the datums that least work and closest choose from; nil: all
	Voice         leveling.Voice
}

// Row is one row: what the readings say of it, and what could be done to it.
type Row struct {
	Number    int
	Estimate  estimate.Estimate
	Mechanism string // id of its mechanism
	Group     int    // rows of one mechanism share a number: marks are kept within it
	Style     *leveling.Style
	Setting   leveling.JSON // empty where nobody knows
	Options   []leveling.Option
	// Stays says that the row is left where it stands, in reach or not, and that its reason is the caller's to say.
	Stays bool
	// BroughtNear says that the row was brought as near as it goes before, and not proven: it is not moved
	// for that again. Without it, coarse steps send a row to and fro.
	BroughtNear bool
}

// Plan is a datum and one option for every row.
type Plan struct {
	Aim                 leveling.Aim     `json:"aim,omitzero"` // what it was to reach
	DatumMm             float64          `json:"datumMm,omitzero"`
	SpreadBeforeMm      float64          `json:"spreadBeforeMm,omitzero"` // over the estimates of rows that are not stuck
	SpreadAfterMm       float64          `json:"spreadAfterMm,omitzero"`  // over the predicted depths of rows that are not stuck
	TouchedRows         int              `json:"touchedRows,omitzero"`
	RereadRows          int              `json:"rereadRows,omitzero"`
	WorkSeconds         float64          `json:"workSeconds,omitzero"`         // at the planter, without what rows that cannot be proven are worth
	TouchSeconds        float64          `json:"touchSeconds,omitzero"`        // only in logs from before there was WorkSeconds
	ProvableToleranceMm float64          `json:"provableToleranceMm,omitzero"` // the largest over rows that are not stuck
	PlanterChance       float64          `json:"planterChance,omitzero"`       // that all rows that are not stuck are within tolerance at once, as found
	PlanterChanceAfter  float64          `json:"planterChanceAfter,omitzero"`  // the same as planned, before a moved row is read again
	TrueSpreadMm        worth.Spread     `json:"trueSpreadMm,omitzero"`        // of the true depths of rows that are not stuck, as found
	TrueSpreadAfterMm   worth.Spread     `json:"trueSpreadAfterMm,omitzero"`   // the same as planned
	Rows                []RowPlan        `json:"rows,omitzero"`                // by rising number
	Tradeoff            []TradeoffPoint  `json:"tradeoff,omitzero"`
	Marks               []MechanismMarks `json:"marks,omitzero"`
	Cautions            []string         `json:"cautions,omitzero"`
}

// Part is the branch of the rule that settled a row.
type Part int8

// The parts, as the computation's description letters them; logs keep the numbers.
const (
	Left    Part = iota + 1 // A: left alone, and proven even
	Moved                   // M: moved to where one reading is expected to prove it
	Reread                  // R: left, to be read again
	Nearest                 // D: left, or brought as near as it goes, and not expected to be proven
	NoReach                 // E: stuck
)

// RowPlan is what a plan does with one row.
type RowPlan struct {
	Row              int              `json:"row,omitzero"`
	EstimateMm       float64          `json:"estimateMm,omitzero"`
	UncertaintyMm    float64          `json:"uncertaintyMm,omitzero"`
	Verdict          leveling.Verdict `json:"verdict,omitzero"`
	Chance           float64          `json:"chance,omitzero"` // of the row as found
	Part             Part             `json:"part,omitzero"`
	Option           leveling.Option  `json:"option,omitzero"`           // the chosen one; of no meaning where Part is NoReach
	PredictedMm      float64          `json:"predictedMm,omitzero"`      // of no meaning where Part is NoReach
	PredictedChance  float64          `json:"predictedChance,omitzero"`  // of no meaning where Part is NoReach
	ReadingsToSettle int              `json:"readingsToSettle,omitzero"` // Reread only: 1 to 20 more prove it, if its mean stays
	NoneNearer       bool             `json:"noneNearer,omitzero"`       // Nearest and left: no option in reach is nearer the datum
	Why              string           `json:"why,omitzero"`
}

// TradeoffPoint is the smallest spread within reach when at most so many rows are touched.
type TradeoffPoint struct {
	TouchedRows int     `json:"touchedRows,omitzero"`
	SpreadMm    float64 `json:"spreadMm,omitzero"`
}

// MechanismMarks are the marks of one group of rows.
type MechanismMarks struct {
	Mechanism    string    `json:"mechanism,omitzero"`
	ReferenceRow int       `json:"referenceRow,omitzero"`
	Rows         []RowMark `json:"rows,omitzero"`
}

// RowMark is one row's mark: a count from the reference row, or a table where one count would be wrong.
type RowMark struct {
	Row        int          `json:"row,omitzero"`
	Count      float64      `json:"count,omitzero"` // of no meaning where there is a table
	ResidualMm float64      `json:"residualMm,omitzero"`
	Table      []TableEntry `json:"table,omitzero"`
}

// TableEntry is one line of a row's table.
type TableEntry struct {
	DepthMm float64       `json:"depthMm,omitzero"` // of the reference row
	Setting leveling.JSON `json:"setting,omitzero"`
}
