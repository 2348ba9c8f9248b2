package optimum

import (
	"math"
	"math/rand/v2"
)

// sizes are the classes of planters that are asked, by their number of rows.
var sizes = [][2]int{{12, 18}, {19, 28}, {29, 40}}

// invent makes a planter of so many rows, ruled readings and all.
func invent(rng *rand.Rand, rows int) problem {
	p := problem{
		resolution: oneOf(rng, 0.0, 0.5, 1, 1.5875, 1.5875),
		repeat:     oneOf(rng, 0.3, 0.5, 0.8),
		floor:      oneOf(rng, 0.0, 0, 0.5),
		tolerance:  oneOf(rng, 1.6, 2.4, 3.175, 3.175, 4),
		confidence: oneOf(rng, 0.8, 0.9, 0.9, 0.95),
		miss:       oneOf(rng, 30.0, 120, 300, 900, 900, 1800),
		read:       oneOf(rng, 5.0, 20, 20, 40),
		mechanisms: fitted(rng),
	}
	if rng.IntN(6) == 0 { // read without a doubt, to the millimetre: ends of acceptance meet exactly
		p.resolution, p.repeat, p.floor, p.tolerance = 0, 0, 0, oneOf(rng, 1.0, 1.5, 2)
	}
	if rng.IntN(3) == 0 {
		p.shallower, p.deeper = oneOf(rng, 0.0, 10, 20), oneOf(rng, 5.0, 15, 25)
	}
	for range rows {
		p.rows = append(p.rows, p.inventRow(rng))
	}
	return p
}

// fitted are the mechanisms of one planter: what most rows have, and what some have.
func fitted(rng *rand.Rand) []mechanism {
	depths := []float64{30}
	for range 9 + rng.IntN(8) {
		depths = append(depths, depths[len(depths)-1]+oneOf(rng, 3.0, 4, 5, 6.5))
	}
	all := []mechanism{
		threaded(oneOf(rng, 3.175, 5, 6.35), oneOf(rng, 0.25, 0.5), oneOf(rng, 6.0, 8, 12)),
		notched(oneOf(rng, 4.0, 6), 10+rng.IntN(10)),
		uneven(depths),
		shimmed(oneOf(rng, -1.8, -1.5, 1.6), [][]float64{{0.5, 1, 2, 3}, {1, 2.5}, {0.75, 2}}[rng.IntN(3)], oneOf(rng, 8.0, 10, 12)),
	}
	rng.Shuffle(len(all), func(i, j int) { all[i], all[j] = all[j], all[i] })
	return all[:1+rng.IntN(len(all))]
}

func (p problem) inventRow(rng *rand.Rand) row {
	r := row{on: rng.IntN(len(p.mechanisms)), scale: 1, scaleSd: -1}
	if rng.IntN(2) == 0 {
		r.on = 0
	}
	r.setting = settingOf(rng, p.mechanisms[r.on])
	if rng.IntN(4) == 0 { // learned by an earlier job
		r.scale, r.scaleSd = 0.85+float64(rng.IntN(31))/100, oneOf(rng, 0.0, 0.02, 0.05)
	}
	depth := 50 + 3.5*rng.NormFloat64()
	if rng.IntN(8) == 0 {
		depth += 8 * rng.NormFloat64() // worn, or bumped
	}
	for range 1 + rng.IntN(3) {
		reading := depth + p.repeat*rng.NormFloat64()
		switch {
		case p.resolution > 0:
			reading = math.Round(reading/p.resolution) * p.resolution
		case p.repeat == 0:
			reading = math.Round(reading)
		}
		r.readings = append(r.readings, reading)
	}
	return r
}

// settingOf says where a mechanism stands, not far from the middle of its travel; nil where nobody knows.
func settingOf(rng *rand.Rand, m mechanism) map[string]any {
	figures, unknown := m.figures, rng.IntN(6) == 0
	switch {
	case m.trims:
		kit, shims := figures["kitMm"].([]any), []any{}
		for range rng.IntN(4) {
			shims = append(shims, kit[rng.IntN(len(kit))])
		}
		return map[string]any{"shimsMm": shims}
	case figures["depthsMm"] != nil:
		return map[string]any{"notch": 1 + rng.IntN(figures["notches"].(int))}
	case unknown:
		return nil
	case m.style == "notched-stop":
		return map[string]any{"notch": 1 + rng.IntN(figures["notches"].(int))}
	}
	return map[string]any{"turns": math.Round(figures["totalTurns"].(float64)*rng.Float64()*10) / 10} // also between its steps
}

func oneOf[T any](rng *rand.Rand, of ...T) T { return of[rng.IntN(len(of))] }
