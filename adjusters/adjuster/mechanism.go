package adjuster

import (
	"fmt"
	"iter"
	"math"
	"strings"

	"rowdatum/adjusters/schema"
)

// Mechanism is what an author writes: the arithmetic and the words of one style. F and S are the Go
// types of its figures and of a setting, read from JSON that the style's schemas have let through.
// Both methods are pure: the same question always has the same answer.
type Mechanism[F, S any] interface {
	// Travel says where a row can be brought to. setting is nil where nobody knows it, which only a
	// style with SettingOptional meets. What the schemas cannot catch is returned as Violations; any
	// other error means that the adjuster itself is broken.
	Travel(figures F, setting *S) (Travel[S], error)
	// Say gives the words for one move. It is asked for a row that is left alone too, for its cautions.
	// How to come back against slack, and the pinch-point caution, are added to what it says.
	Say(m Move[F, S]) Words
}

// Travel is every place a row can be brought to. Effects, counts and travel left are worked out from
// it, so they always agree with each other.
type Travel[S any] struct {
	// Here is where the row stands now. Its Setting is not looked at.
	Here Position[S]
	// Positions are all places within the travel, in any order of depth; Here may be among them. Of two
	// that come to the same depth, the first is the one to prefer where all else is equal. More than
	// MaxOptions of them are refused, and no more than that are asked for.
	Positions iter.Seq[Position[S]]
	// ShallowerLeftMm and DeeperLeftMm are the travel left from Here where it goes on beyond the
	// outermost positions, 0 or more. Less than the positions span changes nothing.
	ShallowerLeftMm, DeeperLeftMm float64
}

// Steps are the positions of a mechanism that goes by whole steps, from first to last.
func Steps[S any](first, last int, position func(step int) Position[S]) iter.Seq[Position[S]] {
	return func(yield func(Position[S]) bool) {
		for step := first; step <= last && yield(position(step)); step++ {
		}
	}
}

// Position is one place where the mechanism can stand. Depth and count may be told from any zero, as
// long as it is one zero for the whole Travel.
type Position[S any] struct {
	Setting S       // the setting there; not used where the row's own setting is not known
	DepthMm float64 // nominal, larger is deeper
	Count   float64 // in counts, larger is deeper; for shims the number in the stack
	Seconds float64 // getting at the row, bringing it here and reading it once, at most MaxSeconds; 0 is the style's TouchSeconds
}

// Move is one move that was chosen, to be put in words.
type Move[F, S any] struct {
	Figures  F
	From, To *S       // nil where nobody knows the setting; equal where the row is left
	Leave    bool     // the row is left alone: only cautions matter
	EffectMm float64  // nominal change of depth, positive deeper
	Count    float64  // counts to move
	Language Language // to answer in; the zero value is English
	Inches   bool     // lengths are read in inches; otherwise in mm
	unit     CountUnit
}

// Counted says how far in counts, without direction: "1 and 1/4 turns".
func (m Move[F, S]) Counted() string { return m.Language.counted(m.Count, m.unit) }

// Length says a nominal length in the reader's unit: "6.35 mm", "1/4 in", "0.394 in".
func (m Move[F, S]) Length(mm float64) string {
	if m.Inches {
		return m.Language.inches(mm)
	}
	return Number(mm) + " mm"
}

// Stamped says the size of a part that is sold by its size, such as a shim. To a reader of inches a part that is no
// fraction and no whole thousandths of one is a metric part: its mm stand in brackets, since that is what is
// stamped on it.
func (m Move[F, S]) Stamped(mm float64) string {
	const near = 1e-4 // mm
	said := m.Length(mm)
	thousandths := math.Round(mm/mmPerInch*1000) * mmPerInch / 1000
	if !m.Inches || strings.Contains(said, "/") || math.Abs(mm-thousandths) < near {
		return said
	}
	return said + " (" + Number(mm) + " mm)"
}

// In gives an English text, or what the format of one is, in the language to answer in.
func (m Move[F, S]) In(english string) string { return m.Language.in(english) }

// Direction says "deeper" or "shallower" in the language to answer in.
func (m Move[F, S]) Direction() string { return m.Language.direction(m.EffectMm) }

// Words are what to say about one move.
type Words struct {
	Say      string   // what to do, full sentences, safe to read aloud; not used where the row is left
	Cautions []string // what else to mind about this row, full sentences
	// SlackPart is for a mechanism with two controls: the part of the move that the one with the slack
	// makes. Where it goes against the approach, the SDK says to go past it and back. nil is the whole move.
	SlackPart *Part
}

// Part is what one of two controls does of a move.
type Part struct {
	EffectMm float64 // nominal change of depth, positive deeper; 0 where this control stays
	Count    float64 // counts of this control
	LeftMm   float64 // travel that this control has left beyond, in the direction it was moved
}

// Violation is one thing wrong with figures or a setting: the field ("figures.kitMm[2]",
// "setting.notch") and what is wrong and allowed, for a person ("is 21, must be from 1 to 20").
type Violation = schema.Violation

// Violations is the error of Travel for figures or a setting that cannot be.
type Violations []Violation

// Error lists them.
func (v Violations) Error() string {
	var b strings.Builder
	for i, x := range v {
		if i > 0 {
			b.WriteString("; ")
		}
		b.WriteString(x.Field + " " + x.Message)
	}
	return b.String()
}

// Wrong is one violation as an error.
func Wrong(field, format string, args ...any) error {
	return Violations{{Field: field, Message: fmt.Sprintf(format, args...)}}
}

// Rising is the error of a list of depths that must go deeper from each step to the next: a violation
// for each one that does not. step is what a depth belongs to ("notch").
func Rising(field string, depthsMm []float64, step string) error {
	var wrong Violations
	for i := 1; i < len(depthsMm); i++ {
		if !(depthsMm[i] > depthsMm[i-1]) {
			wrong = append(wrong, Violation{Field: fmt.Sprintf("%s[%d]", field, i),
				Message: fmt.Sprintf("must be deeper than the %s before it", step)})
		}
	}
	if wrong == nil {
		return nil
	}
	return wrong
}

// SettingNeeded is the violation of a row whose setting is not known but needed.
func SettingNeeded() error {
	return Wrong("setting", "is missing; this mechanism needs to know where the row stands now")
}
