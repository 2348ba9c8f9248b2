package dig

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"
	"unicode"

	"rowdatum/server/leveling"
)

// Unit is the unit of pasted depths.
type Unit int

// The units.
const (
	Mm   Unit = iota + 1
	Inch      // decimal, or with fractions: 1 7/8
)

// MaxPasted is the longest text that Parse reads, in bytes.
const MaxPasted = 64 << 10

// Parse reads seeds as people paste them: a row number, then depths, on a line; lines of one row add up. Figures
// are separated by commas, semicolons, tabs or spaces; where a line has semicolons or tabs, a comma between
// digits is a decimal comma. A first line without figures is a heading, empty lines are skipped. Rows come in the order in which
// they are first named. What cannot be read is told line by line for field; depths and rows are not judged.
func Parse(field, text string, unit Unit) ([]leveling.RowSeeds, leveling.Violations) {
	var v leveling.Violations
	if len(text) > MaxPasted {
		say(&v, field, func(p *phrases) string { return p.tooLong }, len(text), MaxPasted)
		return nil, v
	}
	var out []leveling.RowSeeds
	read, n := false, 0
	for line := range strings.Lines(text) {
		n++
		line = strings.TrimSpace(strings.TrimPrefix(line, "\ufeff"))
		if line == "" || !read && !strings.ContainsFunc(line, unicode.IsDigit) {
			read = read || line != ""
			continue
		}
		read = true
		row, depths, wrong := parseLine(line, unit)
		if wrong != nil {
			at := n
			v.Say(field, func(to leveling.Voice) string {
				p := catalogue.In(to.Language)
				return fmt.Sprintf(p.onLine, at, wrong(p))
			})
			continue
		}
		out = gather(out, row, depths)
	}
	if len(out) == 0 && len(v) == 0 {
		say(&v, field, func(p *phrases) string { return p.noSeeds })
	}
	return out, v
}

// wrong is what is wrong with a line, in a language; nil where nothing is.
type wrong func(*phrases) string

func say(v *leveling.Violations, field string, phrase func(*phrases) string, args ...any) {
	v.Say(field, catalogue.Message(phrase, args...))
}

func gather(out []leveling.RowSeeds, row int, depths []float64) []leveling.RowSeeds {
	i := slices.IndexFunc(out, func(r leveling.RowSeeds) bool { return r.Row == row })
	if i < 0 {
		return append(out, leveling.RowSeeds{Row: row, DepthsMm: depths})
	}
	out[i].DepthsMm = append(out[i].DepthsMm, depths...)
	return out
}

func parseLine(line string, unit Unit) (row int, depths []float64, why wrong) {
	fields := cut(line)
	if len(fields) == 0 {
		return 0, nil, func(p *phrases) string { return p.onlySeparators }
	}
	row, err := strconv.Atoi(fields[0])
	if err != nil {
		return 0, nil, func(p *phrases) string { return fmt.Sprintf(p.notRow, fields[0]) }
	}
	for i := 1; i < len(fields); i++ {
		text := fields[i]
		if unit == Inch && i+1 < len(fields) && wholeAndFraction(text, fields[i+1]) {
			i++
			text += " " + fields[i]
		}
		mm, ok := length(text, unit)
		if !ok {
			return 0, nil, func(p *phrases) string { return fmt.Sprintf(p.notDepth, text) }
		}
		depths = append(depths, mm)
	}
	if len(depths) == 0 {
		return 0, nil, func(p *phrases) string { return p.noDepth }
	}
	return row, depths, nil
}

// cut splits a line at its separators.
func cut(line string) []string {
	if strings.ContainsAny(line, ";\t") {
		line = strings.ReplaceAll(line, ",", ".")
	}
	return strings.FieldsFunc(line, func(r rune) bool { return r == ',' || r == ';' || unicode.IsSpace(r) })
}

// wholeAndFraction says whether two neighbours are one number: 1 7/8.
func wholeAndFraction(a, b string) bool {
	_, err := strconv.ParseUint(a, 10, 16)
	_, isFraction := fraction(b)
	return err == nil && isFraction
}

// length reads one depth, with or without its unit's sign.
func length(text string, unit Unit) (mm float64, ok bool) {
	text = strings.TrimSuffix(strings.TrimSuffix(text, "mm"), `"`)
	if unit == Mm {
		return decimal(text)
	}
	whole, part := 0.0, text
	if before, after, both := strings.Cut(text, " "); both {
		if whole, ok = decimal(before); !ok {
			return 0, false
		}
		part = after
	}
	inches, ok := fraction(part)
	if !ok {
		inches, ok = decimal(part)
	}
	return (whole + inches) * 25.4, ok
}

// fraction reads 7/8: below one, of at most 64ths.
func fraction(text string) (float64, bool) {
	over, under, ok := strings.Cut(strings.TrimSuffix(text, `"`), "/")
	a, errA := strconv.ParseUint(over, 10, 8)
	b, errB := strconv.ParseUint(under, 10, 8)
	if !ok || errA != nil || errB != nil || a >= b || b > 64 {
		return 0, false
	}
	return float64(a) / float64(b), true
}

func decimal(text string) (float64, bool) {
	if strings.ContainsAny(text, "xXpPnN_") { // hexadecimal, Inf and NaN are no depths
		return 0, false
	}
	x, err := strconv.ParseFloat(text, 64)
	return x + 0, err == nil && !math.IsInf(x, 0)
}
