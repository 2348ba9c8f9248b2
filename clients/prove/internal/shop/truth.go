package shop

import (
	"math"
	"math/rand/v2"
	"slices"
)

// kind is a kind of depth mechanism as all rows of a planter have it.
type kind struct {
	title, style string
	figures      map[string]any
	place        string  // the key of its setting
	found        float64 // where each one stands when the planter comes in
	stepMm       float64 // nominal effect of the smallest count that it can be moved by
	lostMm       float64 // lost motion on reversal, nominal mm
	touchSeconds float64 // what its style says that getting at one, moving it and reading it again takes
}

// The two kinds that are tried, in the middle of their travel.
func threads() kind {
	return kind{
		title: "threaded", style: "threaded-handle", place: "turns", found: 8, stepMm: 6.35 / 4, lostMm: 0.6,
		figures: map[string]any{"mmPerTurn": 6.35, "smallestTurn": 0.25, "totalTurns": 16},
	}
}

func notches() kind {
	return kind{
		title: "notched", style: "notched-stop", place: "notch", found: 10, stepMm: 6,
		figures: map[string]any{"mmPerNotch": 6, "notches": 20},
	}
}

// fixture is what readings are taken with: a tape seen through a window.
type fixture struct {
	title               string
	rulingMm, scatterMm float64
}

// The common one, and coarser ones; their scatter is common practice, no source.
func sixteenth() fixture { return fixture{"1/16 inch", 25.4 / 16, 0.5} }
func eighth() fixture    { return fixture{"1/8 inch", 25.4 / 8, 0.5} }
func quarter() fixture   { return fixture{"1/4 inch", 25.4 / 4, 0.5} }

// scene is what the planters of one trial have in common.
type scene struct {
	kind
	fixture
	wear
	rows     int
	planters int
	trusting bool // nobody reads a number again because it is hard to believe, unless the service asks
	strict   bool // by hand only numbers on the same mark count as equal
}

// wear is what planters are like when they come in, every handle standing alike; ours, no source.
type wear struct {
	title  string
	rowsSd float64 // of the rows' depths but for wear, mm
	middle float64 // average wear in the middle, mm
	edges  float64 // more of it at the outermost rows, mm
}

// Those that are tried.
func alike() wear   { return wear{"level", 1, 0, 0} }
func usual() wear   { return wear{"edge-heavy", 1.5, 1, 5} }
func even() wear    { return wear{"even", 2.5, 0, 0} }
func neglect() wear { return wear{"neglected", 4, 2, 8} }

// What holds for every planter; ours, no source.
const (
	plantedMm   = 50  // a common depth
	wearPower   = 4   // how sharply it falls off from the edges
	wearCv      = 0.5 // of one row's wear
	scaleSd     = 0.08
	seatingSd   = 0.3  // mm
	misreadOdds = 0.01 // of one reading
	inchMm      = 25.4
)

// planter is one planter, and what was done to it.
type planter struct {
	scene
	rows   []row
	cameIn []float64 // the rows' depths then, mm
}

// row is the truth of one row. Its luck is its own, so that the k-th reading and the k-th move of a row have the same luck
// in every way of working.
type row struct {
	depthMm         float64
	scale           float64 // real travel over nominal travel
	slackMm         float64 // lost by the next move, because the handle was last turned the other way
	readings, moves int
	inStay, longest int // readings since the last move, and the most between two
	reading, moving *rand.Rand
}

// comesIn makes the planter of a number, always the same.
func (s scene) comesIn(number int) *planter {
	p := &planter{scene: s, rows: make([]row, s.rows), cameIn: make([]float64, s.rows)}
	for i := range p.rows {
		luck := rand.New(rand.NewPCG(uint64(number), uint64(3*i)))
		r := &p.rows[i]
		r.depthMm = plantedMm + s.rowsSd*luck.NormFloat64() - s.worn(i)*part(luck)
		p.cameIn[i] = r.depthMm
		r.scale = max(0.5, 1+scaleSd*luck.NormFloat64())
		if luck.IntN(2) == 0 {
			r.slackMm = s.lostMm
		}
		r.reading = rand.New(rand.NewPCG(uint64(number), uint64(3*i+1)))
		r.moving = rand.New(rand.NewPCG(uint64(number), uint64(3*i+2)))
	}
	return p
}

// worn is what the row at an index has lost of its depth on average.
func (s scene) worn(i int) float64 {
	fromMiddle := math.Abs(2*float64(i)/float64(s.rows-1) - 1)
	return s.middle + s.edges*math.Pow(fromMiddle, wearPower)
}

// part is how much of the average wear a row has: never less than none, and skewed, as wear is.
func part(luck *rand.Rand) float64 {
	const parts = 1 / (wearCv * wearCv)
	sum := 0.0
	for range int(parts) {
		sum += luck.ExpFloat64()
	}
	return sum / parts
}

// read takes one reading of the row at an index.
func (p *planter) read(i int) float64 {
	r := &p.rows[i]
	r.readings++
	r.inStay++
	r.longest = max(r.longest, r.inStay)
	scatter, odds := p.scatterMm*r.reading.NormFloat64(), r.reading.Float64()
	number := p.ruled(r.depthMm + scatter)
	switch {
	case odds < misreadOdds/4:
		return number + inchMm
	case odds < misreadOdds/2:
		return number - inchMm
	case odds < misreadOdds:
		return transposed(number)
	}
	return number
}

func (p *planter) ruled(mm float64) float64 {
	return p.rulingMm * math.Round(mm/p.rulingMm)
}

// transposed swaps the digits of the whole millimetres: 47.6 is taken down as 74.6.
func transposed(mm float64) float64 {
	whole := math.Floor(mm)
	tens, ones := math.Floor(whole/10), math.Mod(whole, 10)
	return mm + 9*(ones-tens)
}

// move moves the row at an index by so many nominal mm, finished in the direction that loads the thread, as everyone should:
// past it and back where need be. What the handle had been left slack is lost once.
func (p *planter) move(i int, nominalMm float64) {
	r := &p.rows[i]
	r.moves++
	r.inStay = 0
	r.depthMm += r.scale*(nominalMm-r.slackMm) + seatingSd*r.moving.NormFloat64()
	r.slackMm = 0
}

// depths are those of the rows now.
func (p *planter) depths() []float64 {
	out := make([]float64, len(p.rows))
	for i := range out {
		out[i] = p.rows[i].depthMm
	}
	return out
}

// spread is between the shallowest and the deepest.
func spread(depthsMm []float64) float64 { return slices.Max(depthsMm) - slices.Min(depthsMm) }
