package sheet

import (
	"fmt"
	"regexp"
	"slices"
	"strconv"
	"strings"

	"google.golang.org/protobuf/types/known/structpb"

	rowdatumv1 "rowdatum/proto/gen/rowdatum/v1"
	"rowdatum/proto/length"
)

// column is one column of the table.
type column struct {
	header string      // as written, without its unit
	kind   string      // row, mechanism, setting, reading, scale, scale sd, note; empty: nothing is read
	unit   length.Unit // of bare numbers, NoUnit where the heading does not say
}

func columnKinds() []string {
	return []string{"row", "mechanism", "setting", "reading", "scale", "scale sd", "note"}
}

// heading reads the table's heading.
func (p *parser) heading(l line) {
	p.sheet.places["rows"] = cellAt(l.number, 1, "row")
	p.readingColumn, p.mechanismColumn = -1, -1
	seen := map[string]bool{}
	for i, text := range l.cells {
		if len(p.mistakes) >= maxMistakes {
			return
		}
		here := cellAt(l.number, i+1, text)
		c := p.column(text, here)
		if name := plain(c.header); name != "" && seen[name] {
			p.wrong(here, fmt.Sprintf("two columns are called %s; number them, like reading 1 and reading 2", name))
		}
		seen[plain(c.header)] = true
		p.columns = append(p.columns, c)
	}
	p.readingColumn, p.mechanismColumn = p.find("reading"), p.find("mechanism")
	if p.readingColumn < 0 && !p.planterOnly {
		p.wrong(cellAt(l.number, len(l.cells)+1, ""), "the table has no column of readings; add one like reading 1 (in) or reading 1 (mm)")
	}
	if p.mechanismColumn < 0 && len(p.mechanisms) > 1 {
		p.wrong(cellAt(l.number, len(l.cells)+1, ""), "the table has no column mechanism, and there are several to choose from; add it")
	}
}

// find returns the index of the first column of a kind, or -1.
func (p *parser) find(kind string) int {
	return slices.IndexFunc(p.columns, func(c column) bool { return c.kind == kind })
}

// column reads one cell of the heading: a word, a number for readings, a unit in brackets.
func (p *parser) column(text string, here Place) column {
	c := column{header: text}
	if m := regexp.MustCompile(`^(.*?)\s*[(\[]([^)\]]*)[)\]]$`).FindStringSubmatch(text); m != nil {
		unit, ok := length.ParseUnit(m[2])
		if !ok {
			p.wrong(here, quote(m[2])+" is not a unit; write (in) or (mm)")
		}
		c.header, c.unit = m[1], unit
	}
	name := plain(c.header)
	switch {
	case regexp.MustCompile(`^readings?( ?[0-9]+)?$`).MatchString(name):
		c.kind = "reading"
	case name == "notes":
		c.kind = "note"
	case name == "", slices.Contains(columnKinds(), name):
		c.kind = name
	default:
		p.wrong(here, fmt.Sprintf("%s is not a column known here%s; a table has: %s",
			quote(text), meant(name, columnKinds()), strings.Join(columnKinds(), ", ")))
		c.kind = "note"
	}
	return c
}

// row reads one line of the table.
func (p *parser) row(l line) {
	path := fmt.Sprintf("rows[%d]", len(p.sheet.Request.Rows))
	row := &rowdatumv1.RowReadings{}
	p.sheet.Request.Rows = append(p.sheet.Request.Rows, row)
	p.sheet.places[path] = cellAt(l.number, 1, "row")
	before := len(p.mistakes)
	mechanism := p.rowMechanism(l, path, row)
	for i, text := range l.cells {
		if i >= len(p.columns) || p.columns[i].kind == "" {
			if text != "" {
				p.wrong(cellAt(l.number, i+1, ""), quote(text)+" stands in a column without a heading; give it one or take it out")
			}
			continue
		}
		p.rowCell(cellAt(l.number, i+1, p.columns[i].header), path, p.columns[i], text, row, mechanism)
	}
	if reading := p.readingColumn; !p.planterOnly && len(row.ReadingsMm) == 0 && reading >= 0 && !p.wrongIn(p.mistakes[before:], "reading") {
		p.wrong(cellAt(l.number, reading+1, p.columns[reading].header), "the row has no reading; write one or take the line out")
	}
}

// wrongIn reports whether one of mistakes is in a column of a kind.
func (p *parser) wrongIn(mistakes Mistakes, kind string) bool {
	return slices.ContainsFunc(mistakes, func(m Mistake) bool {
		return m.Column <= len(p.columns) && p.columns[m.Column-1].kind == kind
	})
}

// rowMechanism reads a row's mechanism, which may be left out where the file has only one; -1 is none.
func (p *parser) rowMechanism(l line, path string, row *rowdatumv1.RowReadings) int {
	at := p.mechanismColumn
	text := ""
	if at >= 0 {
		text = l.cell(at)
	}
	index := p.mechanismOf(text)
	if text == "" && len(p.mechanisms) == 1 {
		index = 0
	}
	if index >= 0 {
		row.Mechanism = p.mechanisms[index].id
	}
	if at < 0 {
		return index
	}
	here := cellAt(l.number, at+1, "mechanism")
	p.sheet.places[path+".mechanism"] = here
	if index < 0 && len(p.mechanisms) > 0 {
		p.wrong(here, p.noMechanism(text))
	}
	return index
}

func (p *parser) noMechanism(text string) string {
	var ids []string
	for _, m := range p.mechanisms {
		ids = append(ids, m.id)
	}
	choice := strings.Join(ids, ", ")
	if text == "" {
		return "the row's mechanism is missing; write one of " + choice
	}
	return fmt.Sprintf("%s is not a mechanism of this file%s; above the table stand %s", quote(text), meant(text, ids), choice)
}

// rowCell reads one cell of the table.
func (p *parser) rowCell(here Place, path string, c column, text string, row *rowdatumv1.RowReadings, mechanism int) {
	switch c.kind {
	case "row":
		p.rowNumber(here, path, text, row)
	case "setting":
		p.setting(here, path, text, row, mechanism)
	case "reading":
		p.readingCell(here, path, c, text, row)
	case "scale":
		p.scale(here, path+".scale", text, func(x *float64) { row.Scale = x })
	case "scale sd":
		p.scale(here, path+".scaleSd", text, func(x *float64) { row.ScaleSd = x })
	}
}

func (p *parser) rowNumber(here Place, path, text string, row *rowdatumv1.RowReadings) {
	number, err := strconv.ParseInt(text, 10, 32)
	if err != nil || number < 1 {
		p.wrong(here, quote(text)+" is not a row number; write 1 for the left row seen from behind, 2 for the next, and so on")
		return
	}
	p.sheet.places[path+".row"] = here
	row.Row = int32(number)
	if first, ok := p.rows[row.Row]; ok {
		p.wrong(here, fmt.Sprintf("row %d is on line %d already; give each row its own number", number, first))
		return
	}
	p.rows[row.Row] = here.Line
}

// setting reads where the mechanism stands now; an empty cell says that nobody knows.
func (p *parser) setting(here Place, path, text string, row *rowdatumv1.RowReadings, mechanism int) {
	if text == "" || mechanism < 0 || p.mechanisms[mechanism].style == nil {
		return
	}
	fields, err := settingFields(text, p.mechanisms[mechanism].style, p.reading)
	if err != nil {
		p.wrong(here, err.Error())
		return
	}
	p.sheet.places[path+".setting"] = here
	row.Setting = &structpb.Struct{Fields: fields}
}

func (p *parser) readingCell(here Place, path string, c column, text string, row *rowdatumv1.RowReadings) {
	if text == "" {
		return
	}
	r := p.reading
	if c.unit != length.NoUnit {
		r.Bare = c.unit
	}
	mm, err := r.Mm(text)
	if err != nil {
		p.wrong(here, NotLength(text, err, r, fmt.Sprintf("or give the column one: %s (in) or %s (mm)", c.header, c.header)))
		return
	}
	p.typedIn(text, r)
	p.sheet.places[fmt.Sprintf("%s.readingsMm[%d]", path, len(row.ReadingsMm))] = here
	row.ReadingsMm = append(row.ReadingsMm, length.Float(mm))
}

func (p *parser) scale(here Place, path, text string, set func(*float64)) {
	if text == "" {
		return
	}
	value, err := p.reading.Number(text)
	if err != nil {
		p.wrong(here, quote(text)+" is not a number; write one like 0.95")
		return
	}
	p.sheet.places[path] = here
	x := length.Float(value)
	set(&x)
}
