package draw

import (
	"fmt"
	"math"
	"strconv"
	"strings"

	rowdatumv1 "rowdatum/proto/gen/rowdatum/v1"
)

// Sizes of a picture.
const (
	mostColumns = 36 // rows side by side; more go into a further picture
	mostLines   = 16 // of depth
	widestCell  = 6  // a row's column, characters
)

// picture shows every row as a column: where it was found and where the plan brings it, against the
// datum and the tolerance band. Deeper is further down. Rows stand by number, left to right as seen
// from behind.
func (d *drawing) picture() {
	rows := d.plan.GetRows()
	if len(rows) == 0 {
		return
	}
	d.title("THE PLANTER FROM BEHIND: ○ as found  ● when done  · within tolerance  ─ datum")
	g := d.grid()
	pictures := (len(rows) + mostColumns - 1) / mostColumns
	each := (len(rows) + pictures - 1) / pictures
	for start := 0; start < len(rows); start += each {
		if start > 0 {
			d.line("")
		}
		d.panel(g, rows[start:min(start+each, len(rows))])
	}
}

// grid is the scale of depth that all pictures of a plan share.
type grid struct {
	datumMm float64 // the middle of line 0
	stepMm  float64 // a line
	top     int     // the first line, 0 or less
	bottom  int     // the last line, 0 or more
}

// line is the line that a depth falls into.
func (g grid) line(mm float64) int { return int(math.Round((mm - g.datumMm) / g.stepMm)) }

// label writes the depth of a line.
func (d *drawing) label(g grid, y int) string { return d.scale.short(g.datumMm + float64(y)*g.stepMm) }

// labelWidth is that of the widest label, and of the word below them.
func (d *drawing) labelWidth(g grid) int {
	widest := len("row")
	for y := g.top; y <= g.bottom; y++ {
		widest = max(widest, len(d.label(g, y)))
	}
	return widest
}

// grid takes the smallest step that fits all depths and the band into the height.
func (d *drawing) grid() grid {
	datum := d.plan.GetDatumMm()
	low, high := datum-d.toleranceMm, datum+d.toleranceMm
	for _, row := range d.plan.GetRows() {
		for _, mm := range []float64{row.GetEstimateMm(), whenDone(row)} {
			low, high = math.Min(low, mm), math.Max(high, mm)
		}
	}
	g := grid{datumMm: datum}
	for _, g.stepMm = range d.readable() {
		g.top, g.bottom = g.line(low), g.line(high)
		if g.bottom-g.top < mostLines {
			return g
		}
	}
	g.stepMm = (high - low) / (mostLines - 2)
	g.top, g.bottom = g.line(low), g.line(high)
	return g
}

// readable are steps of depth that people read easily, mm: of inches or of mm.
func (d *drawing) readable() []float64 {
	if d.scale.inches {
		return []float64{25.4 / 16, 25.4 / 8, 25.4 / 4, 25.4 / 2, 25.4}
	}
	return []float64{0.5, 1, 2, 5, 10, 20}
}

// whenDone is where a row stands after the plan; a stuck row stays.
func whenDone(row *rowdatumv1.RowPlan) float64 {
	if row.PredictedMm == nil {
		return row.GetEstimateMm()
	}
	return row.GetPredictedMm()
}

// panel draws rows side by side.
func (d *drawing) panel(g grid, rows []*rowdatumv1.RowPlan) {
	labels := d.labelWidth(g)
	cell := min(widestCell, (width-labels-1)/len(rows))
	for y := g.top; y <= g.bottom; y++ {
		var l strings.Builder
		for _, row := range rows {
			ground := d.ground(g, y)
			l.WriteString(strings.Repeat(ground, cell/2) + d.point(g, row, y, ground) + strings.Repeat(ground, cell-cell/2-1))
		}
		d.line("%s┤%s", right(d.label(g, y), labels), l.String())
	}
	d.numbers(rows, cell, labels)
}

// ground is what shows where no row is.
func (d *drawing) ground(g grid, y int) string {
	switch {
	case y == 0:
		return "─"
	case math.Abs(float64(y)*g.stepMm) <= d.toleranceMm:
		return "·"
	}
	return " "
}

// point is what a row shows on line y: a ring as found, a dot when done, a line between the two.
func (d *drawing) point(g grid, row *rowdatumv1.RowPlan, y int, ground string) string {
	found, done := g.line(row.GetEstimateMm()), g.line(whenDone(row))
	switch {
	case y == done && row.PredictedMm != nil:
		return "●"
	case y == found:
		return "○"
	case y > min(found, done) && y < max(found, done):
		return "│"
	}
	return ground
}

// numbers writes the rows' numbers below, one digit a line where the columns are narrow.
func (d *drawing) numbers(rows []*rowdatumv1.RowPlan, cell, labels int) {
	longest := len(strconv.Itoa(int(rows[len(rows)-1].GetRow())))
	d.line("%s└%s", right(d.scale.unit(), labels), strings.Repeat("─", cell*len(rows)))
	if longest < cell {
		var l strings.Builder
		for _, row := range rows {
			text := right(strconv.Itoa(int(row.GetRow())), cell/2+1)
			l.WriteString(text + strings.Repeat(" ", cell-len(text)))
		}
		d.line("%s %s", right("row", labels), l.String())
		return
	}
	for digit := range longest {
		var l strings.Builder
		for _, row := range rows {
			text := fmt.Sprintf("%*d", longest, row.GetRow())
			l.WriteString(strings.Repeat(" ", cell/2) + text[digit:digit+1] + strings.Repeat(" ", cell-cell/2-1))
		}
		label := ""
		if digit == 0 {
			label = "row"
		}
		d.line("%s %s", right(label, labels), l.String())
	}
}
