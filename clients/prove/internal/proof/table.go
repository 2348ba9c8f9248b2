package proof

import (
	"fmt"
	"io"
	"strconv"
	"strings"
)

// Table is what one proof says. Its last two columns, goal and ratio, are written from the rows.
type Table struct {
	Title    string
	Notes    []string // what was done and compared, a paragraph each
	Columns  []string // without goal and ratio
	Rows     []Row
	Pictures []Picture
}

// Row is one figure with what led to it.
type Row struct {
	Cells []string // one a column
	Ratio float64  // of two things measured in this run; its meaning stands in Notes
	Goal  Goal
}

// Goal is what a ratio is to be. The zero value asks for nothing.
type Goal struct {
	limit   float64
	most    float64 // with "to"
	asks    string  // "≥", "≤", "to" or "": nothing
	because string
}

// AtLeast asks for a ratio of limit or more.
func AtLeast(limit float64) Goal { return Goal{limit: limit, asks: "≥"} }

// AtMost asks for a ratio of limit or less.
func AtMost(limit float64) Goal { return Goal{limit: limit, asks: "≤"} }

// Between asks for a ratio from low to high.
func Between(low, high float64) Goal { return Goal{limit: low, most: high, asks: "to"} }

// Because tells why the goal is missed, for where it is.
func (g Goal) Because(reason string) Goal {
	g.because = reason
	return g
}

// Missed reports whether the row's ratio is not what its goal asks for.
func (r Row) Missed() bool {
	switch r.Goal.asks {
	case "≥":
		return !(r.Ratio >= r.Goal.limit)
	case "≤":
		return !(r.Ratio <= r.Goal.limit)
	case "to":
		return !(r.Ratio >= r.Goal.limit && r.Ratio <= r.Goal.most)
	}
	return false
}

// Unexplained returns the rows that miss their goal and do not say why.
func (t Table) Unexplained() (rows []Row) {
	for _, row := range t.Rows {
		if row.Missed() && row.Goal.because == "" {
			rows = append(rows, row)
		}
	}
	return rows
}

// Write writes the table as Markdown, its pictures named below it, and why goals were missed.
func (t Table) Write(w io.Writer) error {
	out := &strings.Builder{}
	fmt.Fprintf(out, "## %s\n\n", t.Title)
	for _, note := range t.Notes {
		fmt.Fprintf(out, "%s\n\n", note)
	}
	writeLine(out, append(append([]string{}, t.Columns...), "goal", "ratio"))
	writeLine(out, strings.Split(strings.Repeat("---|", len(t.Columns)+1)+"---", "|"))
	var reasons []string
	for _, row := range t.Rows {
		ratio := Figure(row.Ratio)
		if row.Missed() {
			ratio = "**" + ratio + "** missed"
			reasons = append(reasons, fmt.Sprintf("- Missed: %s (%s, wanted %s). %s", strings.Join(row.Cells[:1], ""), Figure(row.Ratio), row.Goal, row.Goal.because))
		}
		writeLine(out, append(append([]string{}, row.Cells...), row.Goal.String(), ratio))
	}
	out.WriteString("\n")
	if len(reasons) > 0 {
		out.WriteString(strings.Join(reasons, "\n") + "\n\n")
	}
	for _, p := range t.Pictures {
		fmt.Fprintf(out, "![%s](%s)\n\n", p.Title, p.File)
	}
	_, err := io.WriteString(w, out.String())
	return err
}

// String returns the goal as it stands in its column.
func (g Goal) String() string {
	switch g.asks {
	case "":
		return ""
	case "to":
		return fmt.Sprintf("%g to %g", g.limit, g.most)
	}
	return g.asks + " " + strconv.FormatFloat(g.limit, 'g', -1, 64)
}

func writeLine(out *strings.Builder, cells []string) {
	fmt.Fprintf(out, "| %s |\n", strings.Join(cells, " | "))
}

// Figure writes a number with three significant digits.
func Figure(x float64) string {
	switch {
	case x != x:
		return "none"
	case x >= 100 || x <= -100:
		return strconv.FormatFloat(x, 'f', 0, 64)
	}
	return strconv.FormatFloat(x, 'g', 3, 64)
}
