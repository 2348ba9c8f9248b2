package plan

import (
	"math"
	"math/bits"
)

// pm is a depth in whole picometres. Lengths that decide are rounded to it once and then compared as
// integers, because floating point differs between processors in its last bits.
type pm int64

const (
	pmPerMm = 1e9
	// maxPm is 100 m, far above anything on a planter: sums over ten thousand rows stay within int64.
	maxPm pm = 1e14
	// beyondPm is further out than every option; as a datum it stands for all that are.
	beyondPm = 2 * maxPm
)

// toPm rounds; what is off every planter is held at 100 m.
func toPm(mm float64) pm {
	const limit = float64(maxPm)
	switch x := math.RoundToEven(mm * pmPerMm); {
	case x > limit:
		return maxPm
	case x < -limit:
		return -maxPm
	default:
		return pm(x)
	}
}

func (a pm) mm() float64 { return float64(a) / pmPerMm }

func (a pm) abs() pm { return max(a, -a) }

// half is a/2, rounded down.
func (a pm) half() pm { return a >> 1 }

// meanPm is sum/n rounded to the nearest, halves away from zero.
func meanPm(sum pm, n int) pm {
	m := pm(n)
	if sum < 0 {
		return -((-2*sum + m) / (2 * m))
	}
	return (2*sum + m) / (2 * m)
}

// wide is a signed integer of 128 bits: squares of picometres do not fit into 64.
type wide struct{ hi, lo uint64 }

func product(a, b pm) wide {
	hi, lo := bits.Mul64(uint64(a.abs()), uint64(b.abs()))
	if (a < 0) != (b < 0) {
		return wide{}.minus(wide{hi, lo})
	}
	return wide{hi, lo}
}

func (a wide) plus(b wide) wide {
	lo, carry := bits.Add64(a.lo, b.lo, 0)
	hi, _ := bits.Add64(a.hi, b.hi, carry)
	return wide{hi, lo}
}

func (a wide) minus(b wide) wide {
	lo, borrow := bits.Sub64(a.lo, b.lo, 0)
	hi, _ := bits.Sub64(a.hi, b.hi, borrow)
	return wide{hi, lo}
}

// millionths rounds a, pm² and not negative, to 1e-6 mm².
func (a wide) millionths() uint64 {
	const unit = 1e12 // pm² in 1e-6 mm²
	a = a.plus(wide{0, unit / 2})
	q, _ := bits.Div64(a.hi%unit, a.lo, unit)
	return q
}

// micros are seconds of work in whole microseconds, so that sums of them compare exactly.
type micros int64

func toMicros(seconds float64) micros {
	if seconds <= 0 {
		return 0
	}
	return micros(max(1, min(1e15, math.Round(seconds*1e6))))
}

func (m micros) seconds() float64 { return float64(m) / 1e6 }
