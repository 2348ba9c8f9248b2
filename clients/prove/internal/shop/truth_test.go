package shop

import (
	"math"
	"math/rand/v2"
	"testing"
)

// noLuck gives no scatter, no seating and no misreads: normal numbers from it are 0, those between 0 and 1 are 1/2.
type noLuck struct{}

func (noLuck) Uint64() uint64 { return 1 << 52 }

func usualScene(k kind) scene {
	return scene{kind: k, fixture: sixteenth(), wear: usual(), rows: 24}
}

// exact is a planter with rows of known depth and scale, worked on without luck.
func exact(k kind, rows ...row) *planter {
	p := &planter{scene: scene{kind: k, fixture: sixteenth(), rows: len(rows)}, rows: rows}
	for i := range p.rows {
		r := &p.rows[i]
		r.reading, r.moving = rand.New(noLuck{}), rand.New(noLuck{})
	}
	return p
}

func near(t *testing.T, what string, got, want, within float64) {
	t.Helper()
	if !(math.Abs(got-want) <= within) {
		t.Errorf("%s is %v, want %v within %v", what, got, want, within)
	}
}

func TestReadingIsRuled(t *testing.T) {
	for _, c := range []struct{ depth, ruling, want float64 }{
		{50.8, 1.5875, 50.8},
		{51.5, 1.5875, 50.8},
		{51.6, 1.5875, 52.3875},
		{51.5, 3.175, 50.8},
		{52.4, 3.175, 53.975},
		{51.5, 1, 52},
	} {
		p := exact(threads(), row{depthMm: c.depth, scale: 1})
		p.rulingMm = c.ruling
		near(t, "the reading", p.read(0), c.want, 1e-9)
	}
}

// Readings scatter as the fixture's scatter and ruling together foretell (JCGM 100:2008, F.2.2.1), depths anywhere between
// two rulings.
func TestReadingsScatter(t *testing.T) {
	s := usualScene(threads())
	sum, squares, n := 0.0, 0.0, 0.0
	for number := range 400 {
		p := s.comesIn(number)
		for i := range p.rows {
			off := p.read(i) - p.rows[i].depthMm
			if math.Abs(off) < 5 { // not misread
				sum, squares, n = sum+off, squares+off*off, n+1
			}
		}
	}
	near(t, "the mean error", sum/n, 0, 0.03)
	near(t, "the scatter", math.Sqrt(squares/n), math.Sqrt(0.25+1.5875*1.5875/12), 0.02)
}

func TestMisreads(t *testing.T) {
	for number, want := range map[float64]float64{47.625: 74.625, 50.8: 5.8, 44.45: 44.45, 9.525: 90.525} {
		near(t, "transposed", transposed(number), want, 1e-9)
	}
	p := exact(threads(), row{depthMm: 47.625, scale: 1})
	p.rows[0].reading = rand.New(rand.NewPCG(1, 2))
	misread, shallower := 0.0, 0.0
	const readings = 100000
	for range readings {
		off := p.read(0) - 47.625
		if math.Abs(off) > 5 {
			misread++
		}
		if math.Abs(off+inchMm) < 3 {
			shallower++
		}
	}
	near(t, "share of misreads", misread/readings, misreadOdds, 0.001)
	near(t, "share of those an inch shallower", shallower/readings, misreadOdds/4, 0.0006)
}

// What a handle was left slack is lost by its first move only, scaled as its travel is.
func TestLostMotion(t *testing.T) {
	slack := exact(threads(), row{depthMm: 50, scale: 1.1, slackMm: 0.6})
	slack.move(0, 3.175)
	near(t, "the first move", slack.rows[0].depthMm, 50+1.1*(3.175-0.6), 1e-9)
	slack.move(0, -3.175)
	near(t, "the second move", slack.rows[0].depthMm, 50-1.1*0.6, 1e-9)

	found := 0
	for number := range 100 {
		for _, r := range usualScene(threads()).comesIn(number).rows {
			if r.slackMm == 0.6 {
				found++
			}
		}
		for _, r := range usualScene(notches()).comesIn(number).rows {
			if r.slackMm != 0 {
				t.Fatal("a notch that has slack")
			}
		}
	}
	near(t, "share of handles found slack", float64(found)/2400, 0.5, 0.04)
}

func TestWearIsEdgeHeavy(t *testing.T) {
	s := usualScene(threads())
	edges, middle, scale := 0.0, 0.0, 0.0
	const planters = 2000
	for number := range planters {
		rows := s.comesIn(number).rows
		edges += (rows[0].depthMm + rows[23].depthMm) / 2 / planters
		middle += (rows[11].depthMm + rows[12].depthMm) / 2 / planters
		for _, r := range rows {
			scale += (r.scale - 1) * (r.scale - 1) / planters / 24
		}
	}
	near(t, "depth in the middle", middle, plantedMm-s.middle, 0.15)
	near(t, "how much shallower the edges are", middle-edges, s.edges, 0.25)
	near(t, "scatter of scales", math.Sqrt(scale), scaleSd, 0.002)
}

// The k-th reading of a row has the same luck, whatever is done to the row or to others.
func TestSameLuckInEveryWay(t *testing.T) {
	s := usualScene(threads())
	a, b := s.comesIn(7), s.comesIn(7)
	a.move(0, 6.35)
	a.read(1)
	if got, want := a.read(2), b.read(2); got != want {
		t.Errorf("a row reads %v after others were worked on, and %v else", got, want)
	}
	a.rows[0].depthMm = b.rows[0].depthMm
	if got, want := a.read(0), b.read(0); got != want {
		t.Errorf("a row reads %v after it was moved and brought back, and %v else", got, want)
	}
	if other := s.comesIn(8); other.rows[0].depthMm == b.rows[0].depthMm {
		t.Error("two planters are alike")
	}
}
