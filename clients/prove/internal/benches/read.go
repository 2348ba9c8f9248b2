package benches

import (
	"fmt"
	"io"
	"slices"
	"strconv"
	"strings"
	"time"

	"golang.org/x/perf/benchfmt"

	"rowdatum/clients/prove/internal/proof"
)

// columns of every table. A benchmark reports its ratio as "ratio", its speed beside a bare baseline's, or as "x-sort", its
// time in times of what it calls sort.
var columns = []string{"benchmark", "time an op", "besides", "compared with"}

// Read makes a table for each package from the output of go test -bench. A line that a benchmark did not write is skipped;
// a benchmark that compares itself with nothing is an error, and so is a goal whose benchmark did not run.
func Read(r io.Reader) ([]proof.Table, error) {
	var tables []proof.Table
	met := map[string]bool{}
	for reader := benchfmt.NewReader(r, "benchmarks"); reader.Scan(); {
		result, ok := reader.Result().(*benchfmt.Result)
		if !ok {
			continue
		}
		title := strings.TrimPrefix(result.GetConfig("pkg"), "rowdatum/")
		if len(tables) == 0 || tables[len(tables)-1].Title != title {
			tables = append(tables, proof.Table{Title: title, Columns: columns})
		}
		row, err := row(result)
		if err != nil {
			return nil, err
		}
		met[row.Cells[0]] = true
		table := &tables[len(tables)-1]
		table.Rows = append(table.Rows, row)
		table.Pictures = extend(table.Pictures, result)
	}
	for name := range goals {
		if !met[name] {
			return nil, fmt.Errorf("%s has a goal and did not run", name)
		}
	}
	for i := range tables {
		tables[i].Pictures = slices.DeleteFunc(tables[i].Pictures, func(p proof.Picture) bool { return len(p.Lines[0].Points) < 3 })
	}
	return tables, nil
}

// row makes one benchmark's row.
func row(result *benchfmt.Result) (proof.Row, error) {
	name := name(result)
	out := proof.Row{Cells: []string{name, "", "", ""}, Goal: goals[name]}
	compared := false
	var besides []string
	for _, v := range result.Values {
		switch against, times := strings.CutPrefix(v.Unit, "x-"); {
		case v.Unit == "ratio" || times:
			out.Ratio, compared = v.Value, true
			out.Cells[3] = "time of " + strings.ReplaceAll(against, "-", " ")
			if !times {
				out.Cells[3] = "speed of the bare baseline"
			}
		case v.Unit == "sec/op":
			out.Cells[1] = duration(v.Value)
		default:
			besides = append(besides, proof.Figure(v.Value)+" "+v.Unit)
		}
	}
	if !compared {
		return out, fmt.Errorf("%s reports no ratio: compare it with a bare baseline of the same run", name)
	}
	out.Cells[2] = strings.Join(besides, ", ")
	return out, nil
}

// name is a benchmark's name without the number of processors.
func name(result *benchfmt.Result) string {
	base, parts := result.Name.Parts()
	out := string(base)
	for _, part := range parts {
		if part[0] != '-' {
			out += string(part)
		}
	}
	return out
}

func duration(seconds float64) string {
	d := time.Duration(seconds * 1e9)
	switch {
	case d > 100*time.Millisecond:
		d = d.Round(time.Millisecond)
	case d > 100*time.Microsecond:
		d = d.Round(time.Microsecond)
	}
	return d.String()
}

// extend adds a benchmark to the picture of its series, if it has a number of its own: Solve/rows=48.
func extend(pictures []proof.Picture, result *benchfmt.Result) []proof.Picture {
	series, what, n, ok := numbered(name(result))
	y, timed := result.Value("sec/op")
	if !ok || !timed {
		return pictures
	}
	file := strings.ToLower(strings.NewReplacer("/", "-", "=", "-").Replace(series+"-"+what)) + ".svg"
	i := slices.IndexFunc(pictures, func(p proof.Picture) bool { return p.File == file })
	if i < 0 {
		i = len(pictures)
		pictures = append(pictures, proof.Picture{File: file, Title: series, X: what, Y: "ms an op", Log: true, Lines: []proof.Line{{Name: series}}})
	}
	line := &pictures[i].Lines[0]
	line.Points = append(line.Points, proof.Point{X: n, Y: y * 1000})
	return pictures
}

// numbered parts "Solve/rows=48" into its series, what is counted, and the number.
func numbered(name string) (series, what string, n float64, ok bool) {
	slash := strings.LastIndexByte(name, '/')
	what, number, found := strings.Cut(name[slash+1:], "=")
	if slash < 0 || !found {
		return "", "", 0, false
	}
	n, err := strconv.ParseFloat(number, 64)
	return name[:slash], what, n, err == nil && n > 0
}
