package proof

import (
	"fmt"
	"path/filepath"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/plotter"
	"gonum.org/v1/plot/plotutil"
	"gonum.org/v1/plot/vg"
)

// Picture is a drawing of lines over one axis.
type Picture struct {
	File  string // name of the SVG; it is drawn beside the text that shows it
	Title string
	X, Y  string // what the axes are, with their units
	Log   bool   // both axes are logarithmic; every number is then above 0
	Left  bool   // the lines' names stand on the left, for lines that rise
	Lines []Line
}

// Line is one line of a picture, from left to right.
type Line struct {
	Name   string
	Points []Point
}

// Point is one measured place.
type Point struct{ X, Y float64 }

// Draw writes the picture into a folder.
func (p Picture) Draw(folder string) error {
	drawn := plot.New()
	drawn.Title.Text, drawn.X.Label.Text, drawn.Y.Label.Text = p.Title, p.X, p.Y
	drawn.Legend.Top, drawn.Legend.Left = true, p.Left
	drawn.Add(plotter.NewGrid())
	if p.Log {
		drawn.X.Scale, drawn.Y.Scale = plot.LogScale{}, plot.LogScale{}
		drawn.X.Tick.Marker, drawn.Y.Tick.Marker = plot.LogTicks{Prec: -1}, plot.LogTicks{Prec: -1}
	}
	for i, line := range p.Lines {
		if err := add(drawn, i, line); err != nil {
			return fmt.Errorf("%s, %s: %w", p.File, line.Name, err)
		}
	}
	return drawn.Save(16*vg.Centimeter, 10*vg.Centimeter, filepath.Join(folder, p.File))
}

// add draws one line; color, dashes and points tell it from the others, also where it is printed in black.
func add(drawn *plot.Plot, i int, line Line) error {
	points := make(plotter.XYs, len(line.Points))
	for j, p := range line.Points {
		points[j] = plotter.XY{X: p.X, Y: p.Y}
	}
	stroke, marks, err := plotter.NewLinePoints(points)
	if err != nil {
		return err
	}
	stroke.Color, stroke.Dashes, stroke.Width = plotutil.Color(i), plotutil.Dashes(i), vg.Points(1.5)
	marks.Color, marks.Shape = plotutil.Color(i), plotutil.Shape(i)
	drawn.Add(stroke, marks)
	drawn.Legend.Add(line.Name, stroke, marks)
	return nil
}
