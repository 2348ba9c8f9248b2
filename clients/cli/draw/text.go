package draw

import (
	"fmt"
	"math"
	"strings"
	"unicode"
	"unicode/utf8"

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

// scale says how lengths are written: in the file's unit, with mm beside where that is inches.
type scale struct {
	inches bool
	ruling int // n of a ruling of 1/n inch; 0: decimals
}

// both writes a length in full: 2 1/4 in (57.0 mm), or 57.0 mm, also where inches would be nought.
func (s scale) both(mm float64) string {
	if !s.inches || length.Inches(mm, s.ruling) == length.Inches(0, s.ruling) {
		return length.Mm(mm) + " mm"
	}
	return fmt.Sprintf("%s in (%s mm)", length.Inches(mm, s.ruling), length.Mm(mm))
}

// exact writes a length that was asked for or computed, never rounded to the ruling: as a fraction where it is
// one, else in decimals.
func (s scale) exact(mm float64) string {
	if !s.inches {
		return length.Mm(mm) + " mm"
	}
	return fmt.Sprintf("%s in (%s mm)", length.ExactInches(mm), length.Mm(mm))
}

// short writes a length in the file's unit, without the unit.
func (s scale) short(mm float64) string {
	if s.inches {
		return length.Inches(mm, s.ruling)
	}
	return length.Mm(mm)
}

// unit is the symbol of what short writes.
func (s scale) unit() string {
	if s.inches {
		return "in"
	}
	return "mm"
}
