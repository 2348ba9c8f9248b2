package draw

import "testing"

// TestNamesStayOnTheirLine: a name with a line break in it, kept before such names were refused, is no line of its own.
func TestNamesStayOnTheirLine(t *testing.T) {
	var p page
	p.line("%-10s %s", "Ada\nk2", "a\x1b[2K\u202eb")
	if got, want := p.String(), `Ada\u000ak2 a\u001b[2K\u202eb`+"\n"; got != want {
		t.Errorf("%q, want %q", got, want)
	}
}
