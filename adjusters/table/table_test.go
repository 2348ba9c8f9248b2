package main

import (
	"testing"

	"rowdatum/adjusters/adjuster"
	"rowdatum/adjusters/adjustertest"
	adjusterv1 "rowdatum/proto/gen/rowdatum/adjuster/v1"
)

func server(tb testing.TB) adjusterv1.AdjusterServer {
	tb.Helper()
	s, err := adjuster.New(style(), table{})
	if err != nil {
		tb.Fatal(err)
	}
	return s
}

// TestSpanish: names of settings are said as they are in every language.
func TestSpanish(t *testing.T) {
	f, from := `{"settings": ["A", "B", "C"], "depthsMm": [30, 36.5, 44]}`, `{"at": "A"}`
	s := server(t)
	for language, want := range map[string]string{
		"en":     "Move from A to C, 2 steps deeper. Keep hands clear of pinch points while anything moves.",
		"es-419": "Mueva de A a C, 2 pasos más profundo. Mantenga las manos lejos de donde puedan quedar atrapadas mientras algo se mueva.",
	} {
		r, err := s.Say(t.Context(), &adjusterv1.SayRequest{Language: language, Mechanisms: []*adjusterv1.MechanismFigures{{Figures: f}},
			Choices: []*adjusterv1.Choice{{Setting: from, Option: adjustertest.Ask(t, s, f, from).GetOptions()[2]}}})
		if err != nil {
			t.Fatal(err)
		}
		if got := r.GetWords()[0].GetSay(); got != want {
			t.Errorf("in %s: %q, want %q", language, got, want)
		}
	}
}

func FuzzOptions(f *testing.F) {
	f.Add(`{"settings": ["A", "B"], "depthsMm": [30, 36.5]}`, `{"at": "A"}`)
	s := server(f)
	f.Fuzz(func(t *testing.T, figures, setting string) {
		row := adjustertest.Ask(t, s, figures, setting)
		if (len(row.GetOptions()) == 0) == (len(row.GetViolations()) == 0) {
			t.Fatalf("%s at %s: %v", figures, setting, row)
		}
	})
}
