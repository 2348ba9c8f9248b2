package leveling

// Fixture is what the computation needs to know of a measuring fixture.
type Fixture struct {
	ResolutionMm    float64 `json:"resolutionMm,omitzero"`    // q: spacing of the ruling that readings are rounded to, 0 or more
	RepeatabilityMm float64 `json:"repeatabilityMm,omitzero"` // u_rep: sd of repeated readings before the ruling rounds them, 0 or more
	FloorMm         float64 `json:"floorMm,omitzero"`         // sd of the floor's unevenness under the rows, 0 or more
}

// DefaultFixture is a tape ruled in 1/16 inch seen through a window: common practice, no source.
func DefaultFixture() Fixture {
	return Fixture{ResolutionMm: 25.4 / 16, RepeatabilityMm: 0.5}
}

// Check notes what is wrong with f; path is where f stands in the request, with a dot behind it, or empty.
func (f Fixture) Check(path string, v *Violations) {
	v.Within(path+"resolutionMm", f.ResolutionMm, 0, MaxDepthMm, Millimeters)
	v.Within(path+"repeatabilityMm", f.RepeatabilityMm, 0, MaxDepthMm, Millimeters)
	v.Within(path+"floorMm", f.FloorMm, 0, MaxDepthMm, Millimeters)
}

// The depths that the service takes for real: from above the gauge wheels to far below any planting
// depth, mm.
const (
	MinDepthMm = -20
	MaxDepthMm = 300
)

// SlipMm is the least that a misread number is off by, half an inch: who misreads a tape takes a whole or a half
// inch for its neighbour. Common practice, no source.
const SlipMm = 25.4 / 2

// Limits on one request.
const (
	MaxRows           = 120
	MaxReadingsPerRow = 100
	MaxOptionsPerRow  = 1000
)

// FixtureKind says how a fixture's number becomes a depth.
type FixtureKind int

// The kinds.
const (
	Window       FixtureKind = iota + 1 // a tape seen through a window reads the depth
	Blocks                              // gauge wheels on blocks: depth is block height minus gap
	PointerPlate                        // a pointer on a plate reads the depth
)

// ShopFixture is a fixture that a shop keeps.
type ShopFixture struct {
	ID          string      `json:"id"`
	DisplayName string      `json:"displayName"`
	Kind        FixtureKind `json:"kind"`
	Figures     Fixture     `json:"figures"`
	ZeroMm      float64     `json:"zeroMm"` // Blocks: the blocks' height; others: added to the number
	// ReproducibilityMm is the standard deviation between people, each row's own included, as the fixture's study found
	// it; nil: not studied by enough people.
	ReproducibilityMm *float64 `json:"reproducibilityMm,omitempty"`
	Revision          int      `json:"revision"`
	CreateTime        Micros   `json:"createTime"`
	UpdateTime        Micros   `json:"updateTime"`
}

// DepthMm turns the fixture's number, in mm, into a depth.
func (f ShopFixture) DepthMm(numberMm float64) float64 {
	if f.Kind == Blocks {
		return f.ZeroMm - numberMm
	}
	return f.ZeroMm + numberMm
}

// NumberMm is the fixture's number that means a depth: the inverse of DepthMm.
func (f ShopFixture) NumberMm(depthMm float64) float64 {
	if f.Kind == Blocks {
		return f.ZeroMm - depthMm
	}
	return depthMm - f.ZeroMm
}

// String returns the kind's word in the API.
func (k FixtureKind) String() string {
	return [...]string{"", "WINDOW", "BLOCKS", "POINTER_PLATE"}[k]
}

// DefaultsOf are the figures of a fixture of a kind: common practice, no source.
func DefaultsOf(kind FixtureKind) Fixture {
	f := DefaultFixture()
	if kind == Blocks {
		f.RepeatabilityMm, f.FloorMm = 0.8, 1.0
	}
	return f
}

// Check notes what is wrong with f; path as in Planter.Check.
func (f *ShopFixture) Check(path string, v *Violations) {
	v.Words(path+"displayName", f.DisplayName, 1, MaxNameSize)
	f.Figures.Check(path, v)
	if f.ReproducibilityMm != nil {
		v.Within(path+"reproducibilityMm", *f.ReproducibilityMm, 0, MaxDepthMm, Millimeters)
	}
	if f.Kind == Blocks {
		if !(f.ZeroMm > 0 && f.ZeroMm <= 2*MaxDepthMm) {
			v.say(path+"zeroMm", func(p *phrases) string { return p.blockHeight }, Amount(f.ZeroMm, Millimeters), Quantity(2*MaxDepthMm, Millimeters))
		}
	} else {
		v.Within(path+"zeroMm", f.ZeroMm, -MaxDepthMm, MaxDepthMm, Millimeters)
	}
}
