package leveling

// Fixture is what the computation needs to know of a measuring fixture.
type Fixture struct {
	ResolutionMm    float64 // q: spacing of the ruling that readings are rounded to, 0 or more
	RepeatabilityMm float64 // u_rep: sd of repeated readings before the ruling rounds them, 0 or more
	FloorMm         float64 // sd of the floor's unevenness under the rows, 0 or more
}

// DefaultFixture is a tape ruled in 1/16 inch seen through a window: common practice, no source.
func DefaultFixture() Fixture {
	return Fixture{ResolutionMm: 25.4 / 16, RepeatabilityMm: 0.5}
}

// Check notes what is wrong with f; path is where f stands in the request.
func (f Fixture) Check(path string, v *Violations) {
	v.Within(path+".resolutionMm", f.ResolutionMm, 0, MaxDepthMm, " mm")
	v.Within(path+".repeatabilityMm", f.RepeatabilityMm, 0, MaxDepthMm, " mm")
	v.Within(path+".floorMm", f.FloorMm, 0, MaxDepthMm, " mm")
}

// The depths that the service takes for real: from above the gauge wheels to far below any planting
// depth, mm.
const (
	MinDepthMm = -20
	MaxDepthMm = 300
)

// Limits on one request.
const (
	MaxRows            = 120
	MaxReadingsPerRow  = 100
	MaxOptionsPerRow   = 1000
	MaxMechanismIDSize = 63
)
