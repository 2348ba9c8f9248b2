package adjuster_test

import (
	"context"
	"fmt"

	"rowdatum/adjusters/adjuster"
	adjusterv1 "rowdatum/proto/gen/rowdatum/adjuster/v1"
)

// A whole adjuster: a rod with evenly spaced holes for a pin.
type figures struct {
	MmPerHole float64 `json:"mmPerHole"`
	Holes     int     `json:"holes"`
}

type setting struct {
	Hole int `json:"hole"`
}

type rod struct{}

func (rod) Travel(f figures, at *setting) (adjuster.Travel[setting], error) {
	if at.Hole > f.Holes {
		return adjuster.Travel[setting]{}, adjuster.Wrong("setting.hole", "is %d, must be from 1 to %d", at.Hole, f.Holes)
	}
	hole := func(n int) adjuster.Position[setting] {
		return adjuster.Position[setting]{Setting: setting{n}, DepthMm: f.MmPerHole * float64(n), Count: float64(n)}
	}
	return adjuster.Travel[setting]{Here: hole(at.Hole), Positions: adjuster.Steps(1, f.Holes, hole)}, nil
}

func (rod) Say(m adjuster.Move[figures, setting]) adjuster.Words {
	return adjuster.Words{Say: fmt.Sprintf("Move the pin %s %s, to hole %d.", m.Counted(), m.Direction(), m.To.Hole)}
}

var style = adjuster.Style{
	ID: "pinned-rod", Version: "1.0.0", SetsPlantingDepth: true, ScaleSd: 0.05, SeatingMm: 0.3, TouchSeconds: 60,
	English: adjuster.Text{Title: "Rod with a pin", CountUnit: adjuster.CountUnit{One: "hole", Other: "holes"}},
	FiguresSchema: `{"type": "object", "additionalProperties": false, "required": ["mmPerHole", "holes"], "properties": {
		"mmPerHole": {"type": "number", "title": "Depth per hole", "description": "At the opener.", "x-unit": "mm", "minimum": 1, "maximum": 50},
		"holes": {"type": "integer", "title": "Holes", "description": "Hole 1 is the shallowest.", "minimum": 2, "maximum": 50}}}`,
	SettingSchema: `{"type": "object", "additionalProperties": false, "required": ["hole"], "properties": {
		"hole": {"type": "integer", "title": "Hole", "description": "The hole that the pin is in.", "minimum": 1, "maximum": 50}}}`,
}

// The program's whole main is
//
//	func main() { adjuster.Serve(style, rod{}) }
//
// Here the same adjuster is asked in this process.
func Example() {
	a, err := adjuster.New(style, rod{})
	if err != nil {
		fmt.Println(err)
		return
	}
	ctx := context.Background()
	mechanisms := []*adjusterv1.MechanismFigures{{Figures: `{"mmPerHole": 12.7, "holes": 4}`}}
	at := `{"hole": 2}`
	options, err := a.Options(ctx, &adjusterv1.OptionsRequest{Mechanisms: mechanisms, Rows: []*adjusterv1.RowSetting{{Setting: at}, {Setting: `{"hole": 9}`}}})
	if err != nil {
		fmt.Println(err)
		return
	}
	for _, o := range options.GetRows()[0].GetOptions() {
		fmt.Printf("%+.1f mm: %s\n", o.GetEffectMm(), o.GetSettingAfter())
	}
	for _, v := range options.GetRows()[1].GetViolations() {
		fmt.Println(v.GetField(), v.GetMessage())
	}
	said, err := a.Say(ctx, &adjusterv1.SayRequest{Mechanisms: mechanisms, Choices: []*adjusterv1.Choice{{Setting: at, Option: options.GetRows()[0].GetOptions()[3]}}})
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Println(said.GetWords()[0].GetSay())
	// Output:
	// -12.7 mm: {"hole":1}
	// +0.0 mm: {"hole":2}
	// +12.7 mm: {"hole":3}
	// +25.4 mm: {"hole":4}
	// setting.hole is 9, must be from 1 to 4
	// Move the pin 2 holes deeper, to hole 4. Keep hands clear of pinch points while anything moves.
}
