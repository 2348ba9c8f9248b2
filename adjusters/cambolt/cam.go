package main

import (
	"fmt"
	"math"

	"rowdatum/adjusters/adjuster"
)

type figures struct {
	ThrowMm      float64 `json:"throwMm"`
	ClickDegrees float64 `json:"clickDegrees"`
}

type setting struct {
	Degrees float64 `json:"degrees"` // 0 is the shallowest
}

type (
	travel   = adjuster.Travel[setting]
	position = adjuster.Position[setting]
	move     = adjuster.Move[figures, setting]
)

const halfTurn = 180 // degrees, from the shallowest to the deepest

// cam is the arithmetic and the words of an eccentric bolt.
type cam struct{}

// Travel is every click, counted from 0 degrees. A cam found between clicks goes to the clicks.
func (cam) Travel(f figures, at *setting) (travel, error) {
	return travel{Here: f.position(at.Degrees), Positions: adjuster.Steps(0, clicks(f.ClickDegrees), func(k int) position {
		return f.position(math.Min(float64(k)*f.ClickDegrees, halfTurn))
	})}, nil
}

// clicks is how many there are in half a turn; a last one that misses by rounding only counts.
func clicks(degrees float64) int {
	const rounding = 1e-9
	return int(math.Floor(halfTurn/degrees + rounding))
}

// position is where the cam is at an angle. Depth is throw·(1 − cos angle), written by the half angle,
// which keeps its digits near 0.
func (f figures) position(degrees float64) position {
	half := math.Sin(degrees / 2 * math.Pi / halfTurn)
	return position{Setting: setting{degrees}, DepthMm: 2 * f.ThrowMm * half * half, Count: degrees / f.ClickDegrees}
}

// Say gives the words.
func (cam) Say(m move) adjuster.Words {
	return adjuster.Words{Say: fmt.Sprintf(m.In("Turn the cam bolt %s %s, to %s degrees."),
		m.Counted(), m.Direction(), adjuster.Number(m.To.Degrees))}
}
