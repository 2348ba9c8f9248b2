package dig_test

import (
	"math"
	"slices"
	"strings"
	"testing"

	"rowdatum/proto/length"
	"rowdatum/server/leveling"
	"rowdatum/server/leveling/dig"
)

func TestParse(t *testing.T) {
	two := []leveling.RowSeeds{{Row: 1, DepthsMm: []float64{50.8, 47.625}}, {Row: 3, DepthsMm: []float64{38.1}}}
	same := func(a, b leveling.RowSeeds) bool { return a.Row == b.Row && slices.Equal(a.DepthsMm, b.DepthsMm) }
	for name, c := range map[string]struct {
		text string
		unit length.Unit
		want []leveling.RowSeeds
	}{
		"commas":                  {"row,depth\n1,50.8,47.625\n3,38.1\n", length.Millimeter, two},
		"a line a seed":           {"1,50.8\r\n3,38.1\r\n\r\n1,47.625", length.Millimeter, two},
		"decimal commas":          {"fila;mm\n1;50,8;47,625\n3;38,1", length.Millimeter, two},
		"tabs and decimal commas": {"1\t50,8\t47,625\n3\t38,1", length.Millimeter, two},
		"spaces":                  {"1 50.8 47.625\n3 38.1mm", length.Millimeter, two},
		"fractions":               {"\ufeffRow depths\n1 2 1 7/8\n3 1 1/2", length.Inch, two},
		"inches, signs":           {"1, 2\", 1 7/8\"\n3, 1.5\"", length.Inch, two},
		"typed on a phone":        {"1 2 1⅞\n3 1-1/2", length.Inch, two},
		"a heading of columns":    {"row,mm,mm\n1,50,47\n", length.Millimeter, []leveling.RowSeeds{{Row: 1, DepthsMm: []float64{50, 47}}}},
		"another unit":            {"1 2 in 47.625\n3 1½ in", length.Millimeter, two},
		"small fractions":         {"1, 1/2, 3/64", length.Inch, []leveling.RowSeeds{{Row: 1, DepthsMm: []float64{12.7, 1.190625}}}},
	} {
		got, wrong := dig.Parse("pasted.text", c.text, c.unit)
		if len(wrong) > 0 || !slices.EqualFunc(got, c.want, same) {
			t.Errorf("%s: %v %v", name, got, wrong)
		}
	}
	for text, part := range map[string]string{
		"1,50\nx,3":                    "line 2: \"x\" is not a row number",
		"1,50\n2":                      "line 2: has a row and no depth",
		"1,50\nx,3\n2,4":               "line 2: ",
		"1,5O":                         "\"5O\" is not a depth",
		"1,NaN 2":                      "\"NaN\" is not a depth",
		"1,1e999":                      "is not a depth",
		"1 50,5 52,1":                  "line 1: the comma in \"50,5\" may be a decimal sign or stand between two depths",
		"1 50\n2,50,5":                 "line 2: the comma in \"50,5\"",
		"1;50.8,47":                    "the comma in \"50.8,47\"",
		"1 17/8":                       "\"17/8\" can be read in two ways",
		"1 1e2":                        "\"1e2\" is not a depth",
		"heading\nheading 2":           "\"heading\" is not a row number",
		"":                             "has no seeds",
		"row,depth":                    "has no seeds",
		strings.Repeat("1,5\n", 20000): "must be at most",
	} {
		_, wrong := dig.Parse("pasted.text", text, length.Millimeter)
		if len(wrong) != 1 || !strings.Contains(wrong[0].Say(leveling.Voice{}), part) || wrong[0].Field != "pasted.text" {
			t.Errorf("%.20q: %v, want %q", text, wrong, part)
		}
	}
}

func FuzzParse(f *testing.F) {
	for _, s := range []string{"1,50.8,47.6", "1 1 7/8 2", "1;50,8", "row\tmm\n1\t5", "1,0x1p-2", "1,-0", ",,", "1/2 3"} {
		f.Add(s, true)
		f.Add(s, false)
	}
	f.Fuzz(func(t *testing.T, text string, inches bool) {
		unit := length.Millimeter
		if inches {
			unit = length.Inch
		}
		rows, wrong := dig.Parse("t", text, unit)
		if len(rows) == 0 && len(wrong) == 0 {
			t.Error("nothing read and nothing said")
		}
		seen := map[int]bool{}
		for _, r := range rows {
			if seen[r.Row] || len(r.DepthsMm) == 0 {
				t.Errorf("row %d: twice, or without seeds", r.Row)
			}
			seen[r.Row] = true
			for _, mm := range r.DepthsMm {
				if math.IsNaN(mm) || math.IsInf(mm, 0) || math.Signbit(mm) && mm == 0 {
					t.Errorf("depth %v", mm)
				}
			}
		}
	})
}
