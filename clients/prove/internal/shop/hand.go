package shop

import (
	"math"
	"slices"
)

// How the hand method is worked; common practice, no source.
const (
	handTries  = 4    // moves of one row before it is let be
	doubtfulMm = 12.7 // a number half an inch from where it is expected is read again
)

// byHand levels a planter by the common hand method: every row is read once, row 1 is the baseline, and every row that is
// not equal to it within one ruling is moved by nominal counts and read again, until it is equal or as near as its steps go.
// A number that is hard to believe is read again, and the second counts.
func byHand(p *planter) finished {
	number := make([]float64, len(p.rows))
	for i := range number {
		number[i] = p.read(i)
	}
	middle := slices.Sorted(slices.Values(number))[len(number)/2]
	for i := range number {
		number[i] = p.again(i, number[i], middle)
	}
	baseline := number[0]
	out := finished{datumMm: baseline, even: make([]bool, len(p.rows))}
	for i := range number {
		out.even[i] = p.toBaseline(i, baseline, number[i])
	}
	return out
}

// toBaseline brings one row to the baseline and reports whether it is equal by the last number read.
func (p *planter) toBaseline(i int, baseline, number float64) bool {
	last := 0.0
	for range handTries {
		effect := p.stepMm * math.Round((baseline-number)/p.stepMm)
		if p.equal(number, baseline) || effect == 0 || effect == -last { // nobody moves it back to where it stood
			break
		}
		p.move(i, effect)
		number, last = p.again(i, p.read(i), number+effect), effect
	}
	return p.equal(number, baseline)
}

// equal is within one ruling, or on the same mark for who is strict, whatever the last bits say.
func (p *planter) equal(a, b float64) bool {
	marks := 1.0
	if p.strict {
		marks = 0
	}
	return math.Abs(a-b) < (marks+0.001)*p.rulingMm
}

// again takes a second reading where the first is hard to believe.
func (p *planter) again(i int, number, expected float64) float64 {
	if !p.trusting && math.Abs(number-expected) > doubtfulMm {
		return p.read(i)
	}
	return number
}
