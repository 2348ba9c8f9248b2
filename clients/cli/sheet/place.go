package sheet

import (
	"cmp"
	"fmt"
	"slices"
	"strings"
)

// Place is a cell of the file, or of a file that it names.
type Place struct {
	Line   int    // from 1
	Column int    // from 1
	Header string // the column's heading, or what the line is about; may be empty
	File   string // the name of that other file; empty: the file itself
}

func cellAt(line, column int, header string) Place {
	return Place{Line: line, Column: column, Header: header}
}

// String names the place as a spreadsheet does: line 9, column D (reading 1).
func (p Place) String() string {
	text := fmt.Sprintf("line %d, column %s", p.Line, letters(p.Column))
	if p.File != "" {
		text = p.File + ", " + text
	}
	if p.Header != "" {
		text += " (" + p.Header + ")"
	}
	return text
}

// letters names a column: A, B, … Z, AA.
func letters(column int) string {
	var text string
	for ; column > 0; column = (column - 1) / 26 {
		text = string(rune('A'+(column-1)%26)) + text
	}
	return text
}

// Mistake is one thing wrong with the file, and what would be right.
type Mistake struct {
	Place
	Message string
}

// Mistakes is everything wrong with a file and those that it names, by file, line and column.
type Mistakes []Mistake

// Sort puts mistakes in the order of the file.
func (m Mistakes) Sort() {
	slices.SortStableFunc(m, func(a, b Mistake) int {
		return cmp.Or(cmp.Compare(a.File, b.File), cmp.Compare(a.Line, b.Line), cmp.Compare(a.Column, b.Column))
	})
}

// Error gives one line a mistake.
func (m Mistakes) Error() string {
	text := make([]string, len(m))
	for i, mistake := range m {
		text[i] = mistake.Place.String() + ": " + mistake.Message
	}
	return strings.Join(text, "\n")
}

// quote writes a cell's text for a message, shortened.
func quote(text string) string {
	const most = 40
	if runes := []rune(text); len(runes) > most {
		text = string(runes[:most-1]) + "…"
	}
	return `"` + strings.Map(printable, text) + `"`
}

func printable(c rune) rune {
	if c < ' ' || c == 0x7F {
		return '?'
	}
	return c
}

// meant returns " (did you mean …?)" for the word that text is nearest to, or nothing.
func meant(text string, words []string) string {
	const longest = 40 // of a word that anybody meant
	if len(text) > longest {
		return ""
	}
	best, nearest := "", 1+len(text)/3
	for _, word := range words {
		if d := distance(strings.ToLower(text), strings.ToLower(word)); d <= nearest && (best == "" || d < nearest) {
			best, nearest = word, d
		}
	}
	if best == "" {
		return ""
	}
	return fmt.Sprintf(" (did you mean %s?)", best)
}

// distance counts the letters to change, add or take out to get from a to b.
func distance(a, b string) int {
	row := make([]int, len(b)+1)
	for j := range row {
		row[j] = j
	}
	for i := range len(a) {
		corner := row[0]
		row[0] = i + 1
		for j := range len(b) {
			change := corner
			if a[i] != b[j] {
				change++
			}
			corner = row[j+1]
			row[j+1] = min(change, row[j]+1, row[j+1]+1)
		}
	}
	return row[len(b)]
}
