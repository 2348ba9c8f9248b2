package adjusters

import (
	"context"
	"fmt"
	"os"
	"slices"
	"testing"
	"time"

	adjusterv1 "rowdatum/proto/gen/rowdatum/adjuster/v1"
	"rowdatum/server/leveling"
)

// planted is a plan's two questions for 48 rows of 40 options, as figures n make them.
func planted(n int) leveling.OptionsQuestion {
	q := leveling.OptionsQuestion{Figures: []leveling.JSON{leveling.JSON(fmt.Sprintf(`{"mmPerTurn":%g,"turns":39}`, 6+float64(n)/1e6))}}
	for i := range 48 {
		q.Rows = append(q.Rows, leveling.RowSetting{Setting: leveling.JSON(fmt.Sprintf(`{"turns":%d}`, i%40))})
	}
	return q
}

// bare asks a program both questions over gRPC and does nothing else: no host, no checks, no memory.
func bare(b *testing.B, p *process, n int) {
	b.Helper()
	q := planted(n)
	request := &adjusterv1.OptionsRequest{Mechanisms: figures(q.Figures)}
	for _, row := range q.Rows {
		request.Rows = append(request.Rows, &adjusterv1.RowSetting{Setting: string(row.Setting)})
	}
	answer, err := p.ask.Options(b.Context(), request)
	if err != nil {
		b.Fatal(err)
	}
	say := &adjusterv1.SayRequest{Mechanisms: request.Mechanisms}
	for i, row := range answer.Rows {
		say.Choices = append(say.Choices, &adjusterv1.Choice{Setting: request.Rows[i].Setting, Option: row.Options[0]})
	}
	if _, err := p.ask.Say(b.Context(), say); err != nil {
		b.Fatal(err)
	}
}

// hosted asks the host the same.
func hosted(b *testing.B, h *Host, style string, n int) {
	b.Helper()
	q := planted(n)
	rows, err := h.Options(b.Context(), style, q)
	if err != nil {
		b.Fatal(err)
	}
	choices := make([]leveling.Choice, len(rows))
	for i, row := range rows {
		choices[i] = leveling.Choice{RowSetting: q.Rows[i], Option: row.Options[0]}
	}
	if _, err := h.Say(b.Context(), style, q.Figures, choices, leveling.Voice{}); err != nil {
		b.Fatal(err)
	}
}

// alternated is how often the host and the bare connection are asked in turn.
const alternated = 100

// BenchmarkPlanQuestions is what the host costs a plan of 48 rows: "x-bare" is the median of alternated runs
// against a bare gRPC connection to the same program, with 1 to 30 styles installed and asked in turn.
func BenchmarkPlanQuestions(b *testing.B) {
	speaks, _ := speaker(b)
	for _, how := range []string{"cached", "uncached"} {
		for _, styles := range []int{1, 3, 10, 30} {
			b.Run(fmt.Sprintf("%s/styles=%d", how, styles), func(b *testing.B) {
				names := handles(styles)
				h, err := Start(b.Context(), Options{Dir: built(b, names...), StartBound: time.Minute})
				if err != nil {
					b.Fatal(err)
				}
				defer h.Close(context.Background())
				var ratios []float64
				for n := 1; b.Loop(); n++ {
					ask := n
					if how == "cached" {
						ask = 0
					}
					if len(ratios) >= alternated { // the bare side takes far longer, and is not the op
						hosted(b, h, names[n%styles], ask)
						continue
					}
					b.StopTimer()
					if how == "cached" {
						hosted(b, h, names[n%styles], 0) // so that it is known
					}
					begun := time.Now()
					bare(b, speaks, ask)
					theirs := time.Since(begun)
					b.StartTimer()
					begun = time.Now()
					hosted(b, h, names[n%styles], ask)
					ratios = append(ratios, float64(time.Since(begun))/float64(theirs))
				}
				slices.Sort(ratios)
				b.ReportMetric(ratios[len(ratios)/2], "x-bare")
			})
		}
	}
}

// handles are the names of so many programs.
func handles(n int) (names []string) {
	for i := range n {
		names = append(names, fmt.Sprintf("handle-%d", i))
	}
	return names
}

// BenchmarkMeter is one look at what every process of the machine uses: once a second.
func BenchmarkMeter(b *testing.B) {
	base := listing(b, "/proc")
	b.ResetTimer()
	for b.Loop() {
		sample()
	}
	b.ReportMetric(float64(b.Elapsed())/float64(b.N)/base, "x-listing")
}

// listing is the time in ns that it takes to read the names in a folder.
func listing(b *testing.B, dir string) float64 {
	const rounds = 20
	begun := time.Now()
	for range rounds {
		if _, err := os.ReadDir(dir); err != nil {
			b.Fatal(err)
		}
	}
	return float64(time.Since(begun)) / rounds
}

// BenchmarkLook is one look at a folder of 30 programs: five times a second.
func BenchmarkLook(b *testing.B) {
	dir := built(b, handles(30)...)
	base := listing(b, dir)
	b.ResetTimer()
	defer func() { b.ReportMetric(float64(b.Elapsed())/float64(b.N)/base, "x-listing") }()
	for b.Loop() {
		if files, _, err := look(dir); err != nil || len(files) != 30 {
			b.Fatal(files, err)
		}
	}
}
