package benches_test

import (
	"strings"
	"testing"

	"rowdatum/clients/prove/internal/benches"
	"rowdatum/clients/prove/internal/proof"
)

// every is what the benchmarks that have a goal print, told shortly.
const every = `goos: linux
pkg: rowdatum/server/cmd/rowdatumd
BenchmarkAppendOverGRPC-2 	 12	 95000000 ns/op	 5156 appends/s	 7.079 p99-ms	 0.3124 ratio
pkg: rowdatum/server/internal/store
BenchmarkAppend/sqlite/writers=1-2   	 1	 274994697 ns/op	 0.8111 ratio
BenchmarkAppend/sqlite/writers=16-2  	 1	 38885057 ns/op	 0.7964 ratio
BenchmarkAppend/postgres/writers=1-2 	 1	 665152576 ns/op	 0.8233 ratio
BenchmarkAppend/postgres/writers=16-2	 1	 253633398 ns/op	 0.65 ratio
BenchmarkMillion/opening-2   	 1	 21372104 ns/op	 1.302 x-a-thousand
BenchmarkMillion/planters-2  	 1	 2299723 ns/op	 1.042 x-a-thousand
BenchmarkMillion/appending-2 	 1	 17827725 ns/op	 0.6149 x-a-thousand
pkg: rowdatum/server/leveling/plan
BenchmarkSolve/rows=6-2     	 1	 20000 ns/op	 7.5 x-sort	 98024 B/op
BenchmarkSolve/rows=48-2    	 1	 181590 ns/op	 6.093 x-sort	 98024 B/op
some line of a benchmark's own
BenchmarkSolve/rows=480-2   	 1	 1481045 ns/op	 5 x-sort	 98024 B/op
BenchmarkSolve/CLOSEST-2    	 1	 180289 ns/op	 6.539 x-sort
`

func TestRead(t *testing.T) {
	tables, err := benches.Read(strings.NewReader(every))
	if err != nil {
		t.Fatal(err)
	}
	out := &strings.Builder{}
	for _, table := range tables {
		if err := table.Write(out); err != nil {
			t.Fatal(err)
		}
	}
	for _, want := range []string{
		"## server/leveling/plan",
		"| benchmark | time an op | besides | compared with | goal | ratio |",
		"| AppendOverGRPC | 95ms | 5156 appends/s, 7.08 p99-ms | speed of the bare baseline | ≥ 0.5 | **0.312** missed |",
		"- Missed: AppendOverGRPC (0.312, wanted ≥ 0.5). Beside",
		"| Solve/rows=48 | 182µs | 98024 B/op | time of sort |  | 6.09 |",
		"| Million/opening | 21.372ms |  | time of a thousand | ≤ 1.5 | 1.3 |",
		"![Solve](solve-rows.svg)",
	} {
		if !strings.Contains(out.String(), want) {
			t.Errorf("%q is missing in\n%s", want, out)
		}
	}
	if strings.Contains(out.String(), "writers.svg") {
		t.Error("two points are drawn as a series")
	}
	if got := tables[1].Unexplained(); len(got) != 1 || got[0].Cells[0] != "Append/postgres/writers=16" {
		t.Errorf("unexplained: %v", got)
	}
	want := []proof.Point{{X: 6, Y: 0.02}, {X: 48, Y: 0.18159}, {X: 480, Y: 1.481045}}
	for i, p := range tables[2].Pictures[0].Lines[0].Points {
		if d := p.Y - want[i].Y; p.X != want[i].X || d*d > 1e-18 {
			t.Errorf("point %d is %v, want %v", i, p, want[i])
		}
	}
}

func TestRefused(t *testing.T) {
	for name, c := range map[string]struct{ text, want string }{
		"compared with nothing": {every + "BenchmarkAlone-2 	 1	 5 ns/op\n", "Alone reports no ratio"},
		"did not run":           {strings.Replace(every, "BenchmarkMillion/opening", "BenchmarkMillion/other", 1), "Million/opening has a goal and did not run"},
	} {
		if _, err := benches.Read(strings.NewReader(c.text)); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: %v, want %q", name, err, c.want)
		}
	}
}
