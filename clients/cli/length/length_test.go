package length_test

import (
	"errors"
	"fmt"
	"math"
	"math/big"
	"math/rand/v2"
	"strings"
	"testing"

	"rowdatum/clients/cli/length"
)

func TestMmReadsWhatPeopleWrite(t *testing.T) {
	tests := []struct {
		text string
		bare length.Unit
		want string // mm, exact
	}{
		{"2 1/4", length.Inch, "57.15"},
		{"2-1/4", length.Inch, "57.15"},
		{`2 1/4"`, length.NoUnit, "57.15"},
		{"2 1/4″", length.NoUnit, "57.15"},
		{"2¼ in", length.NoUnit, "57.15"},
		{"½", length.Inch, "12.7"},
		{"2.25 in", length.NoUnit, "57.15"},
		{"2.25 in.", length.NoUnit, "57.15"},
		{"2.25Inches", length.NoUnit, "57.15"},
		{"7/4 in", length.NoUnit, "44.45"},
		{"1 3/4", length.Inch, "44.45"},
		{"44.45mm", length.Inch, "44.45"},
		{"57 mm", length.Inch, "57"},
		{"57", length.Millimeter, "57"},
		{"5.7 cm", length.NoUnit, "57"},
		{".5 mm", length.NoUnit, "0.5"},
		{"5. mm", length.NoUnit, "5"},
		{"-1/8 in", length.NoUnit, "-3.175"},
		{"−2 1/4", length.Inch, "-57.15"},
		{"+3", length.Millimeter, "3"},
		{" 1/3 in ", length.NoUnit, "127/15"},
		{"0", length.Inch, "0"},
	}
	for _, tt := range tests {
		got, err := length.Reading{Bare: tt.bare}.Mm(tt.text)
		want, _ := new(big.Rat).SetString(tt.want)
		if err != nil || got.Cmp(want) != 0 {
			t.Errorf("%q: got %v, %v, want %s", tt.text, got, err, tt.want)
		}
	}
}

func TestMmRefuses(t *testing.T) {
	tests := []struct {
		text string
		want error
	}{
		{"", length.ErrNumber},
		{"in", length.ErrNumber},
		{"2 1/0", length.ErrNumber},
		{"2 5/4 in", length.ErrNumber},
		{"17/8 in", length.ErrNumber}, // 2 1/8, or 1 7/8 without its space?
		{"21/4 in", length.ErrNumber},
		{"1e3 mm", length.ErrNumber},
		{"1,5 mm", length.ErrNumber},
		{"1,500.0 mm", length.ErrNumber},
		{"2.5 1/4 in", length.ErrNumber},
		{"2 - 1/4 in", length.ErrNumber},
		{"2 1 in", length.ErrNumber},
		{"1/2/3 in", length.ErrNumber},
		{"NaN mm", length.ErrNumber},
		{"0x10 mm", length.ErrNumber},
		{"1_0 mm", length.ErrNumber},
		{"--2 mm", length.ErrNumber},
		{".", length.ErrNumber},
		{"1234567890123 mm", length.ErrNumber},
		{"4-Jan", length.ErrUnit},
		{"2 ft", length.ErrUnit},
		{"57", length.ErrNoUnit},
	}
	for _, tt := range tests {
		if got, err := (length.Reading{}).Mm(tt.text); !errors.Is(err, tt.want) {
			t.Errorf("%q: got %v, %v, want %v", tt.text, got, err, tt.want)
		}
	}
}

func TestDecimalComma(t *testing.T) {
	r := length.Reading{DecimalComma: true}
	for text, want := range map[string]string{"57,2 mm": "57.2", "57.2 mm": "57.2", ",5 mm": "0.5"} {
		w, _ := new(big.Rat).SetString(want)
		if got, err := r.Mm(text); err != nil || got.Cmp(w) != 0 {
			t.Errorf("%q: got %v, %v, want %s", text, got, err, want)
		}
	}
	for _, text := range []string{"1,2,3 mm", "1.2,3 mm", "1,2.3 mm", "1,2/3 mm"} {
		if got, err := r.Mm(text); err == nil {
			t.Errorf("%q: got %v, want an error", text, got)
		}
	}
}

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

func TestExactInches(t *testing.T) {
	for mm, want := range map[float64]string{25.4 / 16: "1/16", 25.4 * 3 / 32: "3/32", 25.4 / 8: "1/8", 25.4 * 2.25: "2 1/4", 2: "0.08", 0: "0"} {
		if got := length.ExactInches(mm); got != want {
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
	for _, text := range []string{"2 1/4", `2-1/4"`, "57,2 mm", "−½ in", "1/0", "in.", "..", "2¼¼"} {
		f.Add(text, true)
	}
	f.Fuzz(func(t *testing.T, text string, comma bool) {
		got, err := length.Reading{Bare: length.Inch, DecimalComma: comma}.Mm(text)
		if err != nil {
			return
		}
		mm := length.Float(got)
		if math.IsNaN(mm) || math.IsInf(mm, 0) || math.Signbit(mm) && mm == 0 {
			t.Fatalf("%q gave %v", text, mm)
		}
		again, err := length.Reading{Bare: length.Inch, DecimalComma: comma}.Mm(strings.TrimSpace(text))
		if err != nil || again.Cmp(got) != 0 {
			t.Fatalf("%q changed with the blanks around it", text)
		}
	})
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
		{"57 yd", length.Inch, "<nil>  not a unit of length"},
	}
	for _, tt := range tests {
		value, unit, err := length.Reading{Bare: tt.bare, DecimalComma: true}.Typed(tt.text)
		shown := "<nil>"
		if value != nil {
			shown = value.RatString()
		}
		if got := fmt.Sprintf("%s %v %v", shown, unit, err); got != tt.want {
			t.Errorf("%q: got %q, want %q", tt.text, got, tt.want)
		}
	}
}
