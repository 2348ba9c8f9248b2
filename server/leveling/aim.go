package leveling

// AimKind says which plan is the best one.
type AimKind int

// The aims.
const (
	LeastWork AimKind = iota // smallest cost, then most rows accepted, then most even
	Closest                  // smallest spread, then least work
	MatchRow                 // every row to one row, which stays
	SetDepth                 // every row to a given depth
)

// String returns the aim's word in the API.
func (k AimKind) String() string {
	return [...]string{"LEAST_WORK", "CLOSEST", "MATCH_ROW", "SET_DEPTH"}[k]
}

// Aim is what a plan is to reach.
type Aim struct {
	Kind              AimKind  `json:"kind,omitzero"`
	ToleranceMm       float64  `json:"toleranceMm,omitzero"`       // half of the allowed band, above 0
	Confidence        float64  `json:"confidence,omitzero"`        // c, 0.5 <= c < 1
	MissSeconds       float64  `json:"missSeconds,omitzero"`       // what an unproven row is worth, 0 or more
	Row               int      `json:"row,omitzero"`               // MatchRow: the row to match
	DatumMm           *float64 `json:"datumMm,omitzero"`           // SetDepth: the datum
	ZeroUncertaintyMm float64  `json:"zeroUncertaintyMm,omitzero"` // SetDepth: joins u, 0 or more
}

// DefaultAim is 1/8 inch either side ("rows within 1/4 inch of each other") at 0.9: common practice,
// no source.
func DefaultAim() Aim {
	return Aim{ToleranceMm: 25.4 / 8, Confidence: 0.9, MissSeconds: 900}
}

// Check notes what is wrong with a; path is where a stands in the request, hasRow says whether the
// request has a row.
func (a Aim) Check(path string, hasRow func(int) bool, v *Violations) {
	v.AboveZero(path+".toleranceMm", a.ToleranceMm, MaxDepthMm, " mm")
	v.Confidence(path+".confidence", a.Confidence)
	v.AtLeast(path+".missSeconds", a.MissSeconds, 0, " s")
	v.Within(path+".zeroUncertaintyMm", a.ZeroUncertaintyMm, 0, MaxDepthMm, " mm")
	if a.Kind == MatchRow && !hasRow(a.Row) {
		v.say(path+".row", func(p *phrases) string { return p.noRow }, a.Row)
	}
	switch {
	case a.DatumMm != nil:
		v.Within(path+".datumMm", *a.DatumMm, MinDepthMm, MaxDepthMm, " mm")
	case a.Kind == SetDepth:
		v.say(path+".datumMm", func(p *phrases) string { return p.noDatum }, MinDepthMm, MaxDepthMm)
	}
}

// Reach is the nominal travel that every row must keep for the season's depths, mm, 0 or more.
type Reach struct {
	ShallowerMm float64 `json:"shallowerMm,omitzero"`
	DeeperMm    float64 `json:"deeperMm,omitzero"`
}

// Check notes what is wrong with r; path is where r stands in the request.
func (r Reach) Check(path string, v *Violations) {
	v.Within(path+".shallowerMm", r.ShallowerMm, 0, MaxDepthMm, " mm")
	v.Within(path+".deeperMm", r.DeeperMm, 0, MaxDepthMm, " mm")
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
