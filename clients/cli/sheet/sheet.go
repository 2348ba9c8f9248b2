package sheet

import (
	"slices"
	"strings"

	rowdatumv1 "rowdatum/proto/gen/rowdatum/v1"
	"rowdatum/proto/length"
)

// Sheet is a file that was read without a mistake.
type Sheet struct {
	Planter string      // what the file calls the planter; may be empty
	Unit    length.Unit // that the file is written in: of its unit line, else of the first length in it; NoUnit where it has none
	Request *rowdatumv1.ComputePlanRequest

	// What a plan does not need and a planter that is kept does.
	Owner        string
	RowSpacingMm *float64
	Sections     []*rowdatumv1.Section

	places map[string]Place // by path into the request
}

// Locate returns the cell that a path into the request (rows[3].readingsMm[0]) came from: its own, or
// that of the nearest part of the request that it belongs to.
func (s *Sheet) Locate(path string) (Place, bool) {
	return locate(s.places, path)
}

// Opener returns the content of a file that another one names.
type Opener func(name string) ([]byte, error)

// Parse reads a file; styles are those that the service has, open is asked for the files that it names. The
// error is Mistakes: all there are, up to about a thousand. The sheet then holds what could be read.
func Parse(file []byte, styles []*rowdatumv1.Style, open Opener) (*Sheet, error) {
	return parse(file, styles, open, false)
}

func parse(file []byte, styles []*rowdatumv1.Style, open Opener, planterOnly bool) (*Sheet, error) {
	text := decode(file)
	separator := separatorOf(text)
	p := &parser{
		sheet: &Sheet{
			Request: &rowdatumv1.ComputePlanRequest{},
			places:  map[string]Place{},
		},
		styles:  map[string]*rowdatumv1.Style{},
		reading: length.Reading{Comma: commaIn(separator)},
		seen:    map[string]int{},
		rows:    map[int32]int{},
		open:    open,

		planterOnly: planterOnly,
	}
	for _, style := range styles {
		p.styles[strings.TrimPrefix(style.GetName(), "styles/")] = style
	}
	p.file(lines(text, separator))
	p.sheet.Request.LengthUnit = p.sheet.spoken()
	if len(p.mistakes) > 0 {
		p.mistakes.Sort()
		return p.sheet, p.mistakes
	}
	return p.sheet, nil
}

// parser reads one file.
type parser struct {
	sheet      *Sheet
	styles     map[string]*rowdatumv1.Style // by id
	reading    length.Reading               // how lengths are read where nothing nearer says the unit
	mechanisms []mechanism
	seen       map[string]int // header key → line
	columns    []column
	rows       map[int32]int // row number → line
	mistakes   Mistakes
	open       Opener

	planterOnly bool // rows need no readings, the planter needs a name

	readingColumn, mechanismColumn int // index of the first of its kind, -1 without one
}

// maxMistakes ends the reading of a file that is none of ours.
const maxMistakes = 1000

// mechanism is one mechanism line; style is nil where it is not installed.
type mechanism struct {
	id    string
	style *rowdatumv1.Style
}

func (p *parser) wrong(place Place, message string) {
	p.mistakes = append(p.mistakes, Mistake{place, message})
}

// file reads the lines of the head, then the table.
func (p *parser) file(all []line) {
	for _, l := range all {
		if l.unclosed >= 0 {
			p.wrong(cellAt(l.number, l.unclosed+1, ""), "this cell opens with a quote that is not closed on the line; close it or take it out")
		}
	}
	table := slices.IndexFunc(all, func(l line) bool { return l.key() == "row" })
	head := all
	if table >= 0 {
		head = all[:table]
	}
	p.unit(head)
	if p.planterOnly && !slices.ContainsFunc(head, func(l line) bool { return l.key() == "planter" }) {
		p.wrong(cellAt(1, 1, ""), "nothing names the planter; write a line above the table like planter,Twelve-row of the Ridge farm")
	}
	p.each(head, p.headLine)
	if table < 0 {
		p.noTable(all)
		return
	}
	p.heading(all[table])
	p.each(all[table+1:], p.row)
	if table == len(all)-1 {
		p.wrong(cellAt(all[table].number, 1, "row"), "no rows follow the heading; write one line a row below it")
	}
	if len(p.mechanisms) == 0 {
		p.wrong(cellAt(all[table].number, 1, ""), "no mechanism is described above the table; write one like mechanism,handle,threaded-handle,mmPerTurn=1/4 in,smallestTurn=0.25,totalTurns=16")
	}
}

// each reads lines one by one while it is worth while.
func (p *parser) each(lines []line, read func(line)) {
	for _, l := range lines {
		if len(p.mistakes) >= maxMistakes {
			return
		}
		read(l)
	}
}

func (p *parser) noTable(all []line) {
	end := 1
	if len(all) > 0 {
		end = all[len(all)-1].number
	}
	p.wrong(cellAt(end, 1, ""), "no table of rows is in this file; write a heading like row,mechanism,setting,reading 1 (in),reading 2 (in) and one line a row below it")
}
