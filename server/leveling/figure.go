package leveling

import (
	"math"
	"strconv"
)

// maxFinite bounds every figure that has no narrower range, far above anything on a planter, so that
// sums and squares of accepted figures stay finite.
const maxFinite = 1e9

// Figure writes a number for a person: shortest digits that read back the same, no exponent for
// everyday sizes, words where it is not a number.
func Figure(x float64) string {
	switch {
	case math.IsNaN(x):
		return "not a number"
	case math.IsInf(x, 0):
		return "infinite"
	case x == 0:
		return "0"
	case math.Abs(x) >= 1e15 || math.Abs(x) < 1e-6:
		return strconv.FormatFloat(x, 'g', -1, 64)
	}
	return strconv.FormatFloat(x, 'f', -1, 64)
}
