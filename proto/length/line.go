package length

import (
	"strings"
	"unicode"
)

// Line says what is known of a line of several numbers.
type Line struct {
	Row     bool // its first number is that of a row, a whole one
	Plus    bool // a + separates too, as in 2+1
	Columns int  // how many columns a heading above it names; 0 without a heading
}

// CommaError is ErrComma for a part of a line.
type CommaError struct{ Text string }

func (e *CommaError) Error() string { return e.Text + ": " + ErrComma.Error() }

// Unwrap returns ErrComma.
func (e *CommaError) Unwrap() error { return ErrComma }

// Cut cuts a line at semicolons, tabs, commas and blanks into the texts of its numbers, and says what a comma in them
// is. Where a comma may separate or be a decimal sign, the error is a CommaError.
func (l Line) Cut(text string) ([]string, Comma, error) {
	separators, comma := ";\t", CommaDecimal
	if !strings.ContainsAny(text, separators) && !(l.Plus && strings.Contains(text, "+")) {
		if doubt := l.doubt(text); doubt != "" {
			return nil, CommaIfClear, &CommaError{doubt}
		}
		separators, comma = ",", CommaRefused
	}
	parts := []string{text}
	if l.Plus {
		parts = strings.Split(text, "+")
	}
	var cells []string
	for _, part := range parts {
		before := len(cells)
		for _, piece := range strings.FieldsFunc(part, func(c rune) bool { return strings.ContainsRune(separators, c) }) {
			words := strings.Fields(piece)
			if l.Plus && len(words) > 1 && strings.ContainsFunc(piece, ofUnit) {
				words = []string{strings.Join(words, " ")} // 2 in 1: a list with units has a + or a comma between its numbers
			}
			cells = l.join(cells, words)
		}
		if len(cells) == before && len(parts) > 1 {
			cells = append(cells, "") // 2+ has a number that is missing
		}
	}
	return cells, comma, nil
}

// doubt is the first comma of a line that may separate or be a decimal sign, with the digits around it; empty
// where every comma is clear.
func (l Line) doubt(text string) string {
	first := ""
	tight := true
	for i, c := range text {
		if c != ',' {
			continue
		}
		if besideBlank(text[:i], text[i+1:]) {
			tight = false
		} else if first == "" {
			first = l.eitherWay(text[:i], text[i+1:])
		}
	}
	if tight && l.onlyCommas(text) {
		return ""
	}
	return first
}

// eitherWay is the decimal number that a comma between before and after may make; empty where it cannot.
func (l Line) eitherWay(before, after string) string {
	whole, part := digitsBefore(before), digitsAfter(after)
	isRow := l.Row && strings.TrimLeftFunc(before, unicode.IsSpace) == whole
	if whole == "" || part == "" || isRow || endsIn(strings.TrimSuffix(before, whole)) || beginsWith(strings.TrimPrefix(after, part)) {
		return ""
	}
	return whole + "," + part
}

// endsIn and beginsWith report whether digits there belong to a number that a comma cannot have: 50.8, 7/8.
func endsIn(text string) bool {
	return strings.HasSuffix(text, ".") || strings.HasSuffix(text, "/") || strings.HasSuffix(text, "⁄")
}

func beginsWith(text string) bool {
	return strings.HasPrefix(text, "/") || strings.HasPrefix(text, "⁄") || strings.HasPrefix(text, ".") && digitsAfter(text[1:]) != ""
}

// onlyCommas reports whether nothing but commas separates the numbers of a line, and the line shows it.
func (l Line) onlyCommas(text string) bool {
	pieces := strings.Split(text, ",")
	for _, piece := range pieces {
		if _, err := (Reading{Bare: Millimeter}).Mm(piece); err != nil {
			return false
		}
	}
	text = clean(text)
	return len(pieces) <= l.Columns || strings.Contains(text, "/") || pointed(text)
}

// pointed reports whether a text has a decimal point.
func pointed(text string) bool {
	for i := range text {
		if text[i] == '.' && digitsAfter(text[i+1:]) != "" {
			return true
		}
	}
	return false
}

func besideBlank(before, after string) bool {
	return strings.TrimRightFunc(before, unicode.IsSpace) != before || strings.TrimLeftFunc(after, unicode.IsSpace) != after
}

func digitsBefore(text string) string { return text[len(strings.TrimRight(text, "0123456789")):] }

func digitsAfter(text string) string {
	return text[:len(text)-len(strings.TrimLeft(text, "0123456789"))]
}

// ofUnit reports whether a character is one that units are written with.
func ofUnit(c rune) bool { return unicode.IsLetter(c) || strings.ContainsRune(`"″”'’′`, c) }

// join adds words to cells, those of one number in one cell: 1 7/8 in.
func (l Line) join(cells, words []string) []string {
	for i, word := range words {
		last := len(cells) - 1
		isRow := l.Row && last == 0
		_, isUnit := ParseUnit(word)
		if i > 0 && !isRow && (isUnit || OneNumber(words[i-1], word)) {
			cells[last] += " " + word
			continue
		}
		cells = append(cells, word)
	}
	return cells
}

// OneNumber reports whether two words are a whole number and its fraction: 1 7/8.
func OneNumber(whole, part string) bool {
	whole = strings.TrimLeft(clean(whole), "+-")
	_, err := Reading{Bare: Millimeter}.Mm(whole + " " + part)
	return err == nil && allDigits(whole) && strings.Contains(clean(part), "/")
}
