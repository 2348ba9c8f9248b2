package length

import (
	"fmt"
	"math"
	"strconv"
	"strings"
)

// inchMm is 1 in (NIST SP 811).
const inchMm = 25.4

// InchRuling returns n where a ruling of stepMm is 1/n inch and n is a power of two up to 128; else 0.
func InchRuling(stepMm float64) int {
	for n := 1; n <= 128; n *= 2 {
		if math.Abs(stepMm*float64(n)-inchMm) < 1e-6 {
			return n
		}
	}
	return 0
}

// Inches writes mm in inches without the unit: to the nearest 1/n where n is above 0 (2 1/16), else to
// 0.01 (2.06).
func Inches(mm float64, n int) string {
	if n <= 0 {
		return trimMinus(strconv.FormatFloat(mm/inchMm, 'f', 2, 64))
	}
	counts := int64(math.Round(math.Abs(mm) / inchMm * float64(n)))
	text := mixed(counts, int64(n))
	if mm < 0 && counts != 0 {
		return "-" + text
	}
	return text
}

// Thousandths writes mm in inches to a thousandth, without the unit.
func Thousandths(mm float64) string {
	return trimMinus(strconv.FormatFloat(mm/inchMm, 'f', 3, 64))
}

// FinestInches writes mm in inches without the unit: as a fraction where it is a whole number of 1/64, else to a
// thousandth.
func FinestInches(mm float64) string {
	const finest, near = 64, 1e-4 // mm
	if math.Abs(mm-math.Round(mm/inchMm*finest)*inchMm/finest) < near {
		return Inches(mm, finest)
	}
	return Thousandths(mm)
}

// mixed writes counts/n in lowest terms.
func mixed(counts, n int64) string {
	whole, rest := counts/n, counts%n
	for rest != 0 && rest%2 == 0 {
		rest, n = rest/2, n/2
	}
	switch {
	case rest == 0:
		return strconv.FormatInt(whole, 10)
	case whole == 0:
		return fmt.Sprintf("%d/%d", rest, n)
	}
	return fmt.Sprintf("%d %d/%d", whole, rest, n)
}

// Mm writes mm to 0.1, without the unit.
func Mm(mm float64) string {
	return trimMinus(strconv.FormatFloat(mm, 'f', 1, 64))
}

// trimMinus takes the sign from a number that was rounded to nought.
func trimMinus(text string) string {
	if strings.Trim(text, "-0.") == "" {
		return strings.TrimPrefix(text, "-")
	}
	return text
}
