package adjuster

import (
	"fmt"
	"math"
	"strconv"

	adjusterv1 "rowdatum/proto/gen/rowdatum/adjuster/v1"
)

func (l Language) direction(mm float64) string {
	if mm < 0 {
		return l.in(sayShallower)
	}
	return l.in(sayDeeper)
}

// counted writes a count as people say it: halves to sixteenths as fractions, others as decimals.
func (l Language) counted(count float64, unit CountUnit) string {
	count = math.Abs(count)
	word := unit.Other
	if count == 1 {
		word = unit.One
	}
	const sixteenths = 16
	whole, n, d := fraction(count, sixteenths)
	if whole+float64(n)/float64(d) != count {
		return Number(math.Round(count*1e4)/1e4) + " " + word
	}
	switch {
	case n == 0:
		return fmt.Sprintf("%.0f %s", whole, word)
	case whole == 0:
		return fmt.Sprintf(l.in(sayPart), n, d, unit.One)
	}
	return fmt.Sprintf(l.in(sayWholePart), whole, n, d, word)
}

// fraction is x to the nearest 1/d, in lowest terms.
func fraction(x float64, d int) (whole float64, n, lowest int) {
	whole, part := math.Modf(math.Round(x*float64(d)) / float64(d))
	n = int(part * float64(d))
	for n > 0 && n%2 == 0 {
		n, d = n/2, d/2
	}
	return whole, n, d
}

const mmPerInch = 25.4

// inches writes a length in inches: a fraction of a sixty-fourth at the finest, else thousandths.
func (l Language) inches(mm float64) string {
	const sixtyFourths, near = 64, 1e-4 // mm
	size, sign := math.Abs(mm)/mmPerInch, ""
	whole, n, d := fraction(size, sixtyFourths)
	said := strconv.FormatFloat(size, 'f', 3, 64)
	switch {
	case math.Abs(whole+float64(n)/float64(d)-size)*mmPerInch > near:
	case n == 0:
		said = fmt.Sprintf("%.0f", whole)
	case whole == 0:
		said = fmt.Sprintf("%d/%d", n, d)
	default:
		said = fmt.Sprintf("%.0f %d/%d", whole, n, d)
	}
	if mm < 0 {
		sign = "-"
	}
	return fmt.Sprintf(l.in(sayInches), sign+said)
}

// Number writes a figure for a person: the fewest digits that read back the same, without an exponent.
func Number(x float64) string {
	if a := math.Abs(x); a != 0 && (a < 1e-9 || a >= 1e15) {
		return strconv.FormatFloat(x, 'g', -1, 64)
	}
	return strconv.FormatFloat(x+0, 'f', -1, 64)
}

// finish adds to the author's words what must never be forgotten: how to take up the slack, and the
// caution for hands.
func (s *Style) finish(w Words, o *adjusterv1.Option, v *voice) string {
	say := w.Say
	effectMm, count, left := slackPart(w, o)
	against := s.Approach == ApproachDeeper && effectMm < 0 || s.Approach == ApproachShallower && effectMm > 0
	switch {
	case !against:
	case left != nil && *left < s.SlackMm:
		say += " " + v.language.in(sayNoPast)
	default:
		far := v.language.counted(s.past(effectMm, count), v.text.CountUnit)
		say += " " + fmt.Sprintf(v.language.in(sayPast), far, v.language.direction(-effectMm))
	}
	if !s.HandsStayOut {
		say += " " + v.language.in(sayPinch)
	}
	return say
}

// slackPart is what the control that has the slack does, and the travel it has left beyond in its own
// direction, where known.
func slackPart(w Words, o *adjusterv1.Option) (effectMm, count float64, left *float64) {
	if part := w.SlackPart; part != nil {
		return part.EffectMm, part.Count, &part.LeftMm
	}
	if o.EffectMm > 0 {
		return o.EffectMm, o.Count, o.DeeperLeftMm
	}
	return o.EffectMm, o.Count, o.ShallowerLeftMm
}

// past is the slack in counts, rounded up to what people say.
func (s *Style) past(effectMm, count float64) float64 {
	step := s.CountStep
	if step == 0 {
		step = 1
	}
	if count == 0 {
		return step
	}
	return math.Ceil(s.SlackMm*math.Abs(count/effectMm)/step) * step
}
