package sheet_test

import (
	"errors"
	"fmt"
	"math"
	"strings"
	"testing"

	"google.golang.org/protobuf/types/known/structpb"

	"rowdatum/clients/cli/sheet"
	rowdatumv1 "rowdatum/proto/gen/rowdatum/v1"
	"rowdatum/proto/length"
)

func TestParseSeeds(t *testing.T) {
	const want = "7: [50.8 53.975 47] 2: [50.8 25.4]"
	tests := []struct {
		name, file string
		bare       length.Unit
	}{
		{"commas, a unit a cell", "7,2 in,2 1/8 in,47 mm\n2,50.8mm,1in\n", length.NoUnit},
		{"semicolons, decimal commas, a flag", "7;50,8;53,975;47\n2;50,8;25,4", length.Millimeter},
		{"tabs, headings with the unit", "row\tseed 1 (in)\tseed 2 (in)\tseed 3 (mm)\n7\t2\t2 1/8\t47\n2\t2\t1\n", length.NoUnit},
		{"a heading without figures, lines of one row", "Surco,uno_in,dos_in,tres mm\n\n7,2\n2,2,1,\n7,2 1/8,,47\n# dug in the rain\n", length.NoUnit},
		{"what a spreadsheet adds", "\uFEFFsep=,\r\n\"row\",\"depth (mm)\"\r\n\"7\",\"50.8\"\r\n7,53.975\r\n7,47\r\n2,50.8\r\n2,25.4\r\n", length.NoUnit},
	}
	for _, tt := range tests {
		got, err := sheet.ParseSeeds([]byte(tt.file), tt.bare)
		text := ""
		for _, row := range got.Rows {
			text += fmt.Sprintf(" %d: %v", row.GetRow(), row.GetDepthsMm())
		}
		if err != nil || text != " "+want {
			t.Errorf("%s: got%s, %v", tt.name, text, err)
		}
	}
}

func TestParseSeedsMistakes(t *testing.T) {
	file := "row,seed 1,seed 2\n1,50,2 1/0 in\nx,2 in\n2,\n3,\"2 in\n"
	const want = `line 2, column B (seed 1): "50" has no unit; write 50 in or 50 mm, or say the unit once, in the heading or with --unit
line 2, column C (seed 2): "2 1/0 in" is not a length; write 2 1/4, 2.25 in or 57 mm
line 3, column A (row): "x" is not a row number; begin each line with one
line 4, column B (seed 1): the row has no depth; write one a cell, or take the line out
line 5, column B (seed 1): this cell opens with a quote that is not closed on the line; close it or take it out`
	if _, err := sheet.ParseSeeds([]byte(file), length.NoUnit); err == nil || err.Error() != want {
		t.Errorf("got\n%v", err)
	}
	for _, empty := range []string{"", "row,depth (mm)\n", "# nothing\n\n"} {
		if _, err := sheet.ParseSeeds([]byte(empty), length.Inch); err == nil || !strings.Contains(err.Error(), "nothing to read is in this file") {
			t.Errorf("%q: got %v", empty, err)
		}
	}
	if _, err := sheet.ParseSeeds([]byte(strings.Repeat("x\n", 5000)), length.Inch); err == nil || strings.Count(err.Error(), "\n") > 1001 {
		t.Error("a file that is none of ours is read to its end")
	}
}

func TestSeedsAreLocated(t *testing.T) {
	got, err := sheet.ParseSeeds([]byte("row,a,b\n4,1 in,2 in\n9,3 in\n4,,5 in\n"), length.NoUnit)
	if err != nil {
		t.Fatal(err)
	}
	for path, want := range map[string]string{"rows[0].depthsMm[2]": "line 4, column C (b)", "rows[1].row": "line 3, column A (row)", "title": ""} {
		place, ok := got.Locate(path)
		if ok != (want != "") || ok && place.String() != want {
			t.Errorf("%s: got %v, %v", path, place, ok)
		}
	}
}

func TestParseStudy(t *testing.T) {
	got, err := sheet.ParseStudy([]byte("row;person;value\n3;Ada;2 1/16\n3;;52,4 mm\n"), length.Inch)
	if err != nil {
		t.Fatal(err)
	}
	text := ""
	for _, r := range got.Readings {
		text += fmt.Sprintf(" %d %s %v", r.GetRow(), r.GetPerson(), r.GetValueMm())
	}
	if text != " 3 Ada 52.3875 3  52.4" {
		t.Errorf("got%s", text)
	}
	if place, _ := got.Locate("readings[1].valueMm"); place.String() != "line 3, column C (value)" {
		t.Errorf("got %v", place)
	}
	_, err = sheet.ParseStudy([]byte("0,Ada,2\n1,Ada,2,3\n1,Ada\n"), length.Inch)
	const want = `line 1, column A: "0" is not a row number; begin each line with one
line 2, column D: "3" is one cell too many; a line has 3, and decimals are written with a point
line 3, column C: "" is not a length; write 2 1/4, 2.25 in or 57 mm`
	if err == nil || err.Error() != want {
		t.Errorf("got\n%v", err)
	}
}

// listed is a style whose figures are a list of settings, as this test has it.
func listed(t testing.TB) []*rowdatumv1.Style {
	t.Helper()
	figures, err := structpb.NewStruct(map[string]any{"required": []any{"settings", "depthsMm"}, "properties": map[string]any{
		"settings": map[string]any{"type": "array", "items": map[string]any{"type": "string"}}, "depthsMm": map[string]any{"type": "array"}}})
	if err != nil {
		t.Fatal(err)
	}
	setting, err := structpb.NewStruct(map[string]any{"properties": map[string]any{"at": map[string]any{"type": "string"}}})
	if err != nil {
		t.Fatal(err)
	}
	return append(styles(t), &rowdatumv1.Style{Name: "styles/listed", FiguresSchema: figures, SettingSchema: setting})
}

func listedSheet(figures string) []byte {
	return []byte("mechanism,lever,listed," + figures + "\nrow,setting,reading (mm)\n1,2 1/4 in,57\n")
}

func TestFiguresFromAFile(t *testing.T) {
	const inches, mm = "Position,Depth_in\nA,1\n2 1/4 in,2 1/4\n", "setting;depth (mm)\nA;25,4\n2 1/4 in;57,15\n"
	for name, text := range map[string]string{"in.csv": inches, "mm.csv": mm, "cells.csv": "A,1 in\n2 1/4 in,57.15 mm\n"} {
		s, err := sheet.Parse(listedSheet("figures=@"+name), listed(t), func(asked string) ([]byte, error) {
			if asked != name {
				t.Errorf("asked for %q", asked)
			}
			return []byte(text), nil
		})
		if err != nil {
			t.Errorf("%s: %v", name, err)
			continue
		}
		if got := fmt.Sprint(s.Request.GetMechanisms()[0].GetFigures().AsMap()); got != "map[depthsMm:[25.4 57.15] settings:[A 2 1/4 in]]" {
			t.Errorf("%s: got %s", name, got)
		}
		if got := s.Request.GetRows()[0].GetSetting().AsMap()["at"]; got != "2 1/4 in" {
			t.Errorf("%s: got the setting %v", name, got)
		}
		if place, ok := s.Locate("mechanisms[0].figures.depthsMm[1]"); !ok || place.File != name || place.Column != 2 {
			t.Errorf("%s: got %v, %v", name, place, ok)
		}
	}
	s, err := sheet.Parse(listedSheet("settings=A+2 1/4 in,depthsMm=1 in+57.15"), listed(t), nobody)
	if err != nil || fmt.Sprint(s.Request.GetMechanisms()[0].GetFigures().AsMap()) != "map[depthsMm:[25.4 57.15] settings:[A 2 1/4 in]]" {
		t.Errorf("got %v, %v", s.Request.GetMechanisms(), err)
	}
}

func TestFiguresFromAFileMistakes(t *testing.T) {
	tests := []struct{ file, want string }{
		{string(listedSheet("figures=@none.csv")), `line 1, column D (figures): there is no file none.csv`},
		{string(listedSheet("figures=@lever.csv")), `lever.csv, line 2, column B (depth): "30" has no unit; write 30 in or 30 mm, or say the unit once, in the heading or with --unit
lever.csv, line 3, column A (setting): the setting has no name; write it as it is on the mechanism
lever.csv, line 4, column C: "2" is one cell too many; a line has 2, and decimals are written with a point`},
		{"mechanism,stop,notched-stop,notches=3,figures=@lever.csv\nrow,reading (mm)\n1,57\n",
			`line 1, column E (figures): only a style that asks for settings and depthsMm takes its figures from a file, as table does`},
		{string(listedSheet("figures=lever.csv")), `line 1, column D (figures): a file is meant; write its name behind an @, like figures=@lever.csv
line 1, column D (figures): settings, depthsMm is missing; write it as settings=… in a cell of its own`},
	}
	for _, tt := range tests {
		_, err := sheet.Parse([]byte(tt.file), listed(t), func(name string) ([]byte, error) {
			if name == "lever.csv" {
				return []byte("setting,depth\nA,30\n,36 mm\nC,40 mm,2\n"), nil
			}
			return nobody(name)
		})
		if err == nil || err.Error() != tt.want {
			t.Errorf("got\n%v\nwant\n%s", err, tt.want)
		}
	}
}

// FuzzSmall: whatever a small file holds, what is read of it is finite, and what is wrong is placed on a line.
func FuzzSmall(f *testing.F) {
	for _, seed := range []string{"7,2 in,2 1/8 in,47 mm\n", "row;person;value (in)\n3;Ada;2 1/16\n", "setting\tdepth_mm\nA\t25.4\n", "\xff\xfe1\x00,\x002\x00", "1,\"\n", "row,(in\n1,9e9"} {
		f.Add([]byte(seed), true)
	}
	known := listed(f)
	f.Fuzz(func(t *testing.T, file []byte, inch bool) {
		bare := length.NoUnit
		if inch {
			bare = length.Inch
		}
		seeds, err := sheet.ParseSeeds(file, bare)
		placed(t, err)
		for _, row := range seeds.Rows {
			finite(t, row.GetDepthsMm()...)
			if row.GetRow() < 1 || err == nil && len(row.GetDepthsMm()) == 0 {
				t.Fatalf("read %v", row)
			}
		}
		study, err := sheet.ParseStudy(file, bare)
		placed(t, err)
		for _, r := range study.Readings {
			finite(t, r.GetValueMm())
		}
		s, err := sheet.Parse(listedSheet("figures=@f"), known, func(string) ([]byte, error) { return file, nil })
		placed(t, err)
		if err == nil && len(s.Request.GetMechanisms()[0].GetFigures().AsMap()["settings"].([]any)) != len(s.Request.GetMechanisms()[0].GetFigures().AsMap()["depthsMm"].([]any)) {
			t.Fatalf("settings and depths do not pair in %v", s.Request)
		}
	})
}

func placed(t *testing.T, err error) {
	t.Helper()
	var mistakes sheet.Mistakes
	if err != nil && !errors.As(err, &mistakes) {
		t.Fatalf("got %v", err)
	}
	for _, m := range mistakes {
		if m.Line < 1 || m.Column < 1 || m.Message == "" {
			t.Fatalf("got %v", m)
		}
	}
}

func finite(t *testing.T, all ...float64) {
	t.Helper()
	for _, x := range all {
		if math.IsNaN(x) || math.IsInf(x, 0) {
			t.Fatalf("read %v", x)
		}
	}
}
