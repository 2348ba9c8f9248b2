package leveling

import (
	"fmt"
	"math"
	"strconv"
	"strings"
)

// RowList names rows: Row 3; Rows 3 and 5; Rows 3, 5 and 7.
func (v Voice) RowList(rows []int) string {
	p, last := v.phrases(), strconv.Itoa(rows[len(rows)-1])
	if len(rows) == 1 {
		return p.row + " " + last
	}
	names := make([]string, len(rows)-1)
	for i := range names {
		names[i] = strconv.Itoa(rows[i])
	}
	return p.rows + " " + strings.Join(names, ", ") + " " + p.and + " " + last
}

// Length says a measured length to a tenth of a mm, or to a hundredth where that would be nothing; in
// inches to the ruling.
func (v Voice) Length(mm float64) string {
	switch a := math.Abs(mm); {
	case v.PerInch > 0:
		return v.ruled(mm)
	case a > 0 && a < 0.05:
		return decimals(mm, 2) + " mm"
	}
	return decimals(mm, 1) + " mm"
}

// Fine says a length to a hundredth of a mm, or to a thousandth of an inch.
func (v Voice) Fine(mm float64) string {
	if v.PerInch > 0 {
		return v.inches(decimals(mm/mmPerInch, 3))
	}
	return decimals(mm, 2) + " mm"
}

// Nominal says a nominal length to a ten-thousandth of a mm at most: every 1/16 inch is whole there. In
// inches it is a fraction where it is one.
func (v Voice) Nominal(mm float64) string {
	const finest = 64
	switch {
	case v.PerInch == 0:
		return nominal(mm) + " mm"
	case math.Abs(mm-math.Round(mm/mmPerInch*finest)*mmPerInch/finest) < 1e-4:
		return v.inches(fraction(mm, finest))
	}
	return v.Fine(mm)
}

// Stamped says the size of a part that is sold by it, such as a shim: in inches as a fraction or in thousandths. A
// metric part has its mm in brackets, since those are what is stamped on it.
func (v Voice) Stamped(mm float64) string {
	const close = 1e-4 // mm
	said := v.Nominal(mm)
	thousandths := math.Round(mm/mmPerInch*1000) * mmPerInch / 1000
	if v.PerInch == 0 || strings.Contains(said, "/") || math.Abs(mm-thousandths) < close {
		return said
	}
	return said + " (" + nominal(mm) + " mm)"
}

func nominal(mm float64) string { return Figure(math.Round(mm*1e4) / 1e4) }

// ruled says a length to the nearest line of the ruling, and of what is no line that it is under one.
func (v Voice) ruled(mm float64) string {
	said := fraction(mm, v.PerInch)
	if said == "0" && mm != 0 {
		return fmt.Sprintf(v.phrases().under, v.inches(fraction(mmPerInch/float64(v.PerInch), v.PerInch)))
	}
	return v.inches(said)
}

func (v Voice) inches(number string) string { return number + " " + v.phrases().inch }

// fraction is a length in inches to the nearest 1/n, in lowest terms: 2 13/16.
func fraction(mm float64, n int) string {
	lines := int(math.Round(math.Abs(mm) / mmPerInch * float64(n)))
	whole, part := lines/n, lines%n
	for ; part > 0 && part%2 == 0; n /= 2 {
		part /= 2
	}
	var out string
	switch {
	case part == 0:
		out = strconv.Itoa(whole)
	case whole == 0:
		out = fmt.Sprintf("%d/%d", part, n)
	default:
		out = fmt.Sprintf("%d %d/%d", whole, part, n)
	}
	if mm < 0 && lines > 0 {
		return "-" + out
	}
	return out
}

// decimals rounds whole picometres, halves away from nothing, so that 57.15 is 57.2 whatever its last
// bits are.
func decimals(x float64, places int) string {
	pm := math.Round(x * 1e9)
	step := math.Pow10(9 - places)
	return strconv.FormatFloat(math.Round(pm/step)/math.Pow10(places), 'f', places, 64)
}

// Area says an area to a hundredth at most: 400 ac is not told as 161.874 ha.
func (v Voice) Area(hectares float64) string {
	return Figure(math.Round(v.AreaUnit.Area(hectares)*100)/100) + " " + v.AreaUnit.Symbol()
}

// Symbol is the unit as it is written behind a figure, in every language.
func (u AreaUnit) Symbol() string {
	if u == Acre {
		return "ac"
	}
	return "ha"
}

// Percent says a chance to a tenth of a percent, and never "certain" or "impossible".
func (v Voice) Percent(p float64) string {
	switch {
	case p >= 0.9995:
		return fmt.Sprintf(v.phrases().moreThan, "99.9 %")
	case p < 0.0005:
		return fmt.Sprintf(v.phrases().lessThan, "0.1 %")
	}
	return strconv.FormatFloat(100*p, 'f', 1, 64) + " %"
}
