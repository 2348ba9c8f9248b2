package optimum

import (
	"math"
	"testing"
)

// What the contract and the leveling plan state of uncertainties, rounded as they stand there.
func TestRuled(t *testing.T) {
	for _, c := range []struct {
		resolution, repeat float64
		readings           int
		u, rounded         float64
	}{
		{1.5875, 0.5, 1, 0.67824, 5e-6},
		{1.5875, 0.5, 2, 0.48091, 5e-6},
		{3.175, 0, 7, 3.175 / math.Sqrt(12), 1e-12},  // nothing scatters: no reading adds to the first
		{0, 0.6, 4, 0.3, 1e-12},                      // nothing is rounded
		{3.175, 0.5, 1 << 40, 0.73 / 1.644854, 5e-3}, // what stays of the rounding proves 0.73 mm
	} {
		if u := ruled(c.resolution, c.repeat, 0, c.readings); math.Abs(u-c.u) > c.rounded {
			t.Errorf("%d readings of a ruling of %v mm: %v mm, want %v", c.readings, c.resolution, u, c.u)
		}
	}
	if u := ruled(0, 0.3, 0.4, 1); math.Abs(u-0.5) > 1e-12 {
		t.Errorf("the floor joins to %v mm, want 0.5", u)
	}
}

// The smallest tolerances that readings prove are stated: there the half-width is 0, below there is none.
func TestHalfWidthBeginsWhereProvable(t *testing.T) {
	for _, c := range []struct{ resolution, provable, rounded float64 }{
		{1.5875, 1.1156, 5e-5}, {3.175, 1.72, 5e-3},
	} {
		u := ruled(c.resolution, 0.5, 0, 1)
		if half := halfWidth(u, c.provable-c.rounded, 0.9); half >= 0 {
			t.Errorf("ruling %v: accepts within %v mm where nothing is provable", c.resolution, half)
		}
		if half := halfWidth(u, c.provable+c.rounded, 0.9); half < 0 {
			t.Errorf("ruling %v: accepts nothing where it is provable", c.resolution)
		}
	}
}

// Far from the other end of the tolerance only one side counts: 1.281552 is the normal distribution's quantile of 0.9, 1.644854
// that of 0.95 (NIST/SEMATECH e-Handbook 1.3.6.7.1, from memory).
func TestHalfWidth(t *testing.T) {
	for _, c := range []struct{ u, tolerance, wanted, half float64 }{
		{0, 3.175, 0.9, 3.175},
		{0.3, 3, 0.9, 3 - 0.3*1.281552},
		{0.3, 3, 0.1, 3 + 0.3*1.281552}, // where the row is off
		{0.2, 2, 0.95, 2 - 0.2*1.644854},
	} {
		if half := halfWidth(c.u, c.tolerance, c.wanted); math.Abs(half-c.half) > 1e-6 {
			t.Errorf("u %v, tolerance %v, chance %v: %v mm, want %v", c.u, c.tolerance, c.wanted, half, c.half)
		}
	}
}
