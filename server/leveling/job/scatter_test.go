package job_test

import (
	"math/rand/v2"
	"strings"
	"testing"

	"rowdatum/server/leveling"
	"rowdatum/server/leveling/job"
)

// Jobs on 24 rows, each read twice: doubled scatter is noticed in 90 of 100, scatter as stated is not doubted in 98.
func TestScatterIsDoubted(t *testing.T) {
	const jobs = 1000
	doubted := func(scatter float64) float64 {
		rng := rand.New(rand.NewPCG(83, 84))
		n := 0
		for range jobs {
			s := newShop(opened(24, 0))
			for _, r := range s.state.Rows {
				depth := 50 + rng.NormFloat64()
				must(t, s.readMm(r.Row, ruled(depth+scatter*rng.NormFloat64()), ruled(depth+scatter*rng.NormFloat64())))
			}
			if s.state.Doubt != nil {
				n++
			}
		}
		return float64(n) / jobs
	}
	clean, doubled := doubted(0.5), doubted(1)
	t.Logf("doubted: scatter as stated %.3f, doubled %.3f", clean, doubled)
	if clean > 0.02+3*0.0044 || doubled < 0.9-3*0.0095 { // 3 standard deviations of such shares
		t.Error("the promise is not kept")
	}
}

// Jobs that are done as the service asks, whose rows are read again where a reading surprises or cannot say, are
// doubted no more often than that: their repeats are few.
func TestCleanJobsHearNothingOfScatter(t *testing.T) {
	const jobs = 300
	for _, rows := range []int{6, 24} {
		rng := rand.New(rand.NewPCG(85, 86))
		doubted := 0
		for range jobs {
			s, _ := simulate(t, rng, opened(rows/2, rows/2), ways{rowsSd: 3, scaleSd: 0.08, scatter: 0.5})
			if s.state.Doubt != nil {
				doubted++
			}
		}
		t.Logf("%d rows: %d of %d jobs doubt", rows, doubted, jobs)
		if float64(doubted) > (0.02+3*0.0081)*jobs {
			t.Errorf("%d rows: %d of %d clean jobs doubt the fixture", rows, doubted, jobs)
		}
	}
}

// What is said of scatter that is doubted, in both languages; a strike of the readings takes it back.
// By hand: pairs a ruling q apart have a variance of q²/2, of which the ruling makes q²/12: √(5/12)·1.5875 mm = 1.02 mm.
func TestScatterIsSaid(t *testing.T) {
	o := opened(6, 0)
	o.LengthUnit = leveling.MM
	s := newShop(o)
	for row := 1; row <= 6; row++ {
		must(t, s.readMm(row, ruled(50), ruled(50)+1.5875))
	}
	if d := s.state.Doubt; d == nil || d.Repeats != 6 || d.ScatterMm <= 1 {
		t.Fatalf("%+v", d)
	}
	for l, want := range map[leveling.Language]string{leveling.English: "by 1.02 mm (6 repeats), more than the 0.50 mm", leveling.Spanish: "1.02 mm (6 repeticiones), más que los 0.50 mm"} {
		if said := strings.Join(s.state.In(l).Warnings, " "); !strings.Contains(said, want) {
			t.Error(said)
		}
	}
	must(t, s.append("Ada", job.Event{Strike: &job.Strike{Revision: 2}}))
	if s.state.Doubt != nil {
		t.Error("doubted on five repeats")
	}
}
