package draw

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"
)

// Sizes of a picture.
const (
	mostColumns = 36 // rows side by side; more go into a further picture
	mostLines   = 16 // of depth
	widestCell  = 6  // a row's column, characters
)

// picture shows every row as a column: where it was found and where it is in the end, against the datum
// and the tolerance band. Deeper is further down. Rows stand by number, left to right as seen from behind.
type picture struct {
	*page
	scale
	rows        []pictured
	datumMm     *float64 // nil: there is none yet, and no band
	toleranceMm float64
}

// pictured is one row's column.
type pictured struct {
	row     int32
	foundMm *float64 // nil: not read
	endMm   *float64 // nil: it stays as found
	mark    string   // of its end
}

// picture shows what the plan does.
func (d *drawing) picture() {
	p := picture{page: &d.page, scale: d.scale, datumMm: &d.plan.DatumMm, toleranceMm: d.toleranceMm}
	for _, row := range d.plan.GetRows() {
		p.rows = append(p.rows, pictured{row.GetRow(), &row.EstimateMm, row.PredictedMm, "●"})
	}
	p.draw("○ as found  ● when done  · within tolerance  ─ datum")
}

// draw does nothing where no row is read.
func (p picture) draw(legend string) {
	depths := p.depths()
	if len(depths) == 0 {
		return
	}
	p.title("THE PLANTER FROM BEHIND: " + legend)
	g := p.grid(depths)
	pictures := (len(p.rows) + mostColumns - 1) / mostColumns
	each := (len(p.rows) + pictures - 1) / pictures
	for start := 0; start < len(p.rows); start += each {
		if start > 0 {
			p.line("")
		}
		p.panel(g, p.rows[start:min(start+each, len(p.rows))])
	}
}

// depths are those of all rows.
func (p picture) depths() []float64 {
	var depths []float64
	for _, row := range p.rows {
		for _, mm := range []*float64{row.foundMm, row.endMm} {
			if mm != nil {
				depths = append(depths, *mm)
			}
		}
	}
	return depths
}

// grid is the scale of depth that all panels of a picture share.
type grid struct {
	toldMm float64 // to what depths are rounded, as in the table of rows
	baseMm float64 // the middle of line 0: the datum, or the shallowest depth
	stepMm float64 // a line
	top    int     // the first line, 0 or less
	bottom int     // the last line, 0 or more
}

// line is the line that a depth falls into, as the table of rows tells it.
func (g grid) line(mm float64) int { return int(math.Round((g.told(mm) - g.baseMm) / g.stepMm)) }

func (g grid) told(mm float64) float64 { return math.Round(mm/g.toldMm) * g.toldMm }

// label writes the depth of a line.
func (p picture) label(g grid, y int) string { return p.short(g.baseMm + float64(y)*g.stepMm) }

// labelWidth is that of the widest label, and of the word below them.
func (p picture) labelWidth(g grid) int {
	widest := len("row")
	for y := g.top; y <= g.bottom; y++ {
		widest = max(widest, len(p.label(g, y)))
	}
	return widest
}

// grid takes the smallest step that fits all depths and the band into the height.
func (p picture) grid(depths []float64) grid {
	g := grid{toldMm: p.told(), baseMm: slices.Min(depths)}
	if p.datumMm != nil {
		g.baseMm = *p.datumMm
		depths = append(depths, g.baseMm-p.toleranceMm, g.baseMm+p.toleranceMm)
	}
	g.baseMm = g.told(g.baseMm)
	low, high := slices.Min(depths), slices.Max(depths)
	for _, g.stepMm = range p.readable() {
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
func (p picture) readable() []float64 {
	if p.inches {
		steps := []float64{25.4 / 16, 25.4 / 8, 25.4 / 4, 25.4 / 2, 25.4}
		// A step finer than the ruling would give two lines one label.
		return slices.DeleteFunc(steps, func(mm float64) bool { return p.ruling > 0 && mm < 25.4/float64(p.ruling)-1e-9 })
	}
	return []float64{0.5, 1, 2, 5, 10, 20}
}

// panel draws rows side by side.
func (p picture) panel(g grid, rows []pictured) {
	labels := p.labelWidth(g)
	cell := min(widestCell, (width-labels-1)/len(rows))
	for y := g.top; y <= g.bottom; y++ {
		var l strings.Builder
		for _, row := range rows {
			ground := p.ground(g, y)
			l.WriteString(strings.Repeat(ground, cell/2) + row.point(g, y, ground) + strings.Repeat(ground, cell-cell/2-1))
		}
		p.line("%s┤%s", right(p.label(g, y), labels), l.String())
	}
	p.numbers(rows, cell, labels)
}

// ground is what shows where no row is.
func (p picture) ground(g grid, y int) string {
	switch {
	case p.datumMm == nil:
		return " "
	case y == 0:
		return "─"
	case math.Abs(float64(y)*g.stepMm) <= p.toleranceMm:
		return "·"
	}
	return " "
}

// point is what a row shows on line y: a ring as found, its mark in the end, a line between the two.
func (r pictured) point(g grid, y int, ground string) string {
	found, end := r.foundMm, r.endMm
	switch {
	case end != nil && y == g.line(*end):
		return r.mark
	case found != nil && y == g.line(*found):
		return "○"
	case found == nil || end == nil:
		return ground
	}
	if from, to := g.line(*found), g.line(*end); y > min(from, to) && y < max(from, to) {
		return "│"
	}
	return ground
}

// numbers writes the rows' numbers below, one digit a line where the columns are narrow.
func (p picture) numbers(rows []pictured, cell, labels int) {
	longest := len(strconv.Itoa(int(rows[len(rows)-1].row)))
	p.line("%s└%s", right(p.unit(), labels), strings.Repeat("─", cell*len(rows)))
	if longest < cell {
		var l strings.Builder
		for _, row := range rows {
			text := right(strconv.Itoa(int(row.row)), cell/2+1)
			l.WriteString(text + strings.Repeat(" ", cell-len(text)))
		}
		p.line("%s %s", right("row", labels), l.String())
		return
	}
	for digit := range longest {
		var l strings.Builder
		for _, row := range rows {
			text := fmt.Sprintf("%*d", longest, row.row)
			l.WriteString(strings.Repeat(" ", cell/2) + text[digit:digit+1] + strings.Repeat(" ", cell-cell/2-1))
		}
		label := ""
		if digit == 0 {
			label = "row"
		}
		p.line("%s %s", right(label, labels), l.String())
	}
}
