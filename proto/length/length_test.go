package length_test

import (
	"errors"
	"fmt"
	"math"
	"math/big"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"
	"unicode"

	"rowdatum/proto/length"
)

// TestInchFractions checks the exact mm of the inch fractions on a tape: 1 in = 25.4 mm exactly (NIST
// SP 811), so n/32 in = n · 0.79375 mm.
func TestInchFractions(t *testing.T) {
	table := map[string]string{
		"1/8": "3.175", "3/8": "9.525", "5/8": "15.875", "7/8": "22.225", "1": "25.4",
		"1/16": "1.5875", "3/16": "4.7625", "5/16": "7.9375", "7/16": "11.1125",
		"9/16": "14.2875", "11/16": "17.4625", "13/16": "20.6375", "15/16": "23.8125",
		"1/32": "0.79375", "3/32": "2.38125", "5/32": "3.96875", "7/32": "5.55625", "9/32": "7.14375",
		"11/32": "8.73125", "13/32": "10.31875", "15/32": "11.90625", "17/32": "13.49375",
		"19/32": "15.08125", "21/32": "16.66875", "23/32": "18.25625", "25/32": "19.84375",
		"27/32": "21.43125", "29/32": "23.01875", "31/32": "24.60625",
		"1/64": "0.396875",
	}
	for text, want := range table {
		w, _ := new(big.Rat).SetString(want)
		got, err := length.Reading{}.Mm(text + " in")
		if err != nil || got.Cmp(w) != 0 {
			t.Errorf("%s in: got %v, %v, want %s mm", text, got, err, want)
		}
	}
}

// TestNumberAgainstPlainTwin reads random numbers in every form and counts them out in whole
// 128ths, which a float64 holds exactly. A fraction above 1 of two digits or more may lack its space, and is refused.
func TestNumberAgainstPlainTwin(t *testing.T) {
	rng := rand.New(rand.NewPCG(7, 2))
	for range 5000 {
		den := 1 << rng.IntN(8)
		whole, above := rng.IntN(300), rng.IntN(den)
		want := float64(whole) + float64(above)/float64(den)
		text := []string{
			fmt.Sprintf("%d %d/%d", whole, above, den),
			fmt.Sprintf("%d-%d/%d", whole, above, den),
			fmt.Sprintf("%d/%d", whole*den+above, den),
			fmt.Sprintf("%.7f", want),
		}[rng.IntN(4)]
		unclear := !strings.ContainsAny(text, " -.") && whole > 0 && whole*den+above > max(9, den)
		if rng.IntN(2) == 0 {
			text, want = "-"+text, -want
		}
		got, err := length.Reading{}.Number(text)
		if unclear {
			if err == nil {
				t.Fatalf("%q is taken for %v", text, got)
			}
			continue
		}
		if err != nil || length.Float(got) != want {
			t.Fatalf("%q: got %v, %v, want %v", text, got, err, want)
		}
	}
}

func TestFinestInches(t *testing.T) {
	for mm, want := range map[float64]string{25.4 / 16: "1/16", 25.4 * 3 / 32: "3/32", 25.4 / 8: "1/8", 25.4 * 2.25: "2 1/4", 2: "0.079", 0.5: "0.020", 0: "0"} {
		if got := length.FinestInches(mm); got != want {
			t.Errorf("%v mm is written %q, want %q", mm, got, want)
		}
	}
}

func TestInchesReadBack(t *testing.T) {
	for n := 1; n <= 128; n *= 2 {
		for counts := -3 * n; counts <= 3*n; counts++ {
			want := big.NewRat(int64(counts)*254, int64(n)*10)
			text := length.Inches(length.Float(want), n)
			got, err := length.Reading{Bare: length.Inch}.Mm(text)
			if err != nil || got.Cmp(want) != 0 {
				t.Fatalf("%d/%d in is written %q and read as %v, %v", counts, n, text, got, err)
			}
		}
	}
}

func TestFormat(t *testing.T) {
	tests := []struct{ got, want string }{
		{length.Inches(57.15, 16), "2 1/4"},
		{length.Inches(56.95, 16), "2 1/4"},
		{length.Inches(0.3, 16), "0"},
		{length.Inches(-0.3, 16), "0"},
		{length.Inches(-3.175, 16), "-1/8"},
		{length.Inches(57.15, 0), "2.25"},
		{length.Mm(-0.04), "0.0"},
		{length.Mm(-0.06), "-0.1"},
		{fmt.Sprint(length.InchRuling(1.5875)), "16"},
		{fmt.Sprint(length.InchRuling(0.79375)), "32"},
		{fmt.Sprint(length.InchRuling(1)), "0"},
		{fmt.Sprint(length.InchRuling(0)), "0"},
	}
	for _, tt := range tests {
		if tt.got != tt.want {
			t.Errorf("got %q, want %q", tt.got, tt.want)
		}
	}
}

func FuzzMm(f *testing.F) {
	for _, text := range []string{"2 1/4", `2-1/4"`, "57,2 mm", "−½ in", "1/0", "in.", "..", "2¼¼", "1,500", "17/8", "0.0000000000015"} {
		f.Add(text, 0)
	}
	f.Fuzz(func(t *testing.T, text string, comma int) {
		r := length.Reading{Bare: length.Inch, Comma: length.Comma(comma & 3 % 3)}
		got, err := r.Mm(text)
		if err != nil {
			if reason(err) == "" {
				t.Fatalf("%q is refused without a reason: %v", text, err)
			}
			return
		}
		mm := length.Float(got)
		if math.IsNaN(mm) || math.IsInf(mm, 0) || math.Signbit(mm) && mm == 0 {
			t.Fatalf("%q gave %v", text, mm)
		}
		if n := strings.Count(text, ","); n > 1 || n == 1 && r.Comma == length.CommaRefused {
			t.Fatalf("%q gave %v", text, mm)
		}
		again, err := r.Mm(" " + text + "\u00a0")
		if err != nil || again.Cmp(got) != 0 {
			t.Fatalf("%q changed with the blanks around it", text)
		}
	})
}

func FuzzCut(f *testing.F) {
	for _, text := range []string{"1 50,5 52,1", "1,50.8,47.625", "1;50,8", "1 2 1 7/8", "1, 2\", 1 7/8\"", "2+1", "1,50,47", "1½,2"} {
		f.Add(text, true, false, 0)
		f.Add(text, false, true, 3)
	}
	f.Fuzz(func(t *testing.T, text string, row, plus bool, columns int) {
		cells, _, err := length.Line{Row: row, Plus: plus, Columns: columns}.Cut(text)
		if unclear, ok := errors.AsType[*length.CommaError](err); ok != (err != nil) || ok && !strings.Contains(text, unclear.Text) {
			t.Fatalf("%q: %v", text, err)
		} else if ok {
			return
		}
		separates := func(c rune) bool { return unicode.IsSpace(c) || strings.ContainsRune(",;+", c) }
		if got, want := strings.Join(strings.FieldsFunc(strings.Join(cells, " "), separates), ""), strings.Join(strings.FieldsFunc(text, separates), ""); got != want {
			t.Fatalf("%q was cut into %q", text, cells)
		}
	})
}

// TestNoDepthsAreInvented writes depths as people do and has each line read as those depths, or refused: with a decimal
// point and any separator never refused, with a decimal comma and blanks or commas never read.
func TestNoDepthsAreInvented(t *testing.T) {
	rng := rand.New(rand.NewPCG(15, 1))
	for range 20000 {
		var depths []string
		for range 1 + rng.IntN(6) {
			depths = append(depths, fmt.Sprintf("%d.%d", 20+rng.IntN(60), 1+rng.IntN(9)))
		}
		separator := []string{" ", ", ", ",", ";", "; ", "\t"}[rng.IntN(6)]
		text := "7" + separator + strings.Join(depths, separator)
		cells, _, err := length.Line{Row: true}.Cut(text)
		if err != nil || !slices.Equal(cells[1:], depths) {
			t.Fatalf("%q: %q, %v", text, cells, err)
		}
		text = strings.ReplaceAll(text, ".", ",")
		cells, comma, err := length.Line{Row: true}.Cut(text)
		if strong := strings.ContainsAny(separator, ";\t"); strong != (err == nil) {
			t.Fatalf("%q: %q, %v", text, cells, err)
		} else if !strong {
			continue
		}
		for i, cell := range cells[1:] {
			got, err := length.Reading{Comma: comma}.Number(cell)
			if want, _ := new(big.Rat).SetString(depths[i]); err != nil || got.Cmp(want) != 0 {
				t.Fatalf("%q: %q is %v, %v", text, cell, got, err)
			}
		}
	}
}

func TestTypedKeepsNumberAndUnit(t *testing.T) {
	tests := []struct {
		text string
		bare length.Unit
		want string
	}{
		{"2 1/4", length.Inch, "9/4 in <nil>"},
		{"57mm", length.Inch, "57 mm <nil>"},
		{"5,7 cm", length.NoUnit, "57/10 cm <nil>"},
		{"57", length.NoUnit, "<nil>  no unit"},
		{"57 yd", length.Inch, "<nil>  not a unit"},
	}
	for _, tt := range tests {
		value, unit, err := length.Reading{Bare: tt.bare}.Typed(tt.text)
		shown := "<nil>"
		if value != nil {
			shown = value.RatString()
		}
		if got := fmt.Sprintf("%s %v %v", shown, unit, err); got != tt.want {
			t.Errorf("%q: got %q, want %q", tt.text, got, tt.want)
		}
	}
}
