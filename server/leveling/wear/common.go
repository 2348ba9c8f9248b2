package wear

import (
	"cmp"
	"math"
	"slices"

	"rowdatum/server/leveling/estimate"
)

// DefaultZeroSdMm is how well a fixture's zero is the same from visit to visit; our choice, no source.
const DefaultZeroSdMm = 0.5

// zeroDegrees is how many degrees of freedom a fixture's stated zero is worth against the visits' own shifts; our choice,
// no source.
const zeroDegrees = 30

// Common is what the planter's middle rows lose alike, mm a hectare, positive deeper.
type Common struct {
	Fixture string   `json:"fixture,omitzero"` // whose zero it rests on
	Visits  int      `json:"visits,omitzero"`  // with that fixture
	Drift   Interval `json:"drift,omitzero"`
	sd      float64
	degrees float64
}

// sameZero lists the visits of the fixture that was used at most of them, its zero unchanged; nil: none at three
// different hectares.
func sameZero(p Problem) (fixture string, out zeros) {
	for _, v := range p.Visits {
		if v.Fixture == "" {
			continue
		}
		of, hectares := zeros{}, []float64{}
		for i, o := range p.Visits {
			if o.Fixture == v.Fixture {
				of[i] = cmp.Or(o.ZeroSdMm, DefaultZeroSdMm)
				hectares = append(hectares, o.Hectares)
			}
		}
		slices.Sort(hectares)
		if len(slices.Compact(hectares)) >= FewestVisits && len(of) > len(out) {
			fixture, out = v.Fixture, of
		}
	}
	return fixture, out
}

// common estimates the drift of the middle rows from absolute depths, the fixture's zero uncertain anew at each
// visit; nil: depths are not absolute. How far the visits lie from the line joins what is said of the zero.
func (s *slopes) common(p Problem) *Common {
	fixture, fixed := sameZero(p)
	if fixed == nil {
		return nil
	}
	used := 0.0
	for v := range fixed {
		if slices.ContainsFunc(s.chains, func(c *chain) bool { return slices.Contains(c.visits, v) }) {
			used++
		}
	}
	f := solveChains(s.chains, s.reseats, fixed)
	if f == nil || used < FewestVisits {
		return nil
	}
	a := f.slopes()
	a.degrees = zeroDegrees + used - 2
	a.variance = (zeroDegrees + max(0, a.squares-s.squares)) / a.degrees
	out := &Common{Fixture: fixture, Visits: int(used), degrees: a.degrees}
	// The rows in the middle are those that the readings put there: their mean errs little more than that of all rows, at
	// most like a median, π/2 of its variance, not like that of a third chosen beforehand, three times it (taken so, its
	// 90 % interval held 95 %).
	even := make([]float64, len(s.chains))
	for i := range even {
		even[i] = 1 / float64(len(even))
	}
	_, least := a.interval(even, p.Confidence)
	middle, most := a.interval(s.middle, p.Confidence)
	const share = (math.Pi/2 - 1) / (3 - 1)
	out.sd = math.Sqrt(least*least + share*max(0, most*most-least*least))
	half := estimate.StudentQuantile((1+p.Confidence)/2, a.degrees) * out.sd
	out.Drift = Interval{At: middle.At, From: middle.At - half, To: middle.At + half}
	return out
}

// whole is a row's drift with the common one added.
func (c *Common) whole(drift, sd, degrees, confidence float64) Interval {
	v, w := sd*sd, c.sd*c.sd
	together := v + w
	if together > 0 {
		degrees = together * together / (v*v/degrees + w*w/c.degrees) // Welch and Satterthwaite
	}
	at := drift + c.Drift.At
	half := estimate.StudentQuantile((1+confidence)/2, degrees) * math.Sqrt(together)
	return Interval{At: at, From: at - half, To: at + half}
}
