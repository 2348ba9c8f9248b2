package estimate

// Estimate is what the readings say about a row: a Gaussian of its depth and of its scale.
type Estimate struct {
	DepthMm       float64
	UncertaintyMm float64 // standard uncertainty of DepthMm, 0 or more
	Scale         float64 // real travel over nominal travel, above 0
	ScaleSd       float64 // 0 or more
	CovarianceMm  float64 // of depth and scale
	Readings      int     // how many readings of this stay
}
