package leveling

import "math"

// AimKind says which plan is the best one.
type AimKind int

// The aims.
const (
	LeastWork AimKind = iota // smallest cost in seconds, then most rows that can be proven, then fewest moved, then most even
	Closest                  // smallest spread, then fewest seconds of moves
	MatchRow                 // every row to one row, which stays
	SetDepth                 // every row to a given depth
)

// String returns the aim's word in the API.
func (k AimKind) String() string {
	return [...]string{"LEAST_WORK", "CLOSEST", "MATCH_ROW", "SET_DEPTH"}[k]
}

// ConfidenceOf says what the confidence of an aim is about.
type ConfidenceOf int

// Whose confidence it is.
const (
	OfRow     ConfidenceOf = iota // each row for itself
	OfPlanter                     // all rows that are not stuck together
)

// String returns its word in the API.
func (c ConfidenceOf) String() string { return [...]string{"ROW", "PLANTER"}[c] }

// Aim is what a plan is to reach.
type Aim struct {
	Kind              AimKind      `json:"kind,omitzero"`
	ToleranceMm       float64      `json:"toleranceMm,omitzero"`       // half of the allowed band, above 0
	Confidence        float64      `json:"confidence,omitzero"`        // c, 0.5 <= c < 1
	ConfidenceOf      ConfidenceOf `json:"confidenceOf,omitzero"`      // what c is about
	MissSeconds       float64      `json:"missSeconds,omitzero"`       // what a row that cannot be proven is worth, 0 or more
	ReadSeconds       float64      `json:"readSeconds,omitzero"`       // what one more reading of a row takes, 0 or more
	Row               int          `json:"row,omitzero"`               // MatchRow: the row to match
	DatumMm           *float64     `json:"datumMm,omitzero"`           // SetDepth: the datum
	ZeroUncertaintyMm float64      `json:"zeroUncertaintyMm,omitzero"` // SetDepth: joins u, 0 or more
}

// DefaultAim is 1/8 inch either side ("rows within 1/4 inch of each other") at 0.9, and 20 seconds for a
// reading: common practice, no source.
func DefaultAim() Aim {
	return Aim{ToleranceMm: 25.4 / 8, Confidence: 0.9, MissSeconds: 900, ReadSeconds: 20}
}

// Check notes what is wrong with a; path is where a stands in the request, hasRow says whether the
// request has a row.
func (a Aim) Check(path string, hasRow func(int) bool, v *Violations) {
	v.AboveZero(path+".toleranceMm", a.ToleranceMm, MaxDepthMm, Millimeters)
	v.Confidence(path+".confidence", a.Confidence)
	v.AtLeast(path+".missSeconds", a.MissSeconds, 0, " s")
	v.AtLeast(path+".readSeconds", a.ReadSeconds, 0, " s")
	v.Within(path+".zeroUncertaintyMm", a.ZeroUncertaintyMm, 0, MaxDepthMm, Millimeters)
	if a.Kind == MatchRow && !hasRow(a.Row) {
		v.say(path+".row", func(p *phrases) string { return p.noRow }, a.Row)
	}
	switch {
	case a.DatumMm != nil:
		v.Within(path+".datumMm", *a.DatumMm, MinDepthMm, MaxDepthMm, Millimeters)
	case a.Kind == SetDepth:
		v.say(path+".datumMm", func(p *phrases) string { return p.noDatum }, Amount(MinDepthMm, Millimeters), Quantity(MaxDepthMm, Millimeters))
	}
}

// RowConfidence is what is asked of each of so many rows that are not stuck. Confidence about all of
// them together asks c^(1/n) of each, as if they were independent: more than it takes, never less.
func (a Aim) RowConfidence(rows int) float64 {
	if a.ConfidenceOf == OfPlanter && rows > 1 {
		return math.Pow(a.Confidence, 1/float64(rows))
	}
	return a.Confidence
}

// Reach is the nominal travel that every row must keep for the season's depths, mm, 0 or more.
type Reach struct {
	ShallowerMm float64 `json:"shallowerMm,omitzero"`
	DeeperMm    float64 `json:"deeperMm,omitzero"`
}

// Check notes what is wrong with r; path is where r stands in the request.
func (r Reach) Check(path string, v *Violations) {
	v.Within(path+".shallowerMm", r.ShallowerMm, 0, MaxDepthMm, Millimeters)
	v.Within(path+".deeperMm", r.DeeperMm, 0, MaxDepthMm, Millimeters)
}

// Verdict is what the readings can say about a row at the datum.
type Verdict int

// The verdicts.
const (
	Even   Verdict = iota + 1 // within tolerance with the wanted confidence
	Off                       // outside tolerance with the wanted confidence
	Unsure                    // the readings cannot say either
	Stuck                     // no setting leaves the travel that the season needs
)

// String returns the verdict's word in the API.
func (v Verdict) String() string {
	return [...]string{"", "EVEN", "OFF", "UNSURE", "STUCK"}[v]
}
