package coverage

import (
	"context"
	"errors"
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"rowdatum/clients/internal/service"
	"rowdatum/clients/prove/internal/proof"
)

// TestQuick tries little, and allows for it: some hundred rows a share tell it to within some hundredths.
func TestQuick(t *testing.T) {
	programs := t.TempDir()
	if err := service.Build(t.Context(), programs, "threadedhandle", "notchedstop"); err != nil {
		t.Fatal(err)
	}
	tables, err := Run(t.Context(), proof.Setting{Programs: programs, Quick: true, Say: t.Logf})
	if err != nil {
		t.Fatal(err)
	}
	if len(tables) != 3 {
		t.Fatalf("%d tables", len(tables))
	}
	low, high := []float64{0.85, 0.84, 0.85}, []float64{0.95, 0.96, 1.15}
	for i, table := range tables {
		var said strings.Builder
		if err := table.Write(&said); err != nil {
			t.Fatal(err)
		}
		t.Logf("\n%s", &said)
		if len(table.Rows) < 3 {
			t.Errorf("%s: %d lines", table.Title, len(table.Rows))
		}
		for _, row := range table.Rows {
			if !(row.Ratio >= low[i] && row.Ratio <= high[i]) {
				t.Errorf("%s: %s: %v", table.Title, strings.Join(row.Cells, " | "), row.Ratio)
			}
		}
	}
}

// Readings scatter as the fixture is told to, and lie on lines of its ruling.
func TestRead(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 1))
	for _, f := range []fixture{{0, 0.5}, {1.5875, 0.8}} {
		const times = 40_000
		sum, squares := 0.0, 0.0
		for range times {
			depth := middle + spread*(2*rng.Float64()-1)
			reading := f.read(rng, depth)
			if lines := reading / f.ruling; f.ruling > 0 && math.Abs(lines-math.Round(lines)) > 1e-9 {
				t.Fatalf("%v mm is between the lines of %v mm", reading, f.ruling)
			}
			sum += reading - depth
			squares += (reading - depth) * (reading - depth)
		}
		// Over all places between two lines the rounding adds a twelfth of the square of the ruling (JCGM 100:2008, F.2.2.1).
		want := math.Sqrt(f.scatter*f.scatter + f.ruling*f.ruling/12)
		if got := math.Sqrt(squares / times); math.Abs(got-want) > 0.01 || math.Abs(sum/times) > 0.02 {
			t.Errorf("%+v: scatters by %v mm around %v, want %v around 0", f, got, sum/times, want)
		}
	}
}

func TestChancesByClass(t *testing.T) {
	var s said
	for _, chance := range []float64{0, 0.05, 0.65, 0.65, 0.65, 1} {
		s.count(chance, chance > 0.5)
	}
	if s[0].tally != (tally{0, 2}) || s[6].tally != (tally{3, 3}) || s[9].tally != (tally{1, 1}) {
		t.Errorf("%+v", s)
	}
	if got := s[6].held(); math.Abs(got-1/0.65) > 1e-12 {
		t.Errorf("all of what was said to be 0.65: %v", got)
	}
	if got := s[0].held(); math.Abs(got-1/0.975) > 1e-12 {
		t.Errorf("none of what was said to be 0.025: %v", got)
	}
}

func TestWorstShare(t *testing.T) {
	if got := worst(1, []float64{0.9, 0.88, 0.93}); got != 0.93 {
		t.Errorf("at 1 mm %v", got)
	}
	if got := worst(3.175, []float64{0.91, 0.89, 0.97}); got != 0.89 {
		t.Errorf("at 1/8 inch %v", got)
	}
}

// What is done at once comes back in order, and ends with the first fault.
func TestEach(t *testing.T) {
	got, err := each(t.Context(), 50, func(_ context.Context, i int) (int, error) { return i * i, nil })
	for i, square := range got {
		if square != i*i {
			t.Errorf("%d came as %d", i*i, square)
		}
	}
	if err != nil || len(got) != 50 {
		t.Errorf("%d, %v", len(got), err)
	}
	fault := errors.New("no")
	if _, err := each(t.Context(), 50, func(_ context.Context, i int) (int, error) {
		if i == 30 {
			return 0, fault
		}
		return 0, nil
	}); !errors.Is(err, fault) {
		t.Errorf("%v", err)
	}
}
