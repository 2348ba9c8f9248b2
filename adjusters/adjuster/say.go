package adjuster

import (
	"fmt"
	"math"
	"strconv"

	adjusterv1 "rowdatum/proto/gen/rowdatum/adjuster/v1"
)

// phrases are the SDK's own sentences in one language.
type phrases struct {
	deeper, shallower string
	and               string // between a whole number and a fraction
	of                string // between a fraction alone and its unit
	past              string // takes how far past, and the direction in which the move ends
	noPast            string // where the travel ends before the slack is taken up
	pinch             string
}

func (p phrases) direction(mm float64) string {
	if mm < 0 {
		return p.shallower
	}
	return p.deeper
}

// counted writes a count as people say it: halves to sixteenths as fractions, others as decimals.
func (p phrases) counted(count float64, unit CountUnit) string {
	count = math.Abs(count)
	word := unit.Other
	if count == 1 {
		word = unit.One
	}
	whole, part := math.Modf(count)
	const sixteenths = 16
	n, d := int(part*sixteenths), sixteenths
	if float64(n) != part*sixteenths {
		return Number(math.Round(count*1e4)/1e4) + " " + word
	}
	for n > 0 && n%2 == 0 {
		n, d = n/2, d/2
	}
	switch {
	case n == 0:
		return fmt.Sprintf("%.0f %s", whole, word)
	case whole == 0:
		return fmt.Sprintf("%d/%d%s%s", n, d, p.of, unit.One)
	}
	return fmt.Sprintf("%.0f %s %d/%d %s", whole, p.and, n, d, word)
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
func (s *Style) finish(w Words, o *adjusterv1.Option, text Text, p phrases) string {
	say := w.Say
	effectMm, count, left := slackPart(w, o)
	against := s.Approach == ApproachDeeper && effectMm < 0 || s.Approach == ApproachShallower && effectMm > 0
	switch {
	case !against:
	case left != nil && *left < s.SlackMm:
		say += " " + p.noPast
	default:
		say += " " + fmt.Sprintf(p.past, p.counted(s.past(effectMm, count), text.CountUnit), p.direction(-effectMm))
	}
	if !s.HandsStayOut {
		say += " " + p.pinch
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
