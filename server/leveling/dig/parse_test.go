package dig_test

import (
	"math"
	"slices"
	"strings"
	"testing"

	"rowdatum/server/leveling"
	"rowdatum/server/leveling/dig"
)

func TestParse(t *testing.T) {
	two := []leveling.RowSeeds{{Row: 1, DepthsMm: []float64{50.8, 47.625}}, {Row: 3, DepthsMm: []float64{38.1}}}
	same := func(got, want []leveling.RowSeeds) bool { // but for the last bits of fractions of inches
		return slices.EqualFunc(got, want, func(a, b leveling.RowSeeds) bool {
			return a.Row == b.Row && slices.EqualFunc(a.DepthsMm, b.DepthsMm, func(x, y float64) bool { return math.Abs(x-y) < 1e-12 })
		})
	}
	for name, c := range map[string]struct {
		text string
		unit dig.Unit
		want []leveling.RowSeeds
	}{
		"commas":                  {"row,depth\n1,50.8,47.625\n3,38.1\n", dig.Mm, two},
		"a line a seed":           {"1,50.8\r\n3,38.1\r\n\r\n1,47.625", dig.Mm, two},
		"decimal commas":          {"fila;mm\n1;50,8;47,625\n3;38,1", dig.Mm, two},
		"tabs and decimal commas": {"1\t50,8\t47,625\n3\t38,1", dig.Mm, two},
		"spaces":                  {"1 50.8 47.625\n3 38.1mm", dig.Mm, two},
		"fractions":               {"\ufeffRow depths\n1 2 1 7/8\n3 1 1/2", dig.Inch, two},
		"inches, signs":           {"1, 2\", 1 7/8\"\n3, 1.5\"", dig.Inch, two},
		"small fractions":         {"1, 1/2, 3/64", dig.Inch, []leveling.RowSeeds{{Row: 1, DepthsMm: []float64{12.7, 25.4 * 3 / 64}}}},
	} {
		got, wrong := dig.Parse("pasted.text", c.text, c.unit)
		if len(wrong) > 0 || !same(got, c.want) {
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
		"heading\nheading 2":           "\"heading\" is not a row number",
		"":                             "has no seeds",
		"row,depth":                    "has no seeds",
		strings.Repeat("1,5\n", 20000): "must be at most",
	} {
		_, wrong := dig.Parse("pasted.text", text, dig.Mm)
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
		unit := dig.Mm
		if inches {
			unit = dig.Inch
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
