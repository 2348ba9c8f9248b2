package wear

import (
	"math"

	"rowdatum/server/leveling"
	"rowdatum/server/leveling/estimate"
)

// Part is the history of one inspected part.
type Part struct {
	Points        []Measured // since it was last changed, oldest first
	UncertaintyMm float64    // of one value
	Limit         *float64   // nil: none
	WorseWhen     leveling.WorseWhen
}

// Measured is one value of a part.
type Measured struct {
	Hectares, Value float64
}

// PartTrend is what the history of a part says.
type PartTrend struct {
	Last         float64  `json:"last,omitzero"`
	Worn         bool     `json:"worn,omitzero"`          // past its limit
	Enough       bool     `json:"enough,omitzero"`        // without it there is no slope
	Slope        Interval `json:"slope,omitzero"`         // a hectare
	HectaresLeft *Left    `json:"hectaresLeft,omitempty"` // nil: no limit, or not enough history
}

// DefaultPartUncertaintyMm is how well a diameter or a gap is measured with a tape or a caliper on a dirty
// part; our choice, no source.
const DefaultPartUncertaintyMm = 0.5

// Trend fits a line to a part's history, three values at least at three different hectares, and projects it to
// the limit. The hectares left are those at which the limit lies within the line's own interval (Fieller).
func Trend(part Part, confidence float64) PartTrend {
	n := len(part.Points)
	if n == 0 {
		return PartTrend{}
	}
	out := PartTrend{Last: part.Points[n-1].Value}
	if part.Limit != nil {
		over := out.Last - *part.Limit
		out.Worn = part.WorseWhen == leveling.WorseLarger && over >= 0 || part.WorseWhen == leveling.WorseSmaller && over <= 0
	}
	now := part.Points[n-1].Hectares
	seen := map[float64]bool{}
	x, y := make([][]float64, n), make([]float64, n)
	for i, m := range part.Points {
		seen[m.Hectares] = true
		x[i], y[i] = []float64{1, m.Hectares - now}, m.Value
	}
	if out.Enough = len(seen) >= FewestVisits; !out.Enough {
		return out
	}
	f := leastSquares(x, y)
	u := max(leastMm, part.UncertaintyMm)
	degrees := scatterDegrees + float64(f.degrees)
	variance := (scatterDegrees*u*u + f.squares) / degrees
	t := estimate.StudentQuantile((1+confidence)/2, degrees)
	slope, half := f.coefficients[1], t*math.Sqrt(variance*f.inverse[1][1])
	out.Slope = Interval{At: slope, From: slope - half, To: slope + half}
	if part.Limit != nil {
		out.HectaresLeft = crossing(f, *part.Limit, t*t*variance)
		if out.Worn {
			out.HectaresLeft = &Left{From: new(float64), To: new(float64)}
		}
	}
	return out
}

// crossing is where, from 0 on, the limit lies within the line's interval:
// (a + b·h − limit)² ≤ g·(c_aa + 2h·c_ab + h²·c_bb).
func crossing(f fit, limit, g float64) *Left {
	above := f.coefficients[0] - limit
	slope := f.coefficients[1]
	square := slope*slope - g*f.inverse[1][1]
	middle := slope*above - g*f.inverse[0][1]
	start := above*above - g*f.inverse[0][0]
	root := math.Sqrt(max(0, middle*middle-square*start))
	switch low, high := (-middle-root)/square, (-middle+root)/square; {
	case square == 0: // the slope is just not certain: no end in sight
		return &Left{From: new(max(0, -start/(2*middle)))}
	case start <= 0 && square < 0, start <= 0 && high <= 0: // the limit may be reached already
		return &Left{From: new(float64)}
	case start <= 0:
		return &Left{From: new(float64), To: &high}
	case square < 0: // either way is possible: high is the root below 0
		return &Left{From: &low}
	case high < 0: // it moves away from the limit
		return &Left{}
	default:
		return &Left{From: &low, To: &high}
	}
}
