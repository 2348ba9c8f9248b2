package leveling

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"strings"
)

// Kind says what sort of fault an Error is; programs act on it, never on the message.
type Kind int

// The kinds, each with who is to act.
const (
	Internal         Kind = iota // a fault of ours; the caller can only report it
	Invalid                      // the request is wrong; Violations say where
	NotFound                     // the named resource does not exist
	FailedState                  // the request is right but the state of things does not allow it
	Stale                        // somebody else was faster: read again, then decide
	Exists                       // the same id was used for something else
	Unavailable                  // a part that is needed is down; trying again may help
	DeadlineExceeded             // a part that is needed did not answer in time
	TooLarge                     // more than the service takes in one request
	Unauthenticated              // no key, or a wrong one
	Forbidden                    // the key has not the right
	DataLoss                     // what is kept is not what was written: no repeat helps, a backup may
)

// Violation is one thing wrong with a request.
type Violation struct {
	Field string  // the request's own path: rows[3].readingsMm[0]
	Say   Message // what was wrong and what is allowed
}

// String is the field and its message in English, for the log.
func (v Violation) String() string { return v.Field + ": " + v.Say(Voice{}) }

// Message is put into words for one reader, once it is known who reads.
type Message func(Voice) string

// Text is a message that says the same to every reader.
func Text(text string) Message { return func(Voice) string { return text } }

// Error is the one error that crosses rooms. Its Message is for people; what only the log may know is
// wrapped in Err.
type Error struct {
	Kind       Kind
	Reason     string            // UPPER_SNAKE, for programs: STYLE_NOT_INSTALLED
	Message    string            // one sentence for a person
	Violations []Violation       // every violation of an Invalid request
	Metadata   map[string]string // what is variable in Message, for programs
	Err        error             // the cause, for the log only; may be nil
}

// Error gives the message, the violations and the cause: the log's text, not the caller's.
func (e *Error) Error() string {
	var b strings.Builder
	b.WriteString(e.Message)
	for _, v := range e.Violations {
		fmt.Fprintf(&b, "; %v", v)
	}
	if e.Err != nil {
		fmt.Fprintf(&b, ": %v", e.Err)
	}
	return b.String()
}

// Unwrap returns the cause.
func (e *Error) Unwrap() error { return e.Err }

// AsError returns the Error in err's chain; any other error is Internal with neutral words.
func AsError(err error) *Error {
	if e, ok := errors.AsType[*Error](err); ok {
		return e
	}
	return &Error{Kind: Internal, Reason: "INTERNAL", Message: "Something went wrong inside the service; nothing was changed.", Err: err}
}

// Violations collects what is wrong with a request, so that all of it can be said at once.
type Violations []Violation

// Add notes one violation, in English for every reader: only a program, or who keeps the service, can send that wrong.
func (v *Violations) Add(field, format string, args ...any) {
	v.Say(field, Text(fmt.Sprintf(format, Short(args)...)))
}

// longestQuote is how much of a caller's own text he is told back, in bytes.
const longestQuote = 200

// Short cuts the texts among what a message is to quote: a name of half a megabyte that no row may have is else told back for
// every row.
func Short(args []any) []any {
	out := slices.Clone(args)
	for i, arg := range out {
		if text, ok := arg.(string); ok && len(text) > longestQuote {
			out[i] = strings.ToValidUTF8(text[:longestQuote], "") + "…"
		}
	}
	return out
}

// Say notes one violation.
func (v *Violations) Say(field string, say Message) {
	*v = append(*v, Violation{field, say})
}

// Of runs check of one entry of a list, and puts what it notes below that entry: a field f is then list[i].f.
func (v *Violations) Of(list string, i int, check func()) {
	before := len(*v)
	check()
	for k := range (*v)[before:] {
		noted := &(*v)[before+k]
		at := fmt.Sprintf("%s[%d]", list, i)
		if noted.Field != "" {
			at += "." + noted.Field
		}
		noted.Field = at
	}
}

// say notes one with a phrase of this package.
func (v *Violations) say(field string, phrase func(*phrases) string, args ...any) {
	v.Say(field, catalogue.Message(phrase, args...))
}

// mostTold violations are listed: what a full request can have wrong, and less than an answer can carry.
const mostTold = 2000

// Err returns nil, or one Invalid error with all violations, of very many the first.
func (v Violations) Err() error {
	switch n := len(v); n {
	case 0:
		return nil
	case 1:
		return &Error{Kind: Invalid, Reason: "INVALID_REQUEST", Message: "One thing in the request is wrong.", Violations: v}
	default:
		return &Error{Kind: Invalid, Reason: "INVALID_REQUEST", Message: fmt.Sprintf("%d things in the request are wrong.", n), Violations: v[:min(n, mostTold)]}
	}
}

// Within notes a violation unless lo <= x <= hi; NaN is outside every range.
func (v *Violations) Within(field string, x, lo, hi float64, unit string) {
	if !(x >= lo && x <= hi) {
		v.say(field, func(p *phrases) string { return p.notWithin }, Amount(x, unit), Amount(lo, unit), Quantity(hi, unit))
	}
}

// Above notes a violation unless x is finite and above lo.
func (v *Violations) Above(field string, x, lo float64, unit string) {
	if !(x > lo && x <= maxFinite) {
		v.say(field, func(p *phrases) string { return p.notAbove }, Amount(x, unit), Quantity(lo, unit))
	}
}

// AtLeast notes a violation unless x is finite and lo or more.
func (v *Violations) AtLeast(field string, x, lo float64, unit string) {
	if !(x >= lo && x <= maxFinite) {
		v.say(field, func(p *phrases) string { return p.tooSmall }, Amount(x, unit), Quantity(lo, unit))
	}
}

// AboveZero notes a violation unless 0 < x <= most.
func (v *Violations) AboveZero(field string, x float64, most int, unit string) {
	if !(x > 0 && x <= float64(most)) {
		v.say(field, func(p *phrases) string { return p.aboveZero }, Amount(x, unit), Quantity(float64(most), unit))
	}
}

// Millimeters is the unit of lengths in requests, as it stands behind a figure.
const Millimeters = " mm"

// Quantity is a figure of a request with its unit. Whoever reads inches is told a length in inches, and in brackets as the
// request has it.
func Quantity(x float64, unit string) Message {
	return func(v Voice) string {
		if inInches(x, unit, v) {
			return v.Nominal(x) + " (" + Figure(x) + unit + ")"
		}
		return Figure(x) + unit
	}
}

// Amount is a Quantity before another one, which says the unit of both.
func Amount(x float64, unit string) Message {
	return func(v Voice) string {
		if x != 0 && inInches(x, unit, v) {
			return Quantity(x, unit)(v)
		}
		return Figure(x)
	}
}

func inInches(x float64, unit string, v Voice) bool {
	return unit == Millimeters && v.PerInch > 0 && math.Abs(x) <= maxFinite
}

// Confidence notes a violation unless 0.5 <= c < 1.
func (v *Violations) Confidence(field string, c float64) {
	if !(c >= 0.5 && c < 1) {
		v.say(field, func(p *phrases) string { return p.confidence }, Figure(c))
	}
}
