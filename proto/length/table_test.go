package length_test

import (
	"encoding/json"
	"errors"
	"os"
	"slices"
	"testing"

	"rowdatum/proto/length"
)

// table is testdata/lengths.json: what is read, or the reason why it is not. The page's reader is tested with it too.
type table struct {
	Lengths []struct {
		Text, Bare, Comma, Why string
		Mm                     float64
		Refused                length.Reason
	}
	Numbers []struct {
		Text    string
		Value   float64
		Refused length.Reason
	}
	Lines []struct {
		Text      string
		Row, Plus bool
		Columns   int
		Cells     []string
		Comma     string
		Refused   string // the part in doubt
	}
}

func readTable(t *testing.T) (out table) {
	t.Helper()
	text, err := os.ReadFile("../../testdata/lengths.json")
	if err == nil {
		err = json.Unmarshal(text, &out)
	}
	if err != nil || len(out.Lengths) < 100 || len(out.Numbers) < 10 || len(out.Lines) < 30 {
		t.Fatalf("the table holds %d lengths, %d numbers, %d lines: %v", len(out.Lengths), len(out.Numbers), len(out.Lines), err)
	}
	return out
}

var commas = map[string]length.Comma{"": length.CommaIfClear, "IF_CLEAR": length.CommaIfClear, "DECIMAL": length.CommaDecimal, "REFUSED": length.CommaRefused}

// reason is why err, nothing where there is none.
func reason(err error) length.Reason {
	r, _ := errors.AsType[length.Reason](err)
	return r
}

func TestTable(t *testing.T) {
	cases := readTable(t)
	for _, c := range cases.Lengths {
		bare, _ := length.ParseUnit(c.Bare)
		got, err := length.Reading{Bare: bare, Comma: commas[c.Comma]}.Mm(c.Text)
		if reason(err) != c.Refused || err == nil && length.Float(got) != c.Mm {
			t.Errorf("%q, %s, %s: got %v, %v, want %v, %s", c.Text, c.Bare, c.Comma, got, err, c.Mm, c.Refused)
		}
	}
	for _, c := range cases.Numbers {
		got, err := length.Reading{}.Number(c.Text)
		if reason(err) != c.Refused || err == nil && length.Float(got) != c.Value {
			t.Errorf("%q: got %v, %v, want %v, %s", c.Text, got, err, c.Value, c.Refused)
		}
	}
	for _, c := range cases.Lines {
		cells, comma, err := length.Line{Row: c.Row, Plus: c.Plus, Columns: c.Columns}.Cut(c.Text)
		if c.Refused != "" {
			if unclear, ok := errors.AsType[*length.CommaError](err); !ok || unclear.Text != c.Refused || !errors.Is(err, length.ErrComma) {
				t.Errorf("%q: got %q, %v, want %s in doubt", c.Text, cells, err, c.Refused)
			}
		} else if err != nil || !slices.Equal(cells, c.Cells) || comma != commas[c.Comma] {
			t.Errorf("%q: got %q, %v, %v, want %q, %s", c.Text, cells, comma, err, c.Cells, c.Comma)
		}
	}
}
