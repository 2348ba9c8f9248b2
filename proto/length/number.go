package length

import (
	"math/big"
	"strconv"
	"strings"
	"unicode"
)

// Reason is why a text is not read. The same words are used wherever lengths are typed.
type Reason string

// The reasons.
const (
	ErrNumber   Reason = "NOT_A_NUMBER"
	ErrFraction Reason = "UNCLEAR_FRACTION" // 17/8: 2 1/8, or 1 7/8 without its blank?
	ErrComma    Reason = "UNCLEAR_COMMA"    // 1,500: 1.5, or 1500?
	ErrLarge    Reason = "TOO_LARGE"        // more digits than are kept
	ErrUnit     Reason = "NOT_A_UNIT"
	ErrNoUnit   Reason = "NO_UNIT"
)

func (r Reason) Error() string {
	return strings.ToLower(strings.ReplaceAll(string(r), "_", " "))
}

// Comma is what a comma in a number is.
type Comma int

// The commas.
const (
	CommaIfClear Comma = iota // a decimal sign, but refused where it may stand between thousands
	CommaDecimal              // a decimal sign: something else separates numbers and nothing separates thousands
	CommaRefused              // commas separate numbers here, so no number has one
)

// Reading says how texts are to be read. The zero Reading is for one number that a person types.
type Reading struct {
	Bare  Unit // the unit of a bare number; NoUnit makes a bare number an error
	Comma Comma
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
	number, unitText := split(clean(text))
	value, err := r.number(number)
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

// Number reads a number without a unit.
func (r Reading) Number(text string) (*big.Rat, error) {
	number, rest := split(clean(text))
	if rest != "" {
		return nil, ErrNumber
	}
	return r.number(number)
}

// clean gives text in one spelling: single blanks, none at the ends; - for every hyphen, dash and minus; / for every
// fraction slash; ¼ as 1/4.
func clean(text string) string {
	var b strings.Builder
	afterDigit := false
	for _, c := range text {
		switch fraction := vulgar(c); {
		case fraction != "" && afterDigit:
			b.WriteString(" " + fraction + " ")
		case fraction != "":
			b.WriteString(fraction + " ")
		case strings.ContainsRune("‐‑–−", c):
			b.WriteByte('-')
		case c == '⁄':
			b.WriteByte('/')
		default:
			b.WriteRune(c)
		}
		afterDigit = isDigit(c)
	}
	return strings.Join(strings.FieldsFunc(b.String(), unicode.IsSpace), " ")
}

// split cuts a clean text behind its last digit, and points and commas that follow it at once.
func split(text string) (number, unit string) {
	end := strings.LastIndexAny(text, "0123456789") + 1
	if end == 0 {
		return "", text
	}
	for end < len(text) && (text[end] == '.' || text[end] == ',') {
		end++
	}
	return text[:end], strings.TrimSpace(text[end:])
}

// number reads a clean number.
func (r Reading) number(text string) (*big.Rat, error) {
	negative := strings.HasPrefix(text, "-")
	if negative || strings.HasPrefix(text, "+") {
		text = strings.TrimPrefix(text[1:], " ")
	}
	value, err := r.unsigned(text)
	if err == nil && negative {
		value.Neg(value)
	}
	return value, err
}

func (r Reading) unsigned(text string) (*big.Rat, error) {
	switch {
	case strings.Contains(text, "/"):
		return fraction(text)
	case strings.Contains(text, ","):
		return r.withComma(text)
	}
	whole, part, _ := strings.Cut(text, ".")
	return decimal(whole, part)
}

// withComma reads 57,2.
func (r Reading) withComma(text string) (*big.Rat, error) {
	if strings.Trim(text, "0123456789,. ") != "" {
		return nil, ErrNumber
	}
	whole, part, _ := strings.Cut(text, ",")
	thousands := len(part) == 3 && len(whole) >= 1 && len(whole) <= 3 && whole[0] != '0'
	if r.Comma == CommaRefused || r.Comma == CommaIfClear && thousands || part == "" || !allDigits(whole+part) {
		return nil, ErrComma
	}
	return decimal(whole, part)
}

// mostDigits are kept of a number.
const mostDigits = 12

// decimal reads whole.part, of which one may be empty.
func decimal(whole, part string) (*big.Rat, error) {
	if !allDigits(whole + part) {
		return nil, ErrNumber
	}
	whole = strings.TrimLeft(whole, "0")
	if len(whole) > mostDigits {
		return nil, ErrLarge
	}
	kept := min(len(part), mostDigits-len(whole))
	above, below := integer(whole+part[:kept]), integer("1"+strings.Repeat("0", kept))
	if kept < len(part) && part[kept] >= '5' {
		above++
	}
	return big.NewRat(above, below), nil
}

// fraction reads 7/8, 2 1/4 and 2-1/4.
func fraction(text string) (*big.Rat, error) {
	above, below, _ := strings.Cut(text, "/")
	above, below = strings.TrimSuffix(above, " "), strings.TrimPrefix(below, " ")
	whole, mixed := "", false
	if i := strings.IndexAny(above, " -"); i > 0 {
		whole, above, mixed = above[:i], above[i+1:], true
	}
	if mixed && !allDigits(whole) || !allDigits(above) || !allDigits(below) {
		return nil, ErrNumber
	}
	long := len(above) > 1
	whole, above, below = strings.TrimLeft(whole, "0"), strings.TrimLeft(above, "0"), strings.TrimLeft(below, "0")
	if len(whole)+len(above)+len(below) > mostDigits {
		return nil, ErrLarge
	}
	w, a, b := integer(whole), integer(above), integer(below)
	switch {
	case b == 0:
		return nil, ErrNumber
	case mixed && a >= b, !mixed && long && a > b:
		return nil, ErrFraction
	}
	return big.NewRat(w*b+a, b), nil
}

// integer is the value of at most mostDigits+1 digits; none are 0.
func integer(digits string) int64 {
	n, _ := strconv.ParseInt("0"+digits, 10, 64)
	return n
}

func allDigits(text string) bool {
	return text != "" && strings.Trim(text, "0123456789") == ""
}

func isDigit(c rune) bool { return c >= '0' && c <= '9' }

// vulgar writes a fraction of one character as 1/4, any other character as nothing.
func vulgar(c rune) string {
	return map[rune]string{
		'½': "1/2", '⅓': "1/3", '⅔': "2/3", '¼': "1/4", '¾': "3/4", '⅕': "1/5", '⅖': "2/5", '⅗': "3/5", '⅘': "4/5", '⅙': "1/6", '⅚': "5/6",
		'⅐': "1/7", '⅛': "1/8", '⅜': "3/8", '⅝': "5/8", '⅞': "7/8", '⅑': "1/9", '⅒': "1/10",
	}[c]
}

// Float rounds an exact number to the nearest float64.
func Float(x *big.Rat) float64 {
	f, _ := x.Float64()
	return f + 0 // never -0
}
