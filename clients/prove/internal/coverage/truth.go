package coverage

import (
	"math"
	"math/rand/v2"

	"rowdatum/clients/prove/internal/proof"
	pb "rowdatum/proto/gen/rowdatum/v1"
)

// fixture is a measuring fixture as it truly is, and as the service is told.
type fixture struct {
	ruling  float64 // mm
	scatter float64 // standard deviation of readings before they are rounded, mm
}

// luck is the chance of one trial with this fixture: the same for the same one, whatever runs beside it.
func (f fixture) luck(kind, trial int) *rand.Rand {
	return rand.New(rand.NewPCG(math.Float64bits(f.ruling)^math.Float64bits(f.scatter)<<1, uint64(kind)<<32|uint64(trial)))
}

// read reads a depth.
func (f fixture) read(rng *rand.Rand, depth float64) float64 {
	reading := depth + f.scatter*rng.NormFloat64()
	if f.ruling > 0 {
		reading = math.Round(reading/f.ruling) * f.ruling
	}
	return reading
}

// kind is a mechanism of which every planter here has rows.
type kind struct {
	id, style string
	figures   map[string]any
	step      float64 // nominal effect of a count, mm
	counts    float64 // in a step
	setting   map[string]any
}

var kinds = []kind{
	{"handle", "threaded-handle", map[string]any{"mmPerTurn": 6.35, "smallestTurn": 0.25, "totalTurns": 12}, 6.35, 0.25, map[string]any{"turns": 6}},
	{"stop", "notched-stop", map[string]any{"mmPerNotch": 6.0, "notches": 15}, 6, 1, map[string]any{"notch": 8}},
}

// truth is one row as it truly is.
type truth struct {
	kind
	depth   float64 // mm
	scale   float64 // real travel over nominal travel
	seating float64 // how differently it seats after a move, standard deviation, mm
}

// spread is how far true depths lie around the middle, either side, evenly: nothing but readings tells where a row is.
const middle, spread = 50, 9.0

// draw makes a row of one of the kinds, worn as its style says that rows are.
func draw(rng *rand.Rand, styles map[string]*pb.Style) truth {
	k := kinds[rng.IntN(len(kinds))]
	style := styles["styles/"+k.style]
	return truth{
		kind:    k,
		depth:   middle + spread*(2*rng.Float64()-1),
		scale:   1 + style.GetScaleSd()*rng.NormFloat64(),
		seating: style.GetSeatingMm(),
	}
}

// move moves the row by a nominal effect.
func (t *truth) move(rng *rand.Rand, effect float64) {
	t.depth += t.scale*effect + t.seating*rng.NormFloat64()
}

// mechanisms are all kinds.
func mechanisms() (out []*pb.Mechanism) {
	for _, k := range kinds {
		out = append(out, &pb.Mechanism{Id: k.id, Style: k.style, Figures: proof.Object(k.figures)})
	}
	return out
}
