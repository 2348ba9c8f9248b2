package main

import (
	"strings"
	"testing"
)

// TestScreen: nothing that a service or a file says moves the cursor, clears the line or turns the text around; whole lines
// pass as they are, wherever a write cuts them.
func TestScreen(t *testing.T) {
	for text, want := range map[string]string{
		"Row 1\tÅngström 播种机 🌽\r\n": "Row 1\tÅngström 播种机 🌽\r\n",
		"a\x1b[2Kb":                 `a\u001b[2Kb`,
		"a\rb\x00\x7f\u009b":        `a\u000db\u0000\u007f\u009b`,
		"a\u202eb\u2069\u2028":      `a\u202eb\u2069\u2028`,
		"a\xffb":                    `a\xffb`,
	} {
		for cut := range len(text) + 1 {
			if cut > 0 && text[cut-1] == '\r' {
				continue // a line's end is written at once
			}
			var out strings.Builder
			s := &screen{to: &out}
			for _, part := range []string{text[:cut], text[cut:]} {
				if n, err := s.Write([]byte(part)); n != len(part) || err != nil {
					t.Fatal(n, err)
				}
			}
			if out.String() != want {
				t.Errorf("%q cut at %d: %q, want %q", text, cut, &out, want)
			}
		}
	}
}
