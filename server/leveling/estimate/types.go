package estimate

// Estimate is what the readings say about a row: a Gaussian of its depth and of its scale.
type Estimate struct {
	DepthMm       float64
	UncertaintyMm float64 // standard uncertainty of DepthMm, 0 or more
	Scale         float64 // real travel over nominal travel, above 0
	ScaleSd       float64 // 0 or more
	CovarianceMm  float64 // of depth and scale
	Readings      int     // how many readings of this stay
	Budget        Budget  // what UncertaintyMm is made of; zero where more readings would not help
	Moved         bool    // since it was first read: First is another depth than the present one
	First         First   // of no meaning unless Moved
}

// First is the depth that a row had before its first move, by all that was read of it since.
type First struct {
	DepthMm           float64
	VarianceMm2       float64
	CovarianceMm2     float64 // with the present depth
	ScaleCovarianceMm float64 // with the scale
}

// AtFirst is First, which of a row that was not moved is its present depth.
func (e *Estimate) AtFirst() First {
	if e.Moved {
		return e.First
	}
	v := e.UncertaintyMm * e.UncertaintyMm
	return First{DepthMm: e.DepthMm, VarianceMm2: v, CovarianceMm2: v, ScaleCovarianceMm: e.CovarianceMm}
}

// Budget is what the uncertainty of a row is made of, so that the worth of further readings of the
// same stay can be foretold:
//
//	u² = 1/(Prior + 1/(Uneven·PerReadingMm2/k + LastingMm2)) + FloorMm2
type Budget struct {
	PerReadingMm2 float64 // variance that averages out over the k readings of this stay
	LastingMm2    float64 // variance that stays however often the row is read: the ruling's
	FloorMm2      float64 // variance of the floor's unevenness, added last
	Prior         float64 // what is known from before this stay, as 1/variance, 1/mm²; 0 is nothing
	Uneven        float64 // variance of this stay's mean over that of one in which all readings count alike; 0 counts as 1
}
