package length

import (
	"errors"
	"math/big"
	"strings"
	"unicode"
)

// Unit is a unit of length that people write.
type Unit int

// The units. The zero Unit says that none is known.
const (
	NoUnit Unit = iota
	Millimeter
	Centimeter
	Inch
)

// String returns the unit's symbol.
func (u Unit) String() string {
	return [...]string{"", "mm", "cm", "in"}[u]
}

// mm returns how many mm one u is, exactly (NIST SP 811: 1 in = 25.4 mm, 1 cm = 10 mm).
func (u Unit) mm() *big.Rat {
	return [...]*big.Rat{nil, big.NewRat(1, 1), big.NewRat(10, 1), big.NewRat(254, 10)}[u]
}

// ParseUnit reads a unit's symbol or word.
func ParseUnit(text string) (Unit, bool) {
	switch strings.ToLower(strings.TrimSpace(text)) {
	case "mm":
		return Millimeter, true
	case "cm":
		return Centimeter, true
	case "in", "in.", "inch", "inches", `"`, "″", "”", "''":
		return Inch, true
	}
	return NoUnit, false
}

// The reasons why a text is not a length.
var (
	ErrNumber = errors.New("not a number")
	ErrUnit   = errors.New("not a unit of length")
	ErrNoUnit = errors.New("no unit")
)

// Reading says how texts are to be read.
type Reading struct {
	Bare         Unit // the unit of a bare number; NoUnit makes a bare number an error
	DecimalComma bool // whether 57,2 is a number too
}

// Mm reads a length and returns it in mm.
func (r Reading) Mm(text string) (*big.Rat, error) {
	value, unit, err := r.Typed(text)
	if err != nil {
		return nil, err
	}
	return value.Mul(value, unit.mm()), nil
}

// Typed reads a length and returns it as it was typed: the number and its unit.
func (r Reading) Typed(text string) (*big.Rat, Unit, error) {
	number, unitText := split(text)
	value, err := r.Number(number)
	if err != nil {
		return nil, NoUnit, err
	}
	unit := r.Bare
	if unitText != "" {
		var ok bool
		if unit, ok = ParseUnit(unitText); !ok {
			return nil, NoUnit, ErrUnit
		}
	}
	if unit == NoUnit {
		return nil, NoUnit, ErrNoUnit
	}
	return value, unit, nil
}

// split cuts text behind its last character that can belong to a number.
func split(text string) (number, unit string) {
	text = strings.TrimSpace(text)
	inPoint := strings.HasSuffix(strings.ToLower(text), "in.")
	end := strings.LastIndexFunc(text, func(c rune) bool { return isDigit(c) || vulgar(c) != nil || c == '.' && !inPoint })
	if end < 0 {
		return "", text
	}
	end += len(string(firstRune(text[end:])))
	return text[:end], strings.TrimSpace(text[end:])
}

func firstRune(s string) rune {
	for _, c := range s {
		return c
	}
	return 0
}

// maxDigits bounds a number; with it no length is near the limits of a float64.
const maxDigits = 12

// Number reads a number without a unit: 2, 2.25, .5, 7/8, 2 1/4, 2-1/4, 2¼, each with a sign or not.
func (r Reading) Number(text string) (*big.Rat, error) {
	text, negative := sign(strings.TrimSpace(text))
	value, ok := r.unsigned(text)
	if !ok {
		return nil, ErrNumber
	}
	if negative {
		value.Neg(value)
	}
	return value, nil
}

func sign(text string) (rest string, negative bool) {
	for _, minus := range []string{"-", "−"} {
		if rest, ok := strings.CutPrefix(text, minus); ok {
			return rest, true
		}
	}
	return strings.TrimPrefix(text, "+"), false
}

func (r Reading) unsigned(text string) (*big.Rat, bool) {
	whole, part, mixed := cutMixed(text)
	if mixed {
		return addMixed(whole, part)
	}
	if value, ok := fraction(text); ok {
		return value, true
	}
	return r.decimal(text)
}

// cutMixed splits 2 1/4, 2-1/4 and 2¼ into 2 and the fraction.
func cutMixed(text string) (whole, part string, ok bool) {
	if i := strings.IndexFunc(text, func(c rune) bool { return vulgar(c) != nil }); i > 0 {
		return strings.TrimSpace(text[:i]), text[i:], true
	}
	if !strings.Contains(text, "/") {
		return "", "", false
	}
	i := strings.IndexFunc(text, func(c rune) bool { return c == '-' || unicode.IsSpace(c) })
	if i < 0 {
		return "", "", false
	}
	if text[i] == '-' {
		return text[:i], text[i+1:], true
	}
	return text[:i], strings.TrimSpace(text[i:]), true
}

// addMixed adds a whole number and a fraction below 1.
func addMixed(whole, part string) (*big.Rat, bool) {
	w, ok := integer(whole)
	if !ok {
		return nil, false
	}
	f, ok := fraction(part)
	if !ok || f.Cmp(big.NewRat(1, 1)) >= 0 {
		return nil, false
	}
	return f.Add(f, w), true
}

// fraction reads 7/8, 7/4 and ⅞, but not 17/8, which may be 1 7/8 without its space.
func fraction(text string) (*big.Rat, bool) {
	if value := vulgar(firstRune(text)); value != nil && len(text) == len(string(firstRune(text))) {
		return value, true
	}
	above, below, ok := strings.Cut(text, "/")
	if !ok {
		return nil, false
	}
	a, aOK := integer(above)
	b, bOK := integer(below)
	if !aOK || !bOK || b.Sign() == 0 || len(above) > 1 && a.Cmp(b) > 0 {
		return nil, false
	}
	return a.Quo(a, b), true
}

func (r Reading) decimal(text string) (*big.Rat, bool) {
	if r.DecimalComma && !strings.Contains(text, ".") {
		text = strings.Replace(text, ",", ".", 1)
	}
	whole, part, _ := strings.Cut(text, ".")
	digits := whole + part
	if !allDigits(digits) {
		return nil, false
	}
	value, ok := new(big.Rat).SetString("0" + text)
	return value, ok
}

func integer(text string) (*big.Rat, bool) {
	if !allDigits(text) {
		return nil, false
	}
	return new(big.Rat).SetString(text)
}

func allDigits(text string) bool {
	return text != "" && len(text) <= maxDigits && strings.IndexFunc(text, func(c rune) bool { return !isDigit(c) }) < 0
}

func isDigit(c rune) bool { return c >= '0' && c <= '9' }

// vulgar returns the value of a one-character fraction, nil for any other character.
func vulgar(c rune) *big.Rat {
	switch c {
	case '½':
		return big.NewRat(1, 2)
	case '¼':
		return big.NewRat(1, 4)
	case '¾':
		return big.NewRat(3, 4)
	case '⅛':
		return big.NewRat(1, 8)
	case '⅜':
		return big.NewRat(3, 8)
	case '⅝':
		return big.NewRat(5, 8)
	case '⅞':
		return big.NewRat(7, 8)
	}
	return nil
}

// Float rounds an exact number to the nearest float64.
func Float(x *big.Rat) float64 {
	f, _ := x.Float64()
	return f + 0 // never -0
}
