package wear

import "math"

// LeastSquares is the kernel with its coefficients, their standard deviations, and the residuals' squares.
func LeastSquares(x [][]float64, y []float64) (b, sd []float64, squares float64) {
	f := leastSquares(x, y)
	for i := range f.coefficients {
		sd = append(sd, math.Sqrt(f.inverse[i][i]*f.squares/float64(f.degrees)))
	}
	return f.coefficients, sd, f.squares
}
