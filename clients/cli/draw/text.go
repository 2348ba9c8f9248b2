package draw

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"
	"unicode"
	"unicode/utf8"

	"google.golang.org/protobuf/types/known/structpb"

	rowdatumv1 "rowdatum/proto/gen/rowdatum/v1"
	"rowdatum/proto/length"
)

// page collects the lines of a drawing.
type page struct{ strings.Builder }

// Texts among args are of one line each: a name with a line break in it, kept before such names were refused, must not pass
// for a line of its own.
func (p *page) line(format string, args ...any) {
	for i, arg := range args {
		if text, ok := arg.(string); ok {
			args[i] = escaped(text)
		}
	}
	p.WriteString(strings.TrimRight(fmt.Sprintf(format, args...), " ") + "\n")
}

// title starts a block.
func (p *page) title(text string) { p.line("\n%s\n%s", text, strings.Repeat("─", width)) }

// Unprintable says whether a character does not show, breaks the line, or overrides the direction of what is shown.
func Unprintable(r rune) bool {
	return unicode.IsControl(r) || r == '\u2028' || r == '\u2029' || r >= '\u202a' && r <= '\u202e' || r >= '\u2066' && r <= '\u2069'
}

func escaped(text string) string {
	if !strings.ContainsFunc(text, Unprintable) {
		return text
	}
	var b strings.Builder
	for _, r := range text {
		if Unprintable(r) {
			fmt.Fprintf(&b, `\u%04x`, r)
		} else {
			b.WriteRune(r)
		}
	}
	return b.String()
}

// wrapped writes text behind lead, its further lines indented below it.
func (p *page) wrapped(lead, text string) {
	indent := strings.Repeat(" ", utf8.RuneCountInString(lead))
	for _, l := range wrap(text, width-len(indent)) {
		p.line("%s%s", lead, l)
		lead = indent
	}
}

// wrap breaks text into lines of at most so many characters where words allow.
func wrap(text string, most int) []string {
	var lines []string
	var l string
	for _, word := range strings.Fields(text) {
		if l != "" && utf8.RuneCountInString(l)+1+utf8.RuneCountInString(word) > most {
			lines, l = append(lines, l), ""
		}
		if l != "" {
			l += " "
		}
		l += word
	}
	return append(lines, l)
}

// right sets text to the right in a column of n characters, however its bytes count.
func right(text string, n int) string {
	return strings.Repeat(" ", max(0, n-utf8.RuneCountInString(text))) + text
}

// left sets text to the left, shortened to fit.
func left(text string, n int) string {
	if runes := []rune(text); len(runes) > n {
		text = string(runes[:n-1]) + "…"
	}
	return text + strings.Repeat(" ", n-utf8.RuneCountInString(text))
}

// number says how many of a thing: 1 row, 2 rows.
func number(n int, one, other string) string {
	if n == 1 {
		return "1 " + one
	}
	return fmt.Sprintf("%d %s", n, other)
}

// percent never says that a chance is certain.
func percent(chance float64) string {
	switch {
	case chance < 0.01:
		return "<1 %"
	case chance > 0.99:
		return ">99 %"
	}
	return fmt.Sprintf("%.0f %%", 100*chance)
}

// minutes rounds up: nobody is held to a time that was cut short.
func minutes(seconds float64) string {
	if seconds == 0 {
		return "none"
	}
	return "about " + fmt.Sprintf("%.0f min", math.Ceil(seconds/60))
}

// scale says how lengths are written: in the reader's unit, with mm in brackets beside where that is inches.
type scale struct {
	inches bool
	ruling int // n of a ruling of 1/n inch; 0: decimals
}

// UnitOf is the unit to show lengths in: the one that was asked for, else the one that the service speaks.
func UnitOf(asked length.Unit, spoken rowdatumv1.LengthUnit) length.Unit {
	switch {
	case asked != length.NoUnit:
		return asked
	case spoken == rowdatumv1.LengthUnit_IN:
		return length.Inch
	}
	return length.Millimeter
}

// Spoken is a unit as the service names it.
func Spoken(unit length.Unit) rowdatumv1.LengthUnit {
	switch unit {
	case length.Inch:
		return rowdatumv1.LengthUnit_IN
	case length.Millimeter, length.Centimeter:
		return rowdatumv1.LengthUnit_MM
	}
	return rowdatumv1.LengthUnit_LENGTH_UNIT_UNSPECIFIED
}

// both writes a length in full: 2 1/4 in (57.0 mm), under 1/16 in (0.5 mm), or 57.0 mm.
func (s scale) both(mm float64) string {
	if s.inches && mm != 0 && length.Inches(mm, s.ruling) == length.Inches(0, s.ruling) {
		return fmt.Sprintf("under %s in (%s mm)", length.Inches(25.4/float64(max(s.ruling, 1)), s.ruling), length.Mm(mm))
	}
	return s.beside(s.short(mm), mm)
}

// exact writes a length that was asked for or computed, never rounded to the ruling: as a fraction where it is
// one, else to a thousandth.
func (s scale) exact(mm float64) string {
	if s.inches {
		return s.beside(length.FinestInches(mm), mm)
	}
	return length.Mm(mm) + " mm"
}

// beside is a length that is said in the reader's unit, and in mm too where that is inches.
func (s scale) beside(said string, mm float64) string {
	if s.inches {
		return fmt.Sprintf("%s in (%s mm)", said, length.Mm(mm))
	}
	return said + " mm"
}

// short writes a length in the reader's unit, without the unit.
func (s scale) short(mm float64) string {
	if s.inches {
		return length.Inches(mm, s.ruling)
	}
	return length.Mm(mm)
}

// told is to what short rounds, mm.
func (s scale) told() float64 {
	switch {
	case !s.inches:
		return 0.1
	case s.ruling > 0:
		return 25.4 / float64(s.ruling)
	}
	return 0.254
}

// fine writes a length that is smaller than a ruling, without the unit: to 0.1 mm or to a thousandth of an inch.
func (s scale) fine(mm float64) string {
	if s.inches {
		return length.Thousandths(mm)
	}
	return length.Mm(mm)
}

// least writes what readings can prove, rounded up: what can be proven is never promised smaller.
func (s scale) least(mm float64) string {
	const rounding = 1e-6 // of a step
	if s.inches {
		return s.beside(length.Thousandths(math.Ceil(mm/25.4*1000-rounding)*25.4/1000), math.Ceil(mm*10-rounding)/10)
	}
	return length.Mm(math.Ceil(mm*10-rounding)/10) + " mm"
}

// unit is the symbol of what short and fine write.
func (s scale) unit() string {
	if s.inches {
		return "in"
	}
	return "mm"
}

// plusMinus heads a column of uncertainties.
func (s scale) plusMinus() string { return right("±"+s.unit(), 5) }

// setting writes a setting, or a mechanism's figures, by its names: notch 11; shimsMm 2+1. To a reader of inches
// lengths are told in inches, their mm beside: shimsIn 0.079+0.039 (2+1 mm).
func (s scale) setting(setting *structpb.Struct) string {
	var parts []string
	for name, value := range setting.GetFields() {
		text := name + " " + valueText(value, plainFigure)
		if inInches := inchName(name); s.inches && inInches != "" {
			text = fmt.Sprintf("%s %s (%s mm)", inInches, valueText(value, length.FinestInches), valueText(value, plainFigure))
		}
		parts = append(parts, text)
	}
	slices.Sort(parts)
	return strings.Join(parts, ", ")
}

// inchName is the name of a field of mm for one of inches; empty where it is none: mmPerTurn is inPerTurn.
func inchName(name string) string {
	if rest, ok := strings.CutPrefix(name, "mm"); ok && rest != "" && unicode.IsUpper(rune(rest[0])) {
		return "in" + rest
	}
	if rest, ok := strings.CutSuffix(name, "Mm"); ok {
		return rest + "In"
	}
	return ""
}

func valueText(value *structpb.Value, write func(float64) string) string {
	switch value := value.GetKind().(type) {
	case *structpb.Value_ListValue:
		var items []string
		for _, item := range value.ListValue.GetValues() {
			items = append(items, valueText(item, write))
		}
		return cmp.Or(strings.Join(items, "+"), "none")
	case *structpb.Value_NumberValue:
		return write(value.NumberValue)
	}
	return fmt.Sprint(value.AsInterface())
}

func plainFigure(x float64) string { return fmt.Sprint(x) }

// Setting writes a setting as the visit's lengths are written.
func (v Visit) Setting(setting *structpb.Struct) string { return v.scale().setting(setting) }
