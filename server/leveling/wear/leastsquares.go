package wear

import "math"

// triangle is a least-squares problem after Householder's reflections: R, what is left of the right sides
// above and below it.
type triangle struct {
	r     [][]float64 // rows of R, the diagonal first used at [i][i]
	sides [][]float64 // the right sides, a row each; the first len(r) rows belong to R
	used  []bool      // columns that do not depend on those before them
}

// reflect brings x, n rows of p columns, to triangular form and takes the right sides along. Both are
// overwritten. n is p at least.
func reflect(x, sides [][]float64) triangle {
	p := len(x[0])
	t := triangle{r: x[:p], sides: sides, used: make([]bool, p)}
	for j := range p {
		whole, below := columnNorm(x, j, 0), columnNorm(x, j, j)
		if t.used[j] = below > 1e-10*whole; !t.used[j] {
			continue
		}
		if x[j][j] > 0 {
			below = -below
		}
		v := make([]float64, len(x)-j) // Householder's vector, scaled to v·v = 2
		for i := range v {
			v[i] = x[j+i][j]
		}
		v[0] -= below
		scale := 1 / math.Sqrt(below*(below-x[j][j]))
		for i := range v {
			v[i] *= scale
		}
		mirror(x, v, j, j)
		mirror(sides, v, j, 0)
	}
	return t
}

func columnNorm(x [][]float64, j, from int) float64 {
	var norm float64
	for _, row := range x[from:] {
		norm = math.Hypot(norm, row[j])
	}
	return norm
}

// mirror reflects the columns from column on of the rows from row on.
func mirror(x [][]float64, v []float64, row, column int) {
	for c := column; c < len(x[row]); c++ {
		var dot float64
		for i, w := range v {
			dot += w * x[row+i][c]
		}
		for i, w := range v {
			x[row+i][c] -= dot * w
		}
	}
}

// fit is a solved least-squares problem.
type fit struct {
	coefficients []float64   // 0 for columns that depend on others
	inverse      [][]float64 // (XᵀX)⁻¹: their covariance at unit variance
	squares      float64     // of the residuals
	degrees      int
}

// leastSquares solves X·b = y. X has more rows than columns or as many; it is overwritten.
func leastSquares(x [][]float64, y []float64) fit {
	p := len(x[0])
	sides := make([][]float64, len(y))
	for i := range y {
		sides[i] = []float64{y[i]}
	}
	t := reflect(x, sides)
	f := fit{degrees: len(y), coefficients: t.solve(column(sides[:p]))}
	for i, s := range sides {
		if i >= p || !t.used[i] {
			f.squares += s[0] * s[0]
		}
	}
	for _, u := range t.used {
		if u {
			f.degrees--
		}
	}
	f.inverse = t.inverse()
	return f
}

func column(sides [][]float64) []float64 {
	out := make([]float64, len(sides))
	for i, s := range sides {
		out[i] = s[0]
	}
	return out
}

// solve finds b in R·b = z; columns not used stay 0.
func (t triangle) solve(z []float64) []float64 {
	b := make([]float64, len(t.r))
	for i := len(b) - 1; i >= 0; i-- {
		if !t.used[i] {
			continue
		}
		rest := z[i]
		for k := i + 1; k < len(b); k++ {
			rest -= t.r[i][k] * b[k]
		}
		b[i] = rest / t.r[i][i]
	}
	return b
}

// inverse is (RᵀR)⁻¹ = R⁻¹R⁻ᵀ.
func (t triangle) inverse() [][]float64 {
	p := len(t.r)
	columns := make([][]float64, p) // of R⁻¹
	for j := range columns {
		unit := make([]float64, p)
		if t.used[j] {
			unit[j] = 1
		}
		columns[j] = t.solve(unit)
	}
	out := make([][]float64, p)
	for i := range out {
		out[i] = make([]float64, p)
		for j := range out[i] {
			for _, c := range columns {
				out[i][j] += c[i] * c[j]
			}
		}
	}
	return out
}
