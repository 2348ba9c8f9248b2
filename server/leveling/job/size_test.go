package job

import (
	"strings"
	"testing"

	"rowdatum/server/leveling"
)

// TestJobIsBounded: entries and bytes are bounded, a warning comes before, and a full job can still be ended.
func TestJobIsBounded(t *testing.T) {
	note := func(text string) Event { return Event{Note: &Note{Text: text}} }
	long := strings.Repeat("x", 2000)
	for _, c := range []struct {
		name         string
		there, bytes int
		more         []Event
		full, warned bool
	}{
		{"the first", 1, 1000, []Event{note("a")}, false, false},
		{"the last entry", MostEvents - 1, 1000, []Event{note("a")}, false, true},
		{"one entry too many", MostEvents, 1000, []Event{note("a")}, true, true},
		{"two at once, one too many", MostEvents - 1, 1000, []Event{note("a"), note("b")}, true, true},
		{"not yet nine tenths", MostEvents*9/10 - 1, MostBytes*9/10 - 1, []Event{note("a")}, false, false},
		{"nine tenths of the entries", MostEvents * 9 / 10, 1000, []Event{note("a")}, false, true},
		{"nine tenths of the bytes", 1000, MostBytes*9/10 + 1, []Event{note("a")}, false, true},
		{"bytes too many", 1000, MostBytes - 2000, []Event{note(long)}, true, true},
		{"signing", MostEvents, MostBytes, []Event{{Signed: &Signed{}}}, false, true},
		{"voiding", MostEvents + 7, 2 * MostBytes, []Event{{Voided: &Voided{}}}, false, true},
	} {
		s := &State{log: make([]logged, c.there), bytes: c.bytes}
		err := s.Room(c.more)
		if (err != nil) != c.full || err != nil && leveling.AsError(err).Reason != "JOB_FULL" {
			t.Errorf("%s: %v", c.name, err)
		}
		if s.nearlyFull() != c.warned {
			t.Errorf("%s: warned is %t", c.name, s.nearlyFull())
		}
	}
}
