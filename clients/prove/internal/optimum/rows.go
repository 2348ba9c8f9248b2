package optimum

import (
	"cmp"
	"math"
	"slices"
)

// problem is one planter as found, and what its plan is to reach: all that is asked of the service.
type problem struct {
	resolution, repeat, floor float64 // mm
	tolerance, confidence     float64
	miss, read                float64 // seconds
	shallower, deeper         float64 // travel to keep, mm
	mechanisms                []mechanism
	rows                      []row
}

// row is one row as found.
type row struct {
	on       int            // index of its mechanism
	setting  map[string]any // nil: nobody knows
	readings []float64      // mm
	scale    float64        // real travel over nominal travel
	scaleSd  float64        // negative: what its style says
}

// figured is a row with what follows from it.
type figured struct {
	depth, u float64   // as found, mm
	off      float64   // a datum so far from the depth tells that the row is off, mm
	touch    float64   // seconds
	again    []float64 // a datum so near accepts the row after 1, 2, … further readings that agree, mm; negative: none does
	options  []option  // by rising depth
}

// option is one place that a row can be brought to.
type option struct {
	effect float64 // nominal, mm; 0 leaves the row
	depth  float64 // predicted, mm
	half   float64 // a datum so near accepts it, once read there if it is moved, mm; negative: none does
	reach  bool    // keeps the travel that the season needs
}

// mostReadings is how often one row is read at most.
const mostReadings = 20

// figure works every row out.
func (p problem) figure() []figured {
	out := make([]figured, len(p.rows))
	for i, r := range p.rows {
		out[i] = p.figureRow(r)
	}
	return out
}

func (p problem) figureRow(r row) figured {
	m := p.mechanisms[r.on]
	out := figured{depth: mean(r.readings), u: ruled(p.resolution, p.repeat, p.floor, len(r.readings)), touch: m.touch}
	out.off = max(0, halfWidth(out.u, p.tolerance, 1-p.confidence))
	scaleSd := m.scaleSd
	if r.scaleSd >= 0 {
		scaleSd = r.scaleSd
	}
	for k := len(r.readings) + 1; k <= mostReadings; k++ {
		out.again = append(out.again, halfWidth(ruled(p.resolution, p.repeat, p.floor, k), p.tolerance, p.confidence))
	}
	free := r.setting == nil || m.trims
	at := m.travel(r.setting)
	for _, place := range at.places {
		effect, u := place-at.here, out.u
		if effect != 0 {
			foretold := u*u + effect*effect*scaleSd*scaleSd + m.seating*m.seating
			u = readOnce(p.resolution, p.repeat, p.floor, foretold)
		}
		out.options = append(out.options, option{
			effect: effect,
			depth:  out.depth + r.scale*effect,
			half:   halfWidth(u, p.tolerance, p.confidence),
			reach:  free || keeps(place-at.shallowest, p.shallower) && keeps(at.deepest-place, p.deeper),
		})
	}
	slices.SortFunc(out.options, func(a, b option) int { return cmp.Compare(a.depth, b.depth) })
	return out
}

// keeps compares to the picometre, as leveling is told to.
func keeps(left, wanted float64) bool { return math.Round(left*1e9) >= math.Round(wanted*1e9) }

// reached are the options that keep the season's travel.
func (f figured) reached() []option {
	return slices.DeleteFunc(slices.Clone(f.options), func(o option) bool { return !o.reach })
}

func mean(values []float64) float64 {
	sum := 0.0
	for _, v := range values {
		sum += v
	}
	return sum / float64(len(values))
}
