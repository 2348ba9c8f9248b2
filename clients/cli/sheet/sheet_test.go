package sheet_test

import (
	"bytes"
	"encoding/binary"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"
	"unicode/utf16"

	"google.golang.org/protobuf/encoding/protojson"
	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/types/known/structpb"

	"rowdatum/clients/cli/sheet"
	rowdatumv1 "rowdatum/proto/gen/rowdatum/v1"
	"rowdatum/proto/length"
)

// styles are three styles as a service tells them, with schemas of this test's own.
func styles(t testing.TB) []*rowdatumv1.Style {
	t.Helper()
	object := func(text string) *structpb.Struct {
		s := &structpb.Struct{}
		if err := protojson.Unmarshal([]byte(text), s); err != nil {
			t.Fatal(err)
		}
		return s
	}
	style := func(id, one, other, figures, setting string) *rowdatumv1.Style {
		return &rowdatumv1.Style{Name: "styles/" + id, CountUnit: &rowdatumv1.CountUnit{One: one, Other: other},
			FiguresSchema: object(figures), SettingSchema: object(setting)}
	}
	return []*rowdatumv1.Style{
		style("threaded-handle", "turn", "turns",
			`{"required": ["mmPerTurn", "smallestTurn", "totalTurns"], "properties": {"mmPerTurn": {"type": "number"}, "smallestTurn": {"type": "number"}, "totalTurns": {"type": "number"}}}`,
			`{"properties": {"turns": {"type": "number"}}}`),
		style("notched-stop", "notch", "notches",
			`{"required": ["notches"], "properties": {"notches": {"type": "integer"}, "mmPerNotch": {"type": "number"}, "depthsMm": {"type": "array"}}}`,
			`{"properties": {"notch": {"type": "integer"}}}`),
		style("shimmed-arm", "shim", "shims",
			`{"properties": {"leverRatio": {"type": "number"}, "kitMm": {"type": "array"}, "stackMaxMm": {"type": "number"}, "shimMakes": {"type": "string", "enum": ["DEEPER", "SHALLOWER"]}}}`,
			`{"properties": {"shimsMm": {"type": "array"}}}`),
		style("slotted-link", "step", "steps", `{"properties": {}}`,
			`{"properties": {"slot": {"type": "integer"}, "angle": {"type": "number"}, "locked": {"type": "boolean"}}}`),
		{Name: "styles/absent", StateReason: "it stopped three times"},
	}
}

// nobody has no other file.
func nobody(name string) ([]byte, error) { return nil, fmt.Errorf("there is no file %s", name) }

const whole = `# All of this is invented.
planter,Six-row by the creek
unit,in
fixture ruling,1/16
fixture repeats to,0.5 mm
floor uneven by,0
aim,match-row=2
tolerance,1/8 in
confidence,90 %
unproven row,15 min
reach shallower,20 mm
reach deeper,1 1/4
reference rows,2,3
mechanism,handle,threaded-handle,mmPerTurn=1/4 in,smallestTurn=1/4,totalTurns=16
mechanism,stop,notched-stop,mmPerNotch=4,notches=20
mechanism,shims,shimmed-arm,leverRatio=1.8,kitMm=0.5+1+2 mm,stackMaxMm=12,shimMakes=shallower
mechanism,link,slotted-link

row,mechanism,setting,reading 1,reading 2 (mm),scale,scale sd,note
1,handle,8 1/4 turns,2,50.8,0.95,0.02,"a note, with a comma"
2,Stop,notch 9,1-3/4"
4,shims,2+1,,57.2
5,shims,none,2.25 in
3,link,slot=3 angle=7.5 locked=yes,2
6,handle,,2
`

const wholeJSON = `{"lengthUnit": "IN", 
 "fixture": {"resolutionMm": 1.5875, "repeatabilityMm": 0.5, "floorMm": 0},
 "aim": {"kind": "MATCH_ROW", "row": 2, "toleranceMm": 3.175, "confidence": 0.9, "missSeconds": 900},
 "reach": {"shallowerMm": 20, "deeperMm": 31.75}, "referenceRows": [2, 3],
 "mechanisms": [
  {"id": "handle", "style": "threaded-handle", "figures": {"mmPerTurn": 6.35, "smallestTurn": 0.25, "totalTurns": 16}},
  {"id": "stop", "style": "notched-stop", "figures": {"mmPerNotch": 4, "notches": 20}},
  {"id": "shims", "style": "shimmed-arm", "figures": {"leverRatio": 1.8, "kitMm": [0.5, 1, 2], "stackMaxMm": 12, "shimMakes": "SHALLOWER"}},
  {"id": "link", "style": "slotted-link", "figures": {}}],
 "rows": [
  {"row": 1, "mechanism": "handle", "setting": {"turns": 8.25}, "readingsMm": [50.8, 50.8], "scale": 0.95, "scaleSd": 0.02},
  {"row": 2, "mechanism": "stop", "setting": {"notch": 9}, "readingsMm": [44.45]},
  {"row": 4, "mechanism": "shims", "setting": {"shimsMm": [2, 1]}, "readingsMm": [57.2]},
  {"row": 5, "mechanism": "shims", "setting": {"shimsMm": []}, "readingsMm": [57.15]},
  {"row": 3, "mechanism": "link", "setting": {"slot": 3, "angle": 7.5, "locked": true}, "readingsMm": [50.8]},
  {"row": 6, "mechanism": "handle", "readingsMm": [50.8]}]}`

func wantWhole(t testing.TB) *rowdatumv1.ComputePlanRequest {
	t.Helper()
	want := &rowdatumv1.ComputePlanRequest{}
	if err := protojson.Unmarshal([]byte(wholeJSON), want); err != nil {
		t.Fatal(err)
	}
	return want
}

func TestParseReadsEverything(t *testing.T) {
	got, err := sheet.Parse([]byte(whole), styles(t), nobody)
	if err != nil {
		t.Fatal(err)
	}
	if want := wantWhole(t); !proto.Equal(got.Request, want) {
		t.Errorf("got\n%s\nwant\n%s", protojson.Format(got.Request), protojson.Format(want))
	}
	if got.Planter != "Six-row by the creek" || got.Unit != length.Inch {
		t.Errorf("got planter %q, unit %v", got.Planter, got.Unit)
	}
}

// TestParseBearsWhatSpreadsheetsDo reads one sheet in the shapes that spreadsheets save it in.
func TestParseBearsWhatSpreadsheetsDo(t *testing.T) {
	separated := func(separator string) string {
		return strings.ReplaceAll(strings.ReplaceAll(whole, `"a note, with a comma"`, "a note"), ",", separator)
	}
	utf16LE := []byte{0xFF, 0xFE}
	for _, unit := range utf16.Encode([]rune(separated("\t"))) {
		utf16LE = binary.LittleEndian.AppendUint16(utf16LE, unit)
	}
	tests := map[string][]byte{
		"byte order mark":    []byte("\uFEFF" + whole),
		"CRLF":               []byte(strings.ReplaceAll(whole, "\n", "\r\n")),
		"CR":                 []byte(strings.ReplaceAll(whole, "\n", "\r")),
		"semicolons":         []byte(separated(";")),
		"sep line":           []byte("sep=;\n" + separated(";")),
		"decimal commas":     []byte(strings.ReplaceAll(separated(";"), ".", ",")),
		"tabs":               []byte(separated("\t")),
		"UTF-16":             utf16LE,
		"Latin-1":            []byte(strings.ReplaceAll(whole, "a note", "a not\xe9")),
		"trailing columns":   []byte(strings.ReplaceAll(separated(";"), "\n", ";;;\n")),
		"blank lines":        []byte(strings.ReplaceAll(whole, "\n", "\n\n,,,\n")),
		"all cells quoted":   []byte(quoteCells(separated("\t"), "\t", ",")),
		"blanks round cells": []byte(strings.ReplaceAll(separated(";"), ";", " ; ")),
		"capitals":           []byte(strings.ReplaceAll(strings.ReplaceAll(whole, "mmPerTurn", "MmPerTurn"), "row,mechanism", "Row,Mechanism")),
		"no line at the end": []byte(strings.TrimSuffix(whole, "\n")),
	}
	for name, file := range tests {
		got, err := sheet.Parse(file, styles(t), nobody)
		if err != nil {
			t.Errorf("%s: %v", name, err)
			continue
		}
		if !proto.Equal(got.Request, wantWhole(t)) {
			t.Errorf("%s: got\n%s", name, protojson.Format(got.Request))
		}
	}
}

// quoteCells puts every cell of text into quotes, doubling those inside.
func quoteCells(text, from, to string) string {
	var out []string
	for l := range strings.SplitSeq(text, "\n") {
		cells := strings.Split(l, from)
		for i, cell := range cells {
			cells[i] = `"` + strings.ReplaceAll(cell, `"`, `""`) + `"`
		}
		out = append(out, strings.Join(cells, to))
	}
	return strings.Join(out, "\n")
}

func TestParseNamesEveryMistake(t *testing.T) {
	file := `plantr,By the creek
unit,in
unit,mm
tolerance,1/8 ft
confidence,very
aim,match-row=two
fixture ruling,4-Jan
reach deeper,
reach shallower,3,2 mm
mechanism,handle,threaded-handel,mmPerTurn=6.35
mechanism,stop,notched-stop,mmPerNoch=4,notches=9.5,20
mechanism,handle,shimmed-arm,kitMm=2 in 1
mechanism,gone,absent
row,mechanism,seting,reading 1,reading 1,depth (ft)
1,handle,8,2,
one,stop,9,2 1/0,
2,stpo,9,2,,,left over
2,stop,9,,
3,stop,9,"2 1/4
`
	want := []string{
		`line 1, column A: "plantr" is not a line known here (did you mean planter?); above the table stand: planter, unit, fixture ruling, fixture repeats to, floor uneven by, aim, tolerance, confidence, confidence of, unproven row, one reading, zero uncertain by, reach shallower, reach deeper, mechanism, reference rows, owner, row spacing, section`,
		`line 3, column A: unit is on line 2 already; keep one of the two`,
		`line 4, column B (tolerance): "1/8 ft" is in a unit not known here; write 2 1/4 in or 57 mm`,
		`line 5, column B (confidence): "very" is not understood; write 0.9 or 90 %`,
		`line 6, column B (aim): "two" is not a row number; write match-row=4`,
		`line 7, column B (fixture ruling): "4-Jan" is a date that the spreadsheet made of a fraction; set the column to text and write 1/4 in or 0.25 in`,
		`line 8, column B (reach deeper): is empty; fill it in or take the line out`,
		`line 9, column C (reach shallower): "2 mm" is one cell too many; quote a text that has a separator in it, and write decimals with a point`,
		`line 10, column C (style): "threaded-handel" is not a style that the service has (did you mean threaded-handle?); it has absent, notched-stop, shimmed-arm, slotted-link, threaded-handle`,
		`line 11, column D (mmPerNoch): "mmPerNoch" is not known to this style (did you mean mmPerNotch?); it knows depthsMm, mmPerNotch, notches`,
		`line 11, column D (figures): notches is missing; write it as notches=… in a cell of its own`,
		`line 11, column E (notches): "9.5" is not a whole number, which notches must be`,
		`line 11, column F (figures): "20" is not a figure; write its name and value, like mmPerTurn=1/4 in`,
		`line 12, column B (id): "handle" is the name of a mechanism above; give each its own`,
		`line 12, column D (kitMm): "2 in 1" is not a list for kitMm; write each item and + between them, like 2+1 or 0.5 mm + 1/16 in`,
		`line 13, column C (style): the adjuster of absent is not answering now: it stopped three times; try again, and if it stays so tell who looks after the service`,
		`line 14, column C (seting): "seting" is not a column known here (did you mean setting?); a table has: row, mechanism, setting, reading, scale, scale sd, note`,
		`line 14, column E (reading 1): two columns are called reading 1; number them, like reading 1 and reading 2`,
		`line 14, column F (depth (ft)): "ft" is not a unit; write (in) or (mm)`,
		`line 14, column F (depth (ft)): "depth (ft)" is not a column known here; a table has: row, mechanism, setting, reading, scale, scale sd, note`,
		`line 16, column A (row): "one" is not a row number; write 1 for the left row seen from behind, 2 for the next, and so on`,
		`line 16, column D (reading 1): "2 1/0" is not a length; write 2 1/4, 2.25 in or 57 mm`,
		`line 17, column B (mechanism): "stpo" is not a mechanism of this file (did you mean stop?); above the table stand handle, stop, handle, gone`,
		`line 17, column G: "left over" stands in a column without a heading; give it one or take it out`,
		`line 18, column A (row): row 2 is on line 17 already; give each row its own number`,
		`line 18, column D (reading 1): the row has no reading; write one or take the line out`,
		`line 19, column D: this cell opens with a quote that is not closed on the line; close it or take it out`,
	}
	_, err := sheet.Parse([]byte(file), styles(t), nobody)
	if err == nil {
		t.Fatal("no mistake was found")
	}
	got := strings.Split(err.Error(), "\n")
	for i := range max(len(got), len(want)) {
		g, w := at(got, i), at(want, i)
		if g != w {
			t.Errorf("mistake %d:\n got %s\nwant %s", i+1, g, w)
		}
	}
}

func at(lines []string, i int) string {
	if i < len(lines) {
		return lines[i]
	}
	return "nothing"
}

func TestParseNamesOneMistake(t *testing.T) {
	const head = "mechanism,handle,threaded-handle,mmPerTurn=6.35,smallestTurn=0.25,totalTurns=16\n"
	tests := []struct{ name, file, want string }{
		{"no unit", head + "row,setting,reading\n1,8,57\n", `line 3, column C (reading): "57" has no unit; write 57 in or 57 mm, or give the column one: reading (in) or reading (mm)`},
		{"no unit above", "tolerance,3\n" + head + "row,reading (in)\n1,2\n", `line 1, column B (tolerance): "3" has no unit; write 3 in or 3 mm, or give the whole file one with a line unit,in or unit,mm`},
		{"decimal comma", head + "row,reading (mm)\n1,\"57,2\"\n", `line 3, column B (reading): "57,2" is not a length; write decimals with a point in a file whose separator is a comma, like 57.2 mm`},
		{"empty file", "", `line 1, column A: no table of rows is in this file; write a heading like row,mechanism,setting,reading 1 (in),reading 2 (in) and one line a row below it`},
		{"no rows", head + "row,reading (in)\n", `line 2, column A (row): no rows follow the heading; write one line a row below it`},
		{"no mechanism", "row,reading (in)\n1,2\n", `line 1, column A: no mechanism is described above the table; write one like mechanism,handle,threaded-handle,mmPerTurn=1/4 in,smallestTurn=0.25,totalTurns=16`},
		{"no readings column", head + "row,setting\n1,8\n", `line 2, column C: the table has no column of readings; add one like reading 1 (in) or reading 1 (mm)`},
		{"ambiguous setting", "mechanism,link,slotted-link\nrow,setting,reading (in)\n1,8,2\n", `line 3, column B (setting): "8" does not say which of angle, locked, slot it is; write each with its name, like name=8`},
		{"setting of letters", head + "row,setting,reading (in)\n1,left,2\n", `line 3, column B (setting): "left" is not a number for turns; write one like 8, 0.25 or 1/4`},
		{"aim with a value", "aim,closest=2\n" + head + "row,reading (in)\n1,2\n", `line 1, column B (aim): closest takes no value; write it alone`},
	}
	for _, tt := range tests {
		_, err := sheet.Parse([]byte(tt.file), styles(t), nobody)
		if got := fmt.Sprint(err); got != tt.want {
			t.Errorf("%s:\n got %s\nwant %s", tt.name, got, tt.want)
		}
	}
}

// TestParseEndsSoon reads large files that are made to keep a reader busy. Where a machine is too slow for seconds to tell, a
// quarter of the file does: time that grows with the square of the size is sixteen times that.
func TestParseEndsSoon(t *testing.T) {
	const size, most = 1 << 18, 5 * time.Second
	fill := func(size int, head, text string) []byte {
		return []byte(head + strings.Repeat(text, (size-len(head))/len(text)))
	}
	const mechanism = "mechanism,m,threaded-handle,mmPerTurn=1,smallestTurn=1,totalTurns=1\n"
	tests := map[string]func(size int) []byte{
		"lines": func(size int) []byte { return fill(size, "", "x\n") },
		"cells": func(size int) []byte { return fill(size, "", ",") },
		"columns": func(size int) []byte {
			return append(fill(size, mechanism+"row,", "a,")[:size/2], bytes.Repeat([]byte("\n1"), size/4)...)
		},
		"quotes": func(size int) []byte { return fill(size, "", `"`) },
		"points": func(size int) []byte { return fill(size, mechanism+"row,reading\n1,", "in.") },
		"mechanisms": func(size int) []byte {
			return append(fill(size, "", "mechanism,m,s\n")[:size/2], bytes.Repeat([]byte("row,mechanism\n"), size/28)...)
		},
		"rows":   func(size int) []byte { return fill(size, mechanism+"row,reading (in)\n", "1,2\n") },
		"digits": func(size int) []byte { return fill(size, mechanism+"row,reading (in)\n1,", "1") },
	}
	for name, made := range tests {
		read := func(size int) time.Duration {
			file, began := made(size), time.Now()
			if _, err := sheet.Parse(file, styles(t), nobody); err == nil {
				t.Errorf("%s: no mistake", name)
			}
			return time.Since(began)
		}
		if took := read(size); took > most && took > 10*read(size/4) {
			t.Errorf("%s: %v", name, took)
		}
	}
}

func TestLocate(t *testing.T) {
	s, err := sheet.Parse([]byte(whole), styles(t), nobody)
	if err != nil {
		t.Fatal(err)
	}
	tests := map[string]string{
		"rows[0].readingsMm[1]":           "line 20, column E (reading 2)",
		"rows[2].readingsMm[0]":           "line 22, column E (reading 2)",
		"rows[1].setting.notch":           "line 21, column C (setting)",
		"rows[2].setting.shimsMm[1]":      "line 22, column C (setting)",
		"rows[5].setting":                 "line 25, column A (row)",
		"rows[3].row":                     "line 23, column A (row)",
		"rows":                            "line 19, column A (row)",
		"mechanisms[0].figures.mmPerTurn": "line 14, column D (mmPerTurn)",
		"mechanisms[1].figures.depthsMm":  "line 15, column D (figures)",
		"mechanisms[3].style":             "line 17, column C (style)",
		"aim.toleranceMm":                 "line 8, column B (tolerance)",
		"aim.row":                         "line 7, column B (aim)",
		"referenceRows[1]":                "line 13, column C (reference rows)",
	}
	for path, want := range tests {
		if got, ok := s.Locate(path); !ok || got.String() != want {
			t.Errorf("%s: got %v, %v, want %s", path, got, ok, want)
		}
	}
	for _, path := range []string{"", "aim.missSecond", "pageSize"} {
		if got, ok := s.Locate(path); ok {
			t.Errorf("%q: got %v, want none", path, got)
		}
	}
}

// TestParseReadsBack writes random requests in random dialects and reads them back.
func TestParseReadsBack(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 9))
	for range 200 {
		file, want := randomSheet(rng)
		got, err := sheet.Parse([]byte(file), styles(t), nobody)
		if err != nil {
			t.Fatalf("%v in\n%s", err, file)
		}
		if !proto.Equal(got.Request, want) {
			t.Fatalf("got\n%s\nwant\n%s\nof\n%s", protojson.Format(got.Request), protojson.Format(want), file)
		}
	}
}

// randomSheet returns a file and the request that it stands for.
func randomSheet(rng *rand.Rand) (string, *rowdatumv1.ComputePlanRequest) {
	separator := []string{",", ";", "\t"}[rng.IntN(3)]
	number := func(x float64) string {
		text := fmt.Sprint(x)
		if separator != "," && rng.IntN(2) == 0 {
			text = strings.Replace(text, ".", ",", 1)
		}
		return text
	}
	want := &rowdatumv1.ComputePlanRequest{Mechanisms: []*rowdatumv1.Mechanism{{Id: "handle", Style: "threaded-handle",
		Figures: figures(map[string]float64{"mmPerTurn": 6.35, "smallestTurn": 0.25, "totalTurns": 16})}}}
	all := [][]string{
		{"mechanism", "handle", "threaded-handle", "mmPerTurn=" + number(6.35), "smallestTurn=1/4", "totalTurns=16"},
		{"row", "setting", "reading 1", "reading 2", "reading 3"},
	}
	for _, i := range rng.Perm(1 + rng.IntN(36)) {
		row := &rowdatumv1.RowReadings{Row: int32(i + 1), Mechanism: "handle"}
		cells := []string{fmt.Sprint(row.Row), ""}
		if rng.IntN(4) > 0 {
			turns := float64(rng.IntN(65)) / 4
			row.Setting = figures(map[string]float64{"turns": turns})
			cells[1] = number(turns)
		}
		for range 1 + rng.IntN(3) {
			text, mm, unit := randomLength(rng, number)
			if want.LengthUnit == rowdatumv1.LengthUnit_LENGTH_UNIT_UNSPECIFIED {
				want.LengthUnit = unit // the first unit that the file names
			}
			row.ReadingsMm = append(row.ReadingsMm, mm)
			cells = append(cells, text)
		}
		want.Rows = append(want.Rows, row)
		all = append(all, cells)
	}
	end := []string{"\n", "\r\n"}[rng.IntN(2)]
	var out []string
	for _, cells := range all {
		out = append(out, strings.Join(cells, separator)+strings.Repeat(separator, rng.IntN(3)))
	}
	return strings.Join(out, end), want
}

// randomLength returns a length as written, in mm (whole 1/32 in or 1/10 mm), and the unit it is written in.
func randomLength(rng *rand.Rand, number func(float64) string) (string, float64, rowdatumv1.LengthUnit) {
	if rng.IntN(2) == 0 {
		tenths := rng.IntN(900)
		return number(float64(tenths)/10) + " mm", float64(tenths) / 10, rowdatumv1.LengthUnit_MM
	}
	whole, above := rng.IntN(4), rng.IntN(32)
	mm := float64((whole*32+above)*79375) / 100000 // n/32 in = n · 0.79375 mm, as NIST SP 811 has 1 in = 25.4 mm
	return fmt.Sprintf([]string{"%d %d/32 in", "%d-%d/32\"", "%d %d/32 inch"}[rng.IntN(3)], whole, above), mm, rowdatumv1.LengthUnit_IN
}

func figures(values map[string]float64) *structpb.Struct {
	s := &structpb.Struct{Fields: map[string]*structpb.Value{}}
	for name, x := range values {
		s.Fields[name] = structpb.NewNumberValue(x)
	}
	return s
}

func FuzzParse(f *testing.F) {
	f.Add([]byte(whole))
	f.Add([]byte(strings.ReplaceAll(whole, ",", ";")))
	f.Add([]byte("\xff\xfer\x00o\x00w\x00"))
	f.Add([]byte("row\t\"\nunit;;\nmechanism,=,=,=\n"))
	known := styles(f)
	f.Fuzz(func(t *testing.T, file []byte) {
		s, err := sheet.Parse(file, known, nobody)
		if err != nil {
			if mistakes, ok := err.(sheet.Mistakes); !ok || len(mistakes) == 0 || !slices.IsSortedFunc(mistakes, byLine) {
				t.Fatalf("odd error %#v", err)
			}
			return
		}
		if _, err := protojson.Marshal(s.Request); err != nil {
			t.Fatalf("the request cannot be sent: %v", err)
		}
		for i, row := range s.Request.Rows {
			if len(row.ReadingsMm) == 0 || row.Row < 1 || row.Mechanism == "" {
				t.Fatalf("row %d is incomplete: %v", i, row)
			}
			for j, mm := range row.ReadingsMm {
				_, ok := s.Locate(fmt.Sprintf("rows[%d].readingsMm[%d]", i, j))
				if math.IsNaN(mm) || math.IsInf(mm, 0) || !ok {
					t.Fatalf("reading %v of row %d, place known: %v", mm, i, ok)
				}
			}
		}
	})
}

func byLine(a, b sheet.Mistake) int { return a.Line - b.Line }

// TestScenarioIsTheSameInJSON reads every planter of the invented scenario and compares it with the
// request that was written for it by itself.
func TestScenarioIsTheSameInJSON(t *testing.T) {
	files, err := filepath.Glob("../../../testdata/planters/*.csv")
	if err != nil || len(files) < 5 {
		t.Fatalf("got %d planters, %v", len(files), err)
	}
	for _, file := range files {
		name := strings.TrimSuffix(filepath.Base(file), ".csv")
		text, err := os.ReadFile(file)
		if err != nil {
			t.Fatal(err)
		}
		got, err := sheet.Parse(text, styles(t), nobody)
		if err != nil {
			t.Errorf("%s: %v", name, err)
			continue
		}
		requestText, err := os.ReadFile("../../../testdata/requests/" + name + ".json")
		if err != nil {
			t.Fatal(err)
		}
		want := &rowdatumv1.ComputePlanRequest{}
		if err := protojson.Unmarshal(requestText, want); err != nil {
			t.Fatal(err)
		}
		if !proto.Equal(got.Request, want) {
			t.Errorf("%s: the sheet gives\n%s\nthe request is\n%s", name, protojson.Format(got.Request), protojson.Format(want))
		}
	}
}

func TestParsePlanter(t *testing.T) {
	const file = `planter,Folding six
owner,Invented acres
unit,in
row spacing,30
reach deeper,1/2
section,left wing,1,3
section,right wing,4,6
mechanism,handle,threaded-handle,mmPerTurn=6,smallestTurn=0.5,totalTurns=12
reference rows,1
row,setting,reading 1,note
1,8,,
2,,2 1/4,read last year
`
	s, err := sheet.ParsePlanter([]byte(file), styles(t), nobody)
	if err != nil {
		t.Fatal(err)
	}
	want := &rowdatumv1.Planter{}
	if err := protojson.Unmarshal([]byte(`{"displayName": "Folding six", "owner": "Invented acres", "rowSpacingMm": 762, "reach": {"deeperMm": 12.7},
		"lengthUnit": "IN", "sections": [{"title": "left wing", "firstRow": 1, "lastRow": 3}, {"title": "right wing", "firstRow": 4, "lastRow": 6}], "referenceRows": [1],
		"mechanisms": [{"id": "handle", "style": "threaded-handle", "figures": {"mmPerTurn": 6, "smallestTurn": 0.5, "totalTurns": 12}}],
		"rows": [{"row": 1, "mechanism": "handle", "setting": {"turns": 8}}, {"row": 2, "mechanism": "handle"}]}`), want); err != nil {
		t.Fatal(err)
	}
	if got := s.AsPlanter(); !proto.Equal(got, want) {
		t.Errorf("got %v\nwant %v", got, want)
	}
	if got := fmt.Sprint(s.LeftOut()); got != "[readings]" {
		t.Errorf("left out are %s", got)
	}
	for path, want := range map[string]string{"sections[1].lastRow": "line 7, column D (section)", "rowSpacingMm": "line 4, column B (row spacing)", "displayName": "line 1, column B (planter)"} {
		if place, _ := s.Locate(path); place.String() != want {
			t.Errorf("%s is at %s, want %s", path, place, want)
		}
	}
	if _, err := sheet.Parse([]byte(file), styles(t), nobody); err == nil || !strings.Contains(err.Error(), "line 11, column C (reading 1): the row has no reading") {
		t.Errorf("a plan of it: %v", err)
	}
}
