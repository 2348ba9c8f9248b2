package dig

import (
	"errors"
	"fmt"
	"slices"
	"strconv"
	"strings"
	"unicode"

	"rowdatum/proto/length"
	"rowdatum/server/leveling"
)

// MaxPasted is the longest text that Parse reads, in bytes.
const MaxPasted = 64 << 10

// Parse reads seeds as people paste them: a row number, then depths, on a line; lines of one row add up. Lines and
// lengths are those of the package length; unit is that of a depth that says none. A first line without figures is a
// heading, empty lines are skipped. Rows come in the order in which they are first named. What cannot be read, or can be
// read in two ways, is told line by line for field; depths and rows are not judged.
func Parse(field, text string, unit length.Unit) ([]leveling.RowSeeds, leveling.Violations) {
	var v leveling.Violations
	if len(text) > MaxPasted {
		say(&v, field, func(p *phrases) string { return p.tooLong }, len(text), MaxPasted)
		return nil, v
	}
	var out []leveling.RowSeeds
	read, columns, n := false, 0, 0
	for line := range strings.Lines(text) {
		n++
		line = strings.TrimSpace(strings.TrimPrefix(line, "\ufeff"))
		if line == "" || !read && !strings.ContainsFunc(line, unicode.IsDigit) {
			if line != "" {
				read, columns = true, 1+strings.Count(line, ",")
			}
			continue
		}
		read = true
		row, depths, wrong := parseLine(line, length.Line{Row: true, Columns: columns}, unit)
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

func parseLine(text string, line length.Line, unit length.Unit) (row int, depths []float64, why wrong) {
	cells, comma, err := line.Cut(text)
	if unclear, ok := errors.AsType[*length.CommaError](err); ok {
		return 0, nil, about(unclear.Text, err)
	}
	if len(cells) == 0 {
		return 0, nil, func(p *phrases) string { return p.onlySeparators }
	}
	row, err = strconv.Atoi(cells[0])
	if err != nil {
		return 0, nil, func(p *phrases) string { return quote(p.notRow, cells[0]) }
	}
	for _, cell := range cells[1:] {
		mm, err := length.Reading{Bare: unit, Comma: comma}.Mm(cell)
		if err != nil {
			return 0, nil, about(cell, err)
		}
		depths = append(depths, length.Float(mm))
	}
	if len(depths) == 0 {
		return 0, nil, func(p *phrases) string { return p.noDepth }
	}
	return row, depths, nil
}

// about says why text is not read as a depth.
func about(text string, err error) wrong {
	return func(p *phrases) string {
		switch {
		case errors.Is(err, length.ErrComma):
			return quote(p.unclearComma, text)
		case errors.Is(err, length.ErrFraction):
			return quote(p.unclearFraction, text)
		}
		return quote(p.notDepth, text)
	}
}

// quote puts text, or as much of it as is worth reading, into a phrase.
func quote(phrase, text string) string { return fmt.Sprintf(phrase, leveling.Short([]any{text})...) }
