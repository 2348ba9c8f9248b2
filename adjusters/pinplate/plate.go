package main

import (
	"fmt"

	"rowdatum/adjusters/adjuster"
)

type figures struct {
	HolesMm []float64 `json:"holesMm"` // depth of each hole, rising
}

type setting struct {
	Hole int `json:"hole"` // 1 is the shallowest
}

type (
	travel   = adjuster.Travel[setting]
	position = adjuster.Position[setting]
	move     = adjuster.Move[figures, setting]
)

// plate is the arithmetic and the words of a plate with holes and a pin.
type plate struct{}

// Travel is every hole.
func (plate) Travel(f figures, at *setting) (travel, error) {
	if err := adjuster.Rising("figures.holesMm", f.HolesMm, "hole"); err != nil {
		return travel{}, err
	}
	if at.Hole > len(f.HolesMm) {
		return travel{}, adjuster.Wrong("setting.hole", "is %d, must be from 1 to %d", at.Hole, len(f.HolesMm))
	}
	return travel{Here: f.position(at.Hole), Positions: adjuster.Steps(1, len(f.HolesMm), f.position)}, nil
}

func (f figures) position(hole int) position {
	return position{Setting: setting{hole}, DepthMm: f.HolesMm[hole-1], Count: float64(hole)}
}

// Say gives the words.
func (plate) Say(m move) adjuster.Words {
	return adjuster.Words{Say: fmt.Sprintf(m.In("Move the pin %s %s, to hole %d."),
		m.Counted(), m.Direction(), m.To.Hole)}
}
