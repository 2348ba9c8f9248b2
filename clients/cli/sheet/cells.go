package sheet

import (
	"encoding/binary"
	"regexp"
	"strings"
	"unicode"
	"unicode/utf16"
	"unicode/utf8"

	"rowdatum/proto/length"
)

// line is one line of the file, cut into cells.
type line struct {
	number   int    // from 1
	raw      string // as it stands in the file
	cells    []string
	unclosed int // index of a cell whose quote is never closed, else -1
}

// cell returns the text of column i, empty beyond the end.
func (l line) cell(i int) string {
	if i < len(l.cells) {
		return l.cells[i]
	}
	return ""
}

// key returns the first cell in one spelling: lower case, single blanks, no colon at the end.
func (l line) key() string {
	return strings.TrimSpace(strings.TrimSuffix(plain(l.cell(0)), ":"))
}

// plain gives text in one spelling: lower case, single blanks.
func plain(text string) string {
	return strings.ToLower(strings.Join(strings.Fields(text), " "))
}

// decode returns the file's text: UTF-8 with or without a byte order mark, UTF-16 with one (what
// spreadsheets call Unicode text), or else one byte a character (Latin-1).
func decode(file []byte) string {
	switch {
	case len(file) >= 2 && file[0] == 0xFF && file[1] == 0xFE:
		return decode16(file[2:], binary.LittleEndian)
	case len(file) >= 2 && file[0] == 0xFE && file[1] == 0xFF:
		return decode16(file[2:], binary.BigEndian)
	case utf8.Valid(file):
		return strings.TrimPrefix(string(file), "\uFEFF")
	}
	runes := make([]rune, len(file))
	for i, b := range file {
		runes[i] = rune(b)
	}
	return string(runes)
}

func decode16(file []byte, order binary.ByteOrder) string {
	units := make([]uint16, len(file)/2)
	for i := range units {
		units[i] = order.Uint16(file[2*i:])
	}
	return string(utf16.Decode(units))
}

// lines cuts text into lines of cells, leaving out blank and comment lines and an Excel "sep=" line.
func lines(text string, separator rune) []line {
	var all []line
	text = strings.ReplaceAll(strings.ReplaceAll(text, "\r\n", "\n"), "\r", "\n")
	number := 0
	for raw := range strings.SplitSeq(text, "\n") {
		number++
		if isComment(raw) || number == 1 && strings.HasPrefix(raw, "sep=") {
			continue
		}
		l := line{number: number, raw: raw}
		l.cells, l.unclosed = split(raw, separator)
		if l.unclosed >= 0 || strings.Join(l.cells, "") != "" {
			all = append(all, l)
		}
	}
	return all
}

func isComment(raw string) bool {
	raw = strings.TrimSpace(raw)
	return strings.HasPrefix(raw, "#") || strings.HasPrefix(raw, `"#`)
}

// separatorOf finds what stands between the cells: what follows "row" where the table's heading starts
// a line, else what follows the first cell of the first line that has one.
func separatorOf(text string) rune {
	heading := regexp.MustCompile(`(?im)^[ \t]*"?row"? *([,;\t])`)
	if m := heading.FindStringSubmatch(text); m != nil {
		return rune(m[1][0])
	}
	for raw := range strings.Lines(text) {
		if isComment(raw) {
			continue
		}
		if i := strings.IndexAny(raw, ",;\t"); i >= 0 {
			return rune(raw[i])
		}
	}
	return ','
}

// commaIn is what a comma is in the cells of a file with that separator.
func commaIn(separator rune) length.Comma {
	if separator == ',' {
		return length.CommaRefused
	}
	return length.CommaDecimal
}

// split cuts one line into trimmed cells. A quote opens a quoted cell only as its first character, so
// that 2 1/4" needs no quoting. It returns the index of a cell whose quote is never closed, else -1.
func split(raw string, separator rune) (cells []string, unclosed int) {
	unclosed = -1
	for {
		var text string
		var more, closed bool
		start := strings.TrimLeftFunc(raw, func(c rune) bool { return unicode.IsSpace(c) && c != separator })
		if quoted, ok := strings.CutPrefix(start, `"`); ok {
			text, raw, more, closed = cutQuoted(quoted, separator)
			if !closed && unclosed < 0 {
				unclosed = len(cells)
			}
		} else {
			text, raw, more = strings.Cut(raw, string(separator))
		}
		cells = append(cells, strings.TrimSpace(text))
		if !more {
			return cells, unclosed
		}
	}
}

// cutQuoted reads a quoted cell up to its closing quote, the one that ends the line or stands before a
// separator; "" inside stands for one quote.
func cutQuoted(raw string, separator rune) (text, rest string, more, closed bool) {
	for i := 0; i < len(raw); i++ {
		if raw[i] != '"' {
			continue
		}
		if strings.HasPrefix(raw[i:], `""`) {
			i++
			continue
		}
		after := strings.TrimLeftFunc(raw[i+1:], func(c rune) bool { return unicode.IsSpace(c) && c != separator })
		if after == "" || strings.HasPrefix(after, string(separator)) {
			rest, more = strings.CutPrefix(after, string(separator))
			return strings.ReplaceAll(raw[:i], `""`, `"`), rest, more, true
		}
	}
	return raw, "", false, false
}
