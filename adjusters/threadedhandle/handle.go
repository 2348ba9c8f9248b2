package main

import (
	"fmt"
	"math"

	"rowdatum/adjusters/adjuster"
)

type figures struct {
	MmPerTurn    float64 `json:"mmPerTurn"`
	SmallestTurn float64 `json:"smallestTurn"`
	TotalTurns   float64 `json:"totalTurns"`
}

type setting struct {
	Turns float64 `json:"turns"` // from the shallow stop
}

type (
	travel   = adjuster.Travel[setting]
	position = adjuster.Position[setting]
	move     = adjuster.Move[figures, setting]
)

// handle is the arithmetic and the words of a threaded depth handle.
type handle struct{}

// Travel goes by whole steps from where the handle stands, so that one found between steps stays
// reachable; without a setting, by the whole travel both ways. Every position is a whole multiple of
// the step: rounding does not creep.
func (handle) Travel(f figures, at *setting) (travel, error) {
	shallower, deeper := f.TotalTurns, f.TotalTurns
	turns := 0.0
	if at != nil {
		if !(at.Turns <= f.TotalTurns) {
			return travel{}, adjuster.Wrong("setting.turns", "is %s, must be from 0 to %s (totalTurns)",
				adjuster.Number(at.Turns), adjuster.Number(f.TotalTurns))
		}
		turns = at.Turns
		shallower, deeper = turns, f.TotalTurns-turns
	}
	first, last := -steps(shallower, f.SmallestTurn), steps(deeper, f.SmallestTurn)
	if last-first >= adjuster.MaxOptions {
		return travel{}, adjuster.Wrong("figures.smallestTurn", "is %s, which makes more than %d settings within %s turns; make it larger",
			adjuster.Number(f.SmallestTurn), adjuster.MaxOptions, adjuster.Number(f.TotalTurns))
	}
	return travel{
		ShallowerLeftMm: f.MmPerTurn * shallower,
		DeeperLeftMm:    f.MmPerTurn * deeper,
		Positions: adjuster.Steps(first, last, func(k int) position {
			moved := float64(k) * f.SmallestTurn
			to := math.Max(0, math.Min(turns+moved, f.TotalTurns))
			return position{Setting: setting{to}, DepthMm: f.MmPerTurn * moved, Count: moved}
		}),
	}, nil
}

// steps is how many whole steps fit; a step that misses by rounding only (0.3 turns in steps of 0.1)
// counts.
func steps(turns, step float64) int {
	const rounding = 1e-9
	return int(math.Floor(turns/step + rounding))
}

// Say gives the words.
func (handle) Say(m move) adjuster.Words {
	return adjuster.Words{Say: fmt.Sprintf(m.In("Turn the depth handle %s %s."), m.Counted(), m.Direction())}
}
