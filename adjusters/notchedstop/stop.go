package main

import (
	"fmt"

	"rowdatum/adjusters/adjuster"
)

type figures struct {
	Notches    int       `json:"notches"`
	MmPerNotch float64   `json:"mmPerNotch"` // or
	DepthsMm   []float64 `json:"depthsMm"`   // one a notch, rising
}

type setting struct {
	Notch int `json:"notch"` // 1 is the shallowest
}

type (
	travel   = adjuster.Travel[setting]
	position = adjuster.Position[setting]
	move     = adjuster.Move[figures, setting]
)

// depth is a notch's nominal depth.
func (f figures) depth(notch int) float64 {
	if f.DepthsMm != nil {
		return f.DepthsMm[notch-1]
	}
	return f.MmPerNotch * float64(notch)
}

// check finds what the schema cannot: a depth for every notch, rising.
func (f figures) check() error {
	if f.DepthsMm == nil {
		return nil
	}
	if len(f.DepthsMm) != f.Notches {
		return adjuster.Wrong("figures.depthsMm", "has %d depths, must have one for each of the %d notches", len(f.DepthsMm), f.Notches)
	}
	return adjuster.Rising("figures.depthsMm", f.DepthsMm, "notch")
}

// stop is the arithmetic and the words of a depth stop that moves in notches.
type stop struct{}

// Travel is every notch; without a setting every step within the whole travel both ways, which only
// even notches allow.
func (stop) Travel(f figures, at *setting) (travel, error) {
	if err := f.check(); err != nil {
		return travel{}, err
	}
	if at == nil {
		if f.DepthsMm != nil {
			return travel{}, adjuster.Wrong("setting", "is missing; where each notch has its own depth, the notch that the stop is in must be known")
		}
		return travel{Positions: adjuster.Steps(1-f.Notches, f.Notches-1, f.position)}, nil
	}
	if at.Notch > f.Notches {
		return travel{}, adjuster.Wrong("setting.notch", "is %d, must be from 1 to %d", at.Notch, f.Notches)
	}
	return travel{Here: f.position(at.Notch), Positions: adjuster.Steps(1, f.Notches, f.position)}, nil
}

func (f figures) position(notch int) position {
	return position{Setting: setting{notch}, DepthMm: f.depth(notch), Count: float64(notch)}
}

// Say gives the words.
func (stop) Say(m move) adjuster.Words {
	say := fmt.Sprintf(m.In("Move the depth stop %s %s"), m.Counted(), m.Direction())
	if m.To != nil {
		say += fmt.Sprintf(m.In(", to notch %d"), m.To.Notch)
	}
	return adjuster.Words{Say: say + "."}
}
