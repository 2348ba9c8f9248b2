package wear

import "math"

// Line is a straight line fitted to points, y = Intercept + Slope·x.
type Line struct {
	Intercept, Slope float64
	InterceptSd      float64 // standard uncertainties, by the points' own scatter
	SlopeSd          float64
	Covariance       float64 // of intercept and slope: without it a projected line is wrong (JCGM 100:2008, H.3)
	ResidualSd       float64
	Degrees          int
}

// FitLine fits a line to three points or more that do not all share one x.
func FitLine(xs, ys []float64) Line {
	x := make([][]float64, len(xs))
	for i := range xs {
		x[i] = []float64{1, xs[i]}
	}
	f := leastSquares(x, ys)
	variance := f.squares / float64(f.degrees)
	return Line{
		Intercept: f.coefficients[0], Slope: f.coefficients[1],
		InterceptSd: math.Sqrt(f.inverse[0][0] * variance), SlopeSd: math.Sqrt(f.inverse[1][1] * variance),
		Covariance: f.inverse[0][1] * variance, ResidualSd: math.Sqrt(variance), Degrees: f.degrees,
	}
}

// At is the line at x with its standard uncertainty.
func (l Line) At(x float64) (y, sd float64) {
	v := l.InterceptSd*l.InterceptSd + 2*x*l.Covariance + x*x*l.SlopeSd*l.SlopeSd
	return l.Intercept + l.Slope*x, math.Sqrt(max(0, v))
}
