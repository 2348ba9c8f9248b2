package sheet_test

import (
	"bytes"
	"flag"
	"os"
	"path/filepath"
	"testing"

	"rowdatum/server/internal/sheet"
	"rowdatum/server/leveling"
)

// Look at every difference, the PDFs on paper or screen too, before a re-recorded sheet is kept.
var update = flag.Bool("update", false, "record the sheets as they now come out")

type story struct {
	name     string
	make     func(*testing.T) *visit
	language leveling.Language
	paper    sheet.Paper
}

func stories() []story {
	return []story{
		{"depot", depot, leveling.English, sheet.Letter},
		{"yard", yard, leveling.Spanish, sheet.A4},
		{"wings", wings, leveling.English, sheet.A4},
		{"coarse", coarse, leveling.English, sheet.Letter},
		{"single", single, leveling.Spanish, sheet.A4},
		{"given", given, leveling.English, sheet.Letter},
	}
}

func (s story) sheet(t *testing.T) *sheet.Sheet {
	v := s.make(t)
	o := sheet.Options{Language: s.language}
	if s.language == leveling.Spanish {
		o.Styles = map[string]leveling.Style{"threaded-handle": {Title: "Manija roscada de profundidad", CountUnit: leveling.CountUnit{One: "vuelta", Other: "vueltas"}}}
	}
	return sheet.New(v.head, v.state, o)
}

func TestSheets(t *testing.T) {
	for _, s := range stories() {
		t.Run(s.name, func(t *testing.T) {
			made := s.sheet(t)
			for ending, write := range map[string]func(*bytes.Buffer) error{
				"html": func(b *bytes.Buffer) error { return made.HTML(b) },
				"csv":  func(b *bytes.Buffer) error { return made.CSV(b) },
				"pdf":  func(b *bytes.Buffer) error { return made.PDF(t.Context(), b, s.paper) },
			} {
				var got bytes.Buffer
				if err := write(&got); err != nil {
					t.Fatal(err)
				}
				golden(t, s.name+"."+ending, got.Bytes())
			}
		})
	}
}

func golden(t *testing.T, name string, got []byte) {
	t.Helper()
	file := filepath.Join("testdata", name)
	if *update {
		if err := os.WriteFile(file, got, 0o644); err != nil {
			t.Fatal(err)
		}
		return
	}
	want, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	if !bytes.Equal(got, want) {
		t.Errorf("%s has come out otherwise than it was recorded", name)
	}
}
