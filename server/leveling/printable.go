package leveling

import (
	"fmt"
	"strings"
	"unicode"
)

// OneLine notes a character that shows as nothing, breaks the line, or turns the order of what is shown around: a name with
// one of these can pass for another name, or for a further line of a list.
func (v *Violations) OneLine(field, text string) { v.printable(field, text, "") }

// Lines is OneLine for a text of several lines, which may have tabs too.
func (v *Violations) Lines(field, text string) { v.printable(field, text, "\n\r\t") }

func (v *Violations) printable(field, text, but string) {
	at := strings.IndexFunc(text, func(r rune) bool { return Unprintable(r) && !strings.ContainsRune(but, r) })
	if at < 0 {
		return
	}
	for _, r := range text[at:] {
		v.say(field, func(p *phrases) string { return p.unprintable }, fmt.Sprintf("U+%04X", r))
		return
	}
}

// Unprintable says whether a character is a control character, a separator of lines, or one of those that override the
// direction of writing (Unicode, annex 9). The marks that only hint at a direction are part of names in some languages.
func Unprintable(r rune) bool {
	return unicode.IsControl(r) || r == '\u2028' || r == '\u2029' || r >= '\u202a' && r <= '\u202e' || r >= '\u2066' && r <= '\u2069'
}

// Escaped is a text whose unprintable characters are written as \u and a number, for a line of a terminal: what was kept
// before such characters were refused, or comes from an import, can hold any.
func Escaped(text string) string {
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
