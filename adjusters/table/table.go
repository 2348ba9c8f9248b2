package main

import (
	"fmt"
	"slices"
	"strings"

	"rowdatum/adjusters/adjuster"
)

type figures struct {
	Settings []string  `json:"settings"` // from the shallowest to the deepest
	DepthsMm []float64 `json:"depthsMm"` // one a setting, rising
}

type setting struct {
	At string `json:"at"`
}

type (
	travel   = adjuster.Travel[setting]
	position = adjuster.Position[setting]
	move     = adjuster.Move[figures, setting]
)

// table is the arithmetic and the words of a mechanism that is a list of settings.
type table struct{}

// Travel is every setting of the table.
func (table) Travel(f figures, at *setting) (travel, error) {
	if err := f.check(); err != nil {
		return travel{}, err
	}
	here := slices.Index(f.Settings, at.At)
	if here < 0 {
		return travel{}, adjuster.Wrong("setting.at", "is %q, must be a setting of the table: %s", at.At, strings.Join(f.shown(), ", "))
	}
	return travel{Here: f.position(here), Positions: adjuster.Steps(0, len(f.Settings)-1, f.position)}, nil
}

// check finds what the schema cannot: a depth for every setting, rising, and names that tell them apart.
func (f figures) check() error {
	var wrong adjuster.Violations
	first := map[string]int{}
	for i, name := range f.Settings {
		field := fmt.Sprintf("figures.settings[%d]", i)
		if j, twice := first[name]; twice {
			wrong = append(wrong, adjuster.Violation{Field: field, Message: fmt.Sprintf("is %q, which settings[%d] is too; every setting needs a name of its own", name, j)})
			continue
		}
		first[name] = i
		if strings.TrimSpace(name) == "" {
			wrong = append(wrong, adjuster.Violation{Field: field, Message: "is blank, must be a name"})
		}
	}
	if len(f.DepthsMm) != len(f.Settings) {
		wrong = append(wrong, adjuster.Violation{Field: "figures.depthsMm",
			Message: fmt.Sprintf("has %d depths, must have one for each of the %d settings", len(f.DepthsMm), len(f.Settings))})
	}
	if falling, ok := adjuster.Rising("figures.depthsMm", f.DepthsMm, "setting").(adjuster.Violations); ok {
		wrong = append(wrong, falling...)
	}
	if wrong == nil {
		return nil
	}
	return wrong
}

// shown are as many names as a message can bear.
func (f figures) shown() []string {
	const most = 10
	if len(f.Settings) <= most {
		return f.Settings
	}
	return append(slices.Clone(f.Settings[:most]), "…")
}

func (f figures) position(i int) position {
	return position{Setting: setting{f.Settings[i]}, DepthMm: f.DepthsMm[i], Count: float64(i)}
}

// Say gives the words.
func (table) Say(m move) adjuster.Words {
	return adjuster.Words{Say: fmt.Sprintf(m.In("Move from %s to %s, %s %s."),
		m.From.At, m.To.At, m.Counted(), m.Direction())}
}
