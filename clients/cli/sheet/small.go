package sheet

import (
	"errors"
	"fmt"
	"math/big"
	"regexp"
	"strconv"
	"strings"
	"unicode"

	rowdatumv1 "rowdatum/proto/gen/rowdatum/v1"
	"rowdatum/proto/length"
)

// small is a file of one plain table: a heading perhaps, then lines.
type small struct {
	lines    []line
	headings []string      // as written; empty without a heading
	units    []length.Unit // by column, of bare numbers where the heading says so
	reading  length.Reading
	mistakes Mistakes
}

// readSmall cuts a file into lines. first is what the first column's heading is called; bare is the unit of
// bare numbers where no heading says one.
func readSmall(file []byte, first string, bare length.Unit) *small {
	text := decode(file)
	separator := separatorOf(text)
	s := &small{lines: lines(text, separator), reading: length.Reading{Bare: bare, Comma: commaIn(separator)}}
	if len(s.lines) > 0 && s.isHeading(s.lines[0], first) {
		s.heading(s.lines[0])
		s.lines = s.lines[1:]
	}
	for _, l := range s.lines {
		if l.unclosed >= 0 {
			s.wrong(l, l.unclosed, "this cell opens with a quote that is not closed on the line; close it or take it out")
		}
	}
	return s
}

// isHeading reports whether a line names columns: it says so, or has no figure.
func (s *small) isHeading(l line, first string) bool {
	name, _ := columnUnit(l.cell(0))
	return plain(name) == first || !strings.ContainsFunc(strings.Join(l.cells, ""), unicode.IsDigit)
}

func (s *small) heading(l line) {
	s.headings = l.cells
	for _, text := range l.cells {
		_, unit := columnUnit(text)
		s.units = append(s.units, unit)
	}
}

// columnUnit splits the unit from a heading: depth (in), depth [mm], depth_in, depth mm, mm.
func columnUnit(text string) (name string, unit length.Unit) {
	if unit, ok := length.ParseUnit(text); ok {
		return "", unit
	}
	m := regexp.MustCompile(`^(.*?)(?:\s*[(\[]([^)\]]*)[)\]]|[_\s]+([A-Za-z]+\.?))$`).FindStringSubmatch(text)
	if m == nil {
		return text, length.NoUnit
	}
	unit, ok := length.ParseUnit(m[2] + m[3])
	if !ok {
		return text, length.NoUnit
	}
	return m[1], unit
}

func (s *small) place(l line, column int) Place {
	header := ""
	if column < len(s.headings) {
		header = s.headings[column]
	}
	return cellAt(l.number, column+1, header)
}

func (s *small) wrong(l line, column int, message string) {
	s.mistakes = append(s.mistakes, Mistake{s.place(l, column), message})
}

// each reads line by line while it is worth while.
func (s *small) each(read func(line)) {
	for _, l := range s.lines {
		if len(s.mistakes) >= maxMistakes {
			return
		}
		read(l)
	}
}

// err is everything that is wrong, nil where nothing is.
func (s *small) err() error {
	if len(s.mistakes) == 0 {
		return nil
	}
	s.mistakes.Sort()
	return s.mistakes
}

// none notes that a file has nothing to read; like shows what it should have.
func (s *small) none(like string) {
	if len(s.mistakes) == 0 {
		s.mistakes = Mistakes{{cellAt(1, 1, ""), "nothing to read is in this file; write lines like " + like}}
	}
}

// row reads a row's number from the first cell.
func (s *small) row(l line) (int32, bool) {
	row, err := strconv.ParseInt(l.cell(0), 10, 32)
	if err != nil || row < 1 {
		s.wrong(l, 0, quote(l.cell(0))+" is not a row number; begin each line with one")
		return 0, false
	}
	return int32(row), true
}

// mm reads a length from a cell.
func (s *small) mm(l line, column int) (*big.Rat, bool) {
	r := s.reading
	if column < len(s.units) && s.units[column] != length.NoUnit {
		r.Bare = s.units[column]
	}
	mm, err := r.Mm(l.cell(column))
	if err != nil {
		s.wrong(l, column, NotLength(l.cell(column), err, r, "or say the unit once, in the heading or with --unit"))
		return nil, false
	}
	return mm, true
}

// unclear notes a comma that may separate depths of a row or be a decimal sign, which a line cut at commas does not
// show. A quoted cell shows it, and so does a heading of as many columns.
func (s *small) unclear(l line) bool {
	quoted := strings.Contains(","+l.raw, `,"`)
	if s.reading.Comma != length.CommaRefused || quoted || len(l.cells) <= len(s.headings) {
		return false
	}
	_, _, err := length.Line{Row: true}.Cut(l.raw)
	comma, ok := errors.AsType[*length.CommaError](err)
	if ok {
		s.wrong(l, 1, "the comma in "+comma.Text+" may be a decimal sign or stand between two depths; write decimals with a point, and a blank behind each comma between depths")
	}
	return ok
}

// extra notes cells beyond the columns that a file has.
func (s *small) extra(l line, columns int) {
	for i := columns; i < len(l.cells); i++ {
		if l.cells[i] != "" {
			s.wrong(l, i, quote(l.cells[i])+fmt.Sprintf(" is one cell too many; a line has %d, and decimals are written with a point", columns))
			return
		}
	}
}

// Seeds are the depths of dug seeds, row by row.
type Seeds struct {
	Rows   []*rowdatumv1.RowSeeds // in the order in which the file first names them
	places map[string]Place
}

// Locate returns the cell that a path into a dig (rows[3].depthsMm[0]) came from, or its row's first one.
func (s *Seeds) Locate(path string) (Place, bool) { return locate(s.places, path) }

// ParseSeeds reads lines of a row number and the depths of its seeds; lines of one row add up. bare is the unit
// of bare numbers where the heading says none. The error is Mistakes.
func ParseSeeds(file []byte, bare length.Unit) (*Seeds, error) {
	s := readSmall(file, "row", bare)
	out := &Seeds{places: map[string]Place{}}
	at := map[int32]int{}
	s.each(func(l line) {
		if s.unclear(l) {
			return
		}
		number, ok := s.row(l)
		if !ok {
			return
		}
		i, known := at[number]
		if !known {
			i = len(out.Rows)
			at[number] = i
			out.Rows = append(out.Rows, &rowdatumv1.RowSeeds{Row: number})
			out.places[fmt.Sprintf("rows[%d]", i)] = s.place(l, 0)
		}
		if strings.Join(l.cells[1:], "") == "" {
			s.wrong(l, 1, "the row has no depth; write one a cell, or take the line out")
		}
		row := out.Rows[i]
		for column := 1; column < len(l.cells); column++ {
			if l.cells[column] == "" {
				continue
			}
			if mm, ok := s.mm(l, column); ok {
				out.places[fmt.Sprintf("rows[%d].depthsMm[%d]", i, len(row.DepthsMm))] = s.place(l, column)
				row.DepthsMm = append(row.DepthsMm, length.Float(mm))
			}
		}
	})
	if len(out.Rows) == 0 {
		s.none("7,2 1/8 in,2 in,1 7/8 in: a row, then its seeds")
	}
	return out, s.err()
}

// Study is repeated readings of a fixture.
type Study struct {
	Readings []*rowdatumv1.StudyReading
	places   map[string]Place
}

// Locate returns the cell that a path into a study (readings[3].valueMm) came from.
func (s *Study) Locate(path string) (Place, bool) { return locate(s.places, path) }

// ParseStudy reads lines of a row number, who read, and the fixture's number. bare is the unit of bare numbers
// where the heading says none. The error is Mistakes.
func ParseStudy(file []byte, bare length.Unit) (*Study, error) {
	s := readSmall(file, "row", bare)
	out := &Study{places: map[string]Place{}}
	s.each(func(l line) {
		row, ok := s.row(l)
		s.extra(l, 3)
		mm, read := s.mm(l, 2)
		if !ok || !read {
			return
		}
		path := fmt.Sprintf("readings[%d]", len(out.Readings))
		for i, part := range []string{".row", ".person", ".valueMm"} {
			out.places[path+part] = s.place(l, i)
		}
		out.Readings = append(out.Readings, &rowdatumv1.StudyReading{Row: row, Person: l.cell(1), ValueMm: new(length.Float(mm))})
	})
	if len(out.Readings) == 0 {
		s.none("7,Ada,2 1/8 in: a row, who read, what the fixture said")
	}
	return out, s.err()
}

// locate returns the place of a path, or of the nearest part of the request that it belongs to.
func locate(places map[string]Place, path string) (Place, bool) {
	for path != "" {
		if place, ok := places[path]; ok {
			return place, true
		}
		path = path[:max(strings.LastIndexAny(path, ".["), 0)]
	}
	return Place{}, false
}

// settings is a mechanism as a shop lists it: a name and a depth for each of its settings.
type settings struct {
	names    []string
	depthsMm []float64
	places   map[string]Place // settings[0], depthsMm[0]
}

// parseSettings reads lines of a setting's name and its depth, whose unit the heading says or each depth.
func parseSettings(file []byte) (settings, Mistakes) {
	s := readSmall(file, "setting", length.NoUnit)
	out := settings{places: map[string]Place{}}
	s.each(func(l line) {
		s.extra(l, 2)
		if l.cell(0) == "" {
			s.wrong(l, 0, "the setting has no name; write it as it is on the mechanism")
		}
		mm, ok := s.mm(l, 1)
		if !ok || l.cell(0) == "" {
			return
		}
		out.places[fmt.Sprintf("settings[%d]", len(out.names))] = s.place(l, 0)
		out.places[fmt.Sprintf("depthsMm[%d]", len(out.names))] = s.place(l, 1)
		out.names, out.depthsMm = append(out.names, l.cell(0)), append(out.depthsMm, length.Float(mm))
	})
	if len(out.names) == 0 {
		s.none("B,36.5 mm: a setting's name, then its depth, under a heading like setting,depth_mm")
	}
	s.mistakes.Sort()
	return out, s.mistakes
}

// of names the file that the mistakes and places are in.
func (s settings) of(file string, mistakes Mistakes) {
	for i := range mistakes {
		mistakes[i].File = file
	}
	for path, place := range s.places {
		place.File = file
		s.places[path] = place
	}
}
