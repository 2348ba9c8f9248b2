package leveling

import (
	"fmt"
	"maps"
	"slices"
	"strings"
	"testing"
)

// 1 in is 25.4 mm (NIST SP 811, 2008).
func TestLengths(t *testing.T) {
	mm, eighths, sixteenths := Voice{}, Voice{PerInch: 8}, Voice{PerInch: 16}
	hablada := Voice{Language: Spanish, PerInch: 16}
	for _, c := range []struct{ got, want string }{
		{mm.Length(57.15), "57.2 mm"}, // halves away from nothing
		{mm.Length(0.0312), "0.03 mm"},
		{mm.Length(0), "0.0 mm"},
		{mm.Fine(1.5875), "1.59 mm"},
		{mm.Nominal(1.5875), "1.5875 mm"},
		{mm.Nominal(25.4 / 32), "0.7938 mm"},
		{sixteenths.Length(57.15), "2 1/4 in"},
		{sixteenths.Length(50.8), "2 in"},
		{sixteenths.Length(4.8), "3/16 in"},
		{sixteenths.Length(-4.8), "-3/16 in"},
		{sixteenths.Length(0.7), "under 1/16 in"},
		{sixteenths.Length(-0.7), "under 1/16 in"},
		{sixteenths.Length(0), "0 in"},
		{sixteenths.Length(25.3), "1 in"},
		{eighths.Length(57.15), "2 1/4 in"},
		{eighths.Length(1.5875 / 2), "under 1/8 in"},
		{sixteenths.Fine(1.5875), "0.063 in"},
		{sixteenths.Nominal(25.4 / 32), "1/32 in"},
		{sixteenths.Nominal(1), "0.039 in"},
		{sixteenths.Nominal(0), "0 in"},
		{mm.Stamped(0.508), "0.508 mm"},
		{sixteenths.Stamped(0.508), "0.020 in"},
		{sixteenths.Stamped(0.5), "0.020 in (0.5 mm)"},
		{sixteenths.Stamped(25.4 / 64), "1/64 in"},
		{sixteenths.Stamped(2), "0.079 in (2 mm)"},
		{mm.Area(161.87425), "161.87 ha"},
		{Voice{AreaUnit: Acre}.Area(161.874), "400 ac"},
		{hablada.Length(57.15), "2 1/4 pulg"},
		{hablada.Length(0.7), "menos de 1/16 pulg"},
		{mm.Percent(0.9996), "more than 99.9 %"},
		{hablada.Percent(0.0001), "menos de 0.1 %"},
		{hablada.Percent(0.95), "95.0 %"},
		{mm.RowList([]int{3}), "Row 3"},
		{mm.RowList([]int{3, 5, 7}), "Rows 3, 5 and 7"},
		{hablada.RowList([]int{3, 5, 7}), "Surcos 3, 5 y 7"},
	} {
		if c.got != c.want {
			t.Errorf("%q, want %q", c.got, c.want)
		}
	}
}

func TestInchRuling(t *testing.T) {
	for resolution, want := range map[float64]int{25.4: 1, 25.4 / 16: 16, 25.4 / 64: 64, 25.4 / 128: 0, 1: 0, 0.5: 0, 0: 0, 25.4 / 10: 0} {
		if got := (Fixture{ResolutionMm: resolution}).InchRuling(); got != want {
			t.Errorf("%v mm: %d, want %d", resolution, got, want)
		}
	}
}

// The ids of cautions are ticked in the log: no language may change them.
func TestCautionsKeepTheirIDs(t *testing.T) {
	spoken := Voice{Language: Spanish}.Cautions()
	for i, c := range (Voice{}).Cautions() {
		if s := spoken[i]; s.ID != c.ID || s.Text == c.Text || s.Text == "" {
			t.Errorf("%v in Spanish is %v", c, s)
		}
	}
}

func TestViolationsInSpanish(t *testing.T) {
	var v Violations
	v.Within("x", 7, 0, 5, Millimeters)
	v.Words("name", "", 1, 200)
	v.Add("y", "is wrong")
	for i, want := range []string{"es 7, debe ser de 0 a 5 mm", "falta, debe tener de 1 a 200 caracteres", "is wrong"} {
		if got := v[i].Say(Voice{Language: Spanish}); got != want {
			t.Errorf("%q, want %q", got, want)
		}
	}
	if got := v[0].Say(Voice{}); got != "is 7, must be from 0 to 5 mm" {
		t.Errorf("%q", got)
	}
}

// TestAllOfAPlanterIsSaidInSpanish, and all of a dig.
func TestAllOfAPlanterIsSaidInSpanish(t *testing.T) {
	var v Violations
	far := -1.0
	ids := map[string]string{}
	for i := range MaxExternalIDs + 1 {
		ids[fmt.Sprint(i)] = "x"
	}
	planter := Planter{
		RowSpacingMm: &far, ExternalIDs: ids, ReferenceRows: []int{1, 2, 9}, Sections: []Section{{FirstRow: 3, LastRow: 1}},
		Mechanisms: []Mechanism{{ID: "a", Style: "x"}, {ID: "a"}},
		Rows:       []PlanterRow{{Number: 1, Mechanism: "a"}, {Number: 1, Mechanism: "b"}, {Number: 2, Mechanism: "a"}},
	}
	planter.Check("", &v)
	(&Planter{Mechanisms: make([]Mechanism, MaxRows+1), Sections: make([]Section, MaxSections+1)}).Check("", &v)
	(&Planter{}).Check("", &v)
	for _, rows := range [][]RowSeeds{nil, {{1, nil}, {2, []float64{-1}}}} {
		(&Dig{Rows: rows, TargetMm: &far}).Check("", func(row int) bool { return row == 1 }, &v)
	}
	said := map[string]bool{}
	for _, x := range v {
		english, spanish := x.Say(Voice{}), x.Say(Voice{Language: Spanish})
		if said[spanish] = true; spanish == english {
			t.Errorf("%s: %q is not said", x.Field, english)
		}
	}
	for _, want := range []string{
		"debe ser mayor que 0 y de 3000 mm como máximo", "identificadores", "ya es el de referencia", "es 9,", "va del surco 3 al surco 1",
		`"a" es el id de otro mecanismo`, `"b" no es el id`, "falta, debe ser el id de un tipo", "secciones", "tiene 121 mecanismos", "no hay ninguno",
		"tiene 0 surcos", "tiene 0 semillas", "debe ser de 0 a 300 mm", "una semilla cada uno", "un surco que esta sembradora no tiene", "debe ser de 1 a 300 mm",
	} {
		if !slices.ContainsFunc(slices.Collect(maps.Keys(said)), func(s string) bool { return strings.Contains(s, want) }) {
			t.Errorf("nothing says %q", want)
		}
	}
}
