package job

import (
	"encoding/json"
	"fmt"

	"rowdatum/server/leveling"
)

// What a job holds at most: many times what the longest visit writes, and what phones, sheets and watches can still open. A
// choice of ours.
const (
	MostEvents = 5000
	MostBytes  = 8 << 20
)

// Room refuses events that a job has no room for. Signing and voiding always have it: a full job must be able to end.
func (s *State) Room(events []Event) error {
	bytes := s.bytes
	for i := range events {
		if e := &events[i]; e.Signed != nil || e.Voided != nil {
			return nil
		}
		bytes += events[i].Size()
	}
	if n := len(s.log) + len(events); n <= MostEvents && bytes <= MostBytes {
		return nil
	}
	return &leveling.Error{
		Kind: leveling.FailedState, Reason: "JOB_FULL",
		Message: fmt.Sprintf("This job is full: it holds at most %d entries and %d MiB. Sign it, and go on in a new job.", MostEvents, MostBytes>>20),
	}
}

// Bytes is about what the log takes in the store.
func (s *State) Bytes() int { return s.bytes }

// nearlyFull says whether nine tenths are taken.
func (s *State) nearlyFull() bool { return 10*len(s.log) >= 9*MostEvents || 10*s.bytes >= 9*MostBytes }

// smallEvent is about what an event of figures takes in the store, its request's id and hash included.
const smallEvent = 400

// Size is about what an event takes in the store. Only what can be large is counted: a log is folded often.
func (e *Event) Size() int {
	bytes := smallEvent + len(e.Person)
	switch {
	case e.Opened != nil:
		bytes += encoded(e.Opened)
	case e.Issued != nil:
		bytes += encoded(e.Issued)
	case e.Signed != nil:
		bytes += encoded(e.Signed)
	case e.Note != nil:
		bytes += len(e.Note.Text)
	case e.Inspection != nil:
		bytes += len(e.Inspection.Comment)
	case e.PartChange != nil:
		bytes += len(e.PartChange.Part)
	case e.Strike != nil:
		bytes += len(e.Strike.Reason)
	case e.Move != nil:
		bytes += encoded(e.Move)
	}
	return bytes
}

func encoded(v any) int {
	text, _ := json.Marshal(v) // what cannot be written is refused where it is kept
	return len(text)
}
