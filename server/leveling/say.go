package leveling

import (
	"math"
	"strconv"
	"strings"
)

// RowList names rows: Row 3; Rows 3 and 5; Rows 3, 5 and 7.
func RowList(rows []int) string {
	last := strconv.Itoa(rows[len(rows)-1])
	if len(rows) == 1 {
		return "Row " + last
	}
	names := make([]string, len(rows)-1)
	for i := range names {
		names[i] = strconv.Itoa(rows[i])
	}
	return "Rows " + strings.Join(names, ", ") + " and " + last
}

// Mm says a length to a tenth, or to a hundredth where that would be nothing.
func Mm(x float64) string {
	if a := math.Abs(x); a > 0 && a < 0.05 {
		return decimals(x, 2)
	}
	return decimals(x, 1)
}

// Hundredths says a length to a hundredth.
func Hundredths(x float64) string { return decimals(x, 2) }

// decimals rounds whole picometres, halves away from nothing, so that 57.15 is 57.2 whatever its last
// bits are.
func decimals(x float64, places int) string {
	pm := math.Round(x * 1e9)
	step := math.Pow10(9 - places)
	return strconv.FormatFloat(math.Round(pm/step)/math.Pow10(places), 'f', places, 64)
}

// Nominal says a nominal length to a ten-thousandth at most: every 1/16 inch is whole there.
func Nominal(x float64) string { return Figure(math.Round(x*1e4) / 1e4) }

// Percent says a chance to a tenth of a percent, and never "certain" or "impossible".
func Percent(p float64) string {
	switch {
	case p >= 0.9995:
		return "more than 99.9 %"
	case p < 0.0005:
		return "less than 0.1 %"
	}
	return strconv.FormatFloat(100*p, 'f', 1, 64) + " %"
}
