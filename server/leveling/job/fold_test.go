package job_test

import (
	"encoding/json"
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"
	"time"

	"rowdatum/server/leveling"
	"rowdatum/server/leveling/estimate"
	"rowdatum/server/leveling/job"
)

// randomShop drives a job at random: readings in time and late, sides, slips, moves known and not, part
// changes, strikes, plans.
func randomShop(rng *rand.Rand, events int) *shop {
	o := opened(rng.IntN(5), rng.IntN(4))
	if len(o.Planter.Rows) == 0 {
		o = opened(1, 0)
	}
	f := &o.Fixture.Figures
	switch rng.IntN(6) {
	case 0:
		*f = leveling.Fixture{}
	case 1:
		f.RepeatabilityMm = 0
	case 2:
		f.ResolutionMm, f.FloorMm = 0, 1
	}
	o.Aim.ToleranceMm = []float64{0.5, 1.5875, 3.175, 6}[rng.IntN(4)]
	o.Verify = job.Verify(rng.IntN(2))
	truth := map[int]float64{}
	scale := map[int]float64{}
	for i := range o.Planter.Rows {
		r := &o.Planter.Rows[i]
		if rng.IntN(6) == 0 {
			r.Setting = ""
		}
		if rng.IntN(3) == 0 {
			s, sd, left := 0.7+0.6*rng.Float64(), 0.1*rng.Float64(), 45+10*rng.Float64()
			r.Scale, r.ScaleSd, r.AsLeftMm, r.AsLeftFixture = &s, &sd, &left, "box"
		}
		truth[r.Number], scale[r.Number] = 50+6*rng.NormFloat64(), 0.7+0.5*rng.Float64()
	}
	rng.Shuffle(len(o.Planter.Rows), func(i, j int) {
		o.Planter.Rows[i], o.Planter.Rows[j] = o.Planter.Rows[j], o.Planter.Rows[i]
	})
	s := newShop(o)
	for len(s.log) < events {
		row := o.Planter.Rows[rng.IntN(len(o.Planter.Rows))].Number
		r := s.state.Row(row)
		var err error
		switch rng.IntN(12) {
		default:
			y := truth[row] + 0.5*rng.NormFloat64()
			if rng.IntN(12) == 0 {
				y += 12 * rng.NormFloat64()
			}
			x := job.Reading{Row: row, Value: ruled(max(-19, y)), Unit: leveling.MM, AfterMove: r.LastMove}
			if rng.IntN(4) == 0 {
				x.Side = []job.Side{job.Left, job.Right}[rng.IntN(2)]
			}
			if rng.IntN(5) == 0 {
				x.AfterMove = 0
			}
			err = s.read(x)
		case 8, 9:
			t := travelOf(r.Mechanism)
			count := t.step * float64(rng.IntN(9)-4)
			if at, known := position(r.Setting); count == 0 || known && (at+count < t.first || at+count > t.last) {
				continue
			}
			truth[row] += scale[row] * count * t.mm
			err = s.moveNow(row, count)
		case 10:
			n := 1 + rng.IntN(len(s.log))
			if s.state.CheckStrikes([]job.Strike{{Revision: n}}) == nil {
				err = s.append("Bo", job.Event{Strike: &job.Strike{Revision: n}})
			}
		case 11:
			switch rng.IntN(4) {
			case 0:
				err = s.append("Bo", job.Event{PartChange: &job.PartChange{Row: row, Part: "bushing"}})
			case 1:
				err = s.append("Bo", job.Event{Note: &job.Note{Row: row, Text: "rust"}})
			default:
				ask := job.Ask{Replan: rng.IntN(3) == 0}
				if s.state.CheckPlan(ask) == nil {
					err = s.plan(ask)
				}
			}
		}
		if err != nil {
			panic(err)
		}
	}
	return s
}

// A state made event by event, in any pieces, is the state of the whole log; making the next one leaves
// it as it was; and nothing in it is off the scale of numbers.
func TestApplyEqualsFold(t *testing.T) {
	rng := rand.New(rand.NewPCG(31, 32))
	seen := map[job.NextStep]int{}
	for i := range 2000 {
		s := randomShop(rng, 5+rng.IntN(25))
		whole, err := job.Fold(s.log)
		must(t, err)
		want := whole.Describe()
		if got := s.state.Describe(); got != want {
			t.Fatalf("log %d: event by event\n%s\nwhole\n%s", i, got, want)
		}
		cut := 1 + rng.IntN(len(s.log)-1)
		part, err := job.Fold(s.log[:cut])
		must(t, err)
		before := part.Describe()
		rest, err := part.Apply(s.log[cut:]...)
		must(t, err)
		if rest.Describe() != want {
			t.Fatalf("log %d: in two pieces\n%s\nwhole\n%s", i, rest.Describe(), want)
		}
		if part.Describe() != before {
			t.Fatalf("log %d: the earlier state became\n%s\nit was\n%s", i, part.Describe(), before)
		}
		if strings.Contains(want, "NaN") || strings.Contains(want, "Inf") {
			t.Fatalf("log %d:\n%s", i, want)
		}
		if _, err := json.Marshal(whole); err != nil { // refuses what is not finite
			t.Fatalf("log %d: %v", i, err)
		}
		for _, r := range whole.Rows {
			seen[r.Next]++
		}
	}
	for n := job.NextNothing; n <= job.NextPlan; n++ {
		if seen[n] < 20 {
			t.Errorf("%v was asked for %d times only", n, seen[n])
		}
	}
}

// A number inside the range that is told is taken and makes the row even, at its ends too. No range is told where a
// reading of the present stay counts or waits to be proven right.
func TestTheRangeToldHolds(t *testing.T) {
	rng := rand.New(rand.NewPCG(41, 42))
	told, waiting := 0, 0
	for i := range 2000 {
		s := randomShop(rng, 10+rng.IntN(30))
		if s.state.Stage != job.StageOpen {
			continue
		}
		for _, r := range s.state.Rows {
			if len(r.LeftOut) > 0 {
				waiting++
			}
			if r.EvenNumber == nil {
				continue
			}
			if r.Measured || len(r.LeftOut) > 0 {
				t.Fatalf("log %d, row %d: a range is told beside readings\n%s", i, r.Row, s.state.Describe())
			}
			told++
			from, to := r.EvenNumber.FromMm, r.EvenNumber.ToMm
			for _, y := range []float64{from, to, (from + to) / 2, from + (to-from)*rng.Float64()} {
				b := *s
				b.log = slices.Clone(s.log)
				if err := b.read(job.Reading{Row: r.Row, Value: y, Unit: leveling.MM, AfterMove: r.LastMove}); err != nil {
					t.Fatalf("log %d, row %d: %v of %v to %v: %v\n%s", i, r.Row, y, from, to, err, s.state.Describe())
				}
				if now := b.state.Row(r.Row); now.Verdict != leveling.Even {
					t.Fatalf("log %d, row %d: %v of %v to %v is %v\n%s", i, r.Row, y, from, to, now.Verdict, s.state.Describe())
				}
			}
		}
	}
	if told < 100 || waiting < 100 {
		t.Errorf("a range was told %d times, and a reading waited %d times only", told, waiting)
	}
}

// Where the depths that a row may have end inside the range, so does the range.
func TestTheRangeToldIsOfDepths(t *testing.T) {
	for _, end := range []float64{leveling.MinDepthMm, leveling.MaxDepthMm} {
		o := opened(1, 0)
		o.Aim.Kind, o.Aim.DatumMm = leveling.SetDepth, new(end)
		s := newShop(o)
		must(t, s.readMm(1, end-math.Copysign(8, end)))
		must(t, s.plan(job.Ask{}))
		must(t, s.moveNow(1, s.state.Row(1).Move.Option.Count))
		r := s.state.Row(1)
		if r.EvenNumber == nil {
			t.Fatalf("no range is told\n%s", s.state.Describe())
		}
		for _, y := range []float64{r.EvenNumber.FromMm, r.EvenNumber.ToMm} {
			b := *s
			b.log = slices.Clone(s.log)
			if err := b.readMm(1, y); err != nil {
				t.Errorf("%v of %+v: %v", y, *r.EvenNumber, err)
			} else if now := b.state.Row(1).Verdict; now != leveling.Even {
				t.Errorf("%v of %+v is %v", y, *r.EvenNumber, now)
			}
		}
	}
}

// Two states of a log branch off from one without harm to each other.
func TestStatesBranch(t *testing.T) {
	s := newShop(opened(3, 0))
	must(t, s.readMm(1, 50.8, 50.8))
	fork := func(y float64) *job.State {
		b := *s
		b.log = slices.Clone(s.log)
		must(t, b.readMm(1, y))
		must(t, b.moveNow(2, 1))
		return b.state
	}
	a := fork(49.2)
	want := a.Describe()
	fork(52.4)
	if a.Describe() != want {
		t.Errorf("a state changed when another branched off:\n%s", a.Describe())
	}
}

// told is one event of a random row's story, which merging must not change.
type told struct {
	key   int // of this event, within its row
	after int // key of the move that a reading names, -1 for none
	event job.Event
}

// However the rows' stories are shuffled into one log, and however late a reading comes, each row comes to
// the same.
func TestMergingDoesNotMatter(t *testing.T) {
	rng := rand.New(rand.NewPCG(33, 34))
	for i := range 1500 {
		o := opened(2, 2)
		stories := map[int][]told{}
		for row := 1; row <= 4; row++ {
			after, setting := -1, o.Planter.Rows[row-1].Setting
			tr := travelOf(o.Planter.Rows[row-1].Mechanism)
			depth := 50 + 5*rng.NormFloat64()
			for k := range 1 + rng.IntN(8) {
				if rng.IntN(4) == 0 {
					at, _ := position(setting)
					m := job.Move{Row: row, SettingBefore: setting, Count: tr.step, EffectMm: tr.step * tr.mm, SettingAfter: tr.setting(at + tr.step)}
					setting, after, depth = m.SettingAfter, k, depth+0.8*m.EffectMm
					stories[row] = append(stories[row], told{k, -1, job.Event{Move: &m}})
					continue
				}
				y := depth + rng.NormFloat64()
				if rng.IntN(6) == 0 {
					y += 15
				}
				r := job.Reading{Row: row, Value: ruled(y), Unit: leveling.MM}
				stories[row] = append(stories[row], told{k, after, job.Event{Reading: &r}})
			}
		}
		one, other := merged(t, rng, o, stories, false), merged(t, rng, o, stories, true)
		if one != other {
			t.Fatalf("merge %d:\n%s\nin another order\n%s", i, one, other)
		}
	}
}

// merged shuffles stories into one log; late lets readings come after later moves of their row. It returns
// what the rows come to, without revisions.
func merged(t *testing.T, rng *rand.Rand, o *job.Opened, stories map[int][]told, late bool) string {
	left := map[int][]told{}
	for row, story := range stories {
		story = slices.Clone(story)
		if late { // a move may overtake what was read before it, but readings keep their order
			for i := 1; i < len(story); i++ {
				if story[i].event.Move != nil && story[i-1].event.Move == nil && rng.IntN(2) == 0 {
					story[i], story[i-1] = story[i-1], story[i]
				}
			}
		}
		left[row] = story
	}
	log := []job.Event{{Revision: 1, Opened: o}}
	revisions := map[[2]int]int{}
	for {
		var rows []int
		for row := 1; row <= 4; row++ {
			if len(left[row]) > 0 {
				rows = append(rows, row)
			}
		}
		if rows == nil {
			break
		}
		row := rows[rng.IntN(len(rows))]
		next := left[row][0]
		left[row] = left[row][1:]
		e := next.event
		e.Revision = len(log) + 1
		if e.Reading != nil {
			r := *e.Reading
			if next.after >= 0 {
				r.AfterMove = revisions[[2]int{row, next.after}]
			}
			e.Reading = &r
		}
		revisions[[2]int{row, next.key}] = e.Revision
		log = append(log, e)
	}
	s, err := job.Fold(log)
	must(t, err)
	out := ""
	for _, r := range s.Rows {
		out += fmt.Sprintf("%d %s %v %v %+v %v left out %d %v\n", r.Row, r.Setting, r.AsFound, r.Known, r.Estimate, r.Measured, len(r.LeftOut), r.Next)
	}
	out += fmt.Sprintf("%v %v\n", s.RepeatabilityMm, *orZero(s.SpreadMm))
	return out
}

func orZero(x *float64) *float64 {
	if x == nil {
		return new(float64)
	}
	return x
}

// A struck reading is as if it had never been.
func TestStruckReadingIsGone(t *testing.T) {
	rng := rand.New(rand.NewPCG(35, 36))
	for i := range 500 {
		with, without := newShop(opened(3, 0)), newShop(opened(3, 0))
		var strike []int
		for range 3 + rng.IntN(10) {
			row, y := 1+rng.IntN(3), ruled(50+3*rng.NormFloat64())
			must(t, with.readMm(row, y))
			if rng.IntN(3) == 0 {
				strike = append(strike, len(with.log))
				continue
			}
			must(t, without.readMm(row, y))
		}
		for _, n := range strike {
			must(t, with.append("Bo", job.Event{Strike: &job.Strike{Revision: n}}))
		}
		for j, r := range with.state.Rows {
			if q := without.state.Rows[j]; r.Estimate != q.Estimate || r.Known != q.Known || r.Next != q.Next {
				t.Fatalf("case %d: row %d %+v, never read %+v", i, r.Row, r, q)
			}
		}
	}
}

// The estimates of a quiet job are the recursion over its stays, and that is batch least squares (package
// estimate). The scatter is the pooled one, with Student's factor.
func TestRowsFollowTheRecursion(t *testing.T) {
	s := newShop(opened(1, 1))
	must(t, s.readMm(1, 41.3, 42.9))
	must(t, s.readMm(2, 50.8))
	must(t, s.moveNow(1, 1.5))
	must(t, s.readMm(1, 49.2))
	f := s.state.Opened.Fixture.Figures
	ruledVar := estimate.BudgetOf(f).PerReadingMm2
	pooled := (10*ruledVar + 1.6*1.6/2) / 11 // two readings 1.6 apart: one degree of freedom
	u := s.state.RepeatabilityMm
	f.RepeatabilityMm = u
	if got := estimate.BudgetOf(f).PerReadingMm2; math.Abs(got-pooled) > 1e-9 {
		t.Errorf("pooled scatter %v, want %v", got, pooled)
	}
	// Student's t at 0.95 with 11 degrees of freedom is 1.796, Gauss's 1.645 (tables; from memory).
	f.RepeatabilityMm = u * 1.79588 / 1.64485
	b := estimate.BudgetOf(f)
	track := estimate.NewTrack(1, 0.08, b)
	track.Observe(estimate.StayMean{MeanMm: 42.1, Readings: 2, Weight: 0.5})
	track.Move(9.525, 0.3)
	track.Observe(estimate.StayMean{MeanMm: 49.2, Readings: 1, Weight: 1})
	got, want := s.state.Row(1).Estimate, track.Estimate()
	if math.Abs(got.DepthMm-want.DepthMm) > 1e-4 || math.Abs(got.UncertaintyMm-want.UncertaintyMm) > 1e-4 || math.Abs(got.Scale-want.Scale) > 1e-5 {
		t.Errorf("row 1 is %+v, want %+v", got, want)
	}
}

func TestLogsThatCannotBe(t *testing.T) {
	open := job.Event{Revision: 1, Opened: opened(2, 0)}
	bad := opened(1, 0)
	bad.Planter.Rows[0].Mechanism = "spring"
	styleless := opened(1, 0)
	delete(styleless.Styles, "threaded-handle")
	for name, log := range map[string][]job.Event{
		"empty":                {},
		"no opening":           {{Revision: 1, Note: &job.Note{Text: "x"}}},
		"two openings":         {open, {Revision: 2, Opened: opened(1, 0)}},
		"a gap":                {open, {Revision: 3, Note: &job.Note{Text: "x"}}},
		"nothing":              {open, {Revision: 2}},
		"a row too many":       {open, {Revision: 2, Reading: &job.Reading{Row: 3, Value: 50, Unit: leveling.MM}}},
		"from the future":      {open, {Revision: 2, Reading: &job.Reading{Row: 1, Value: 50, Unit: leveling.MM, AfterMove: 2}}},
		"not a number":         {open, {Revision: 2, Reading: &job.Reading{Row: 1, Value: math.NaN(), Unit: leveling.MM}}},
		"an endless move":      {open, {Revision: 2, Move: &job.Move{Row: 1, EffectMm: math.Inf(1)}}},
		"a strike of nothing":  {open, {Revision: 2, Strike: &job.Strike{Revision: 5}}},
		"after the end":        {open, {Revision: 2, Voided: &job.Voided{Reason: "x"}}, {Revision: 3, Note: &job.Note{Text: "x"}}},
		"a plan of other rows": {open, {Revision: 2, Issued: &job.Issued{}}},
		"unknown mechanism":    {{Revision: 1, Opened: bad}},
		"unknown style":        {{Revision: 1, Opened: styleless}},
	} {
		if s, err := job.Fold(log); err == nil || leveling.AsError(err).Kind != leveling.Internal {
			t.Errorf("%s: %v, %v", name, s, err)
		}
	}
}

// bigLog is a job on 48 rows with about 300 events.
func bigLog(b *testing.B) *shop {
	rng := rand.New(rand.NewPCG(41, 42))
	s := newShop(opened(24, 24))
	for row := 1; row <= 48; row++ {
		y := 50 + 4*rng.NormFloat64()
		if err := s.readMm(row, ruled(y), ruled(y)); err != nil {
			b.Fatal(err)
		}
	}
	if err := s.plan(job.Ask{}); err != nil {
		b.Fatal(err)
	}
	for len(s.log) < 300 {
		row := 1 + rng.IntN(48)
		if rng.IntN(3) == 0 {
			if err := s.moveNow(row, []float64{-1, 1}[rng.IntN(2)]); err != nil {
				b.Fatal(err)
			}
			continue
		}
		if err := s.readMm(row, ruled(s.state.Row(row).Estimate.DepthMm+rng.NormFloat64())); err != nil {
			b.Fatal(err)
		}
	}
	return s
}

func BenchmarkFold48Rows300Events(b *testing.B) {
	s := bigLog(b)
	base := decoding(b, s.log)
	b.ResetTimer()
	for b.Loop() {
		if _, err := job.Fold(s.log); err != nil {
			b.Fatal(err)
		}
	}
	b.ReportMetric(float64(b.Elapsed())/float64(b.N)/base, "x-decoding")
}

// decoding is the time in ns that it takes to read what is folded from its JSON, which is how it comes from the store.
func decoding(b *testing.B, log []job.Event) float64 {
	text, err := json.Marshal(log)
	if err != nil {
		b.Fatal(err)
	}
	const rounds = 100
	begun := time.Now()
	for range rounds {
		var read []job.Event
		if err := json.Unmarshal(text, &read); err != nil {
			b.Fatal(err)
		}
	}
	return float64(time.Since(begun)) / rounds
}

func BenchmarkApplyOneReading(b *testing.B) {
	s := bigLog(b)
	e := job.Event{Revision: len(s.log) + 1, Reading: &job.Reading{Row: 7, Value: 50, Unit: leveling.MM}}
	base := decoding(b, []job.Event{e})
	b.ResetTimer()
	for b.Loop() {
		if _, err := s.state.Apply(e); err != nil {
			b.Fatal(err)
		}
	}
	b.ReportMetric(float64(b.Elapsed())/float64(b.N)/base, "x-decoding")
}

func TestWrote(t *testing.T) {
	log := []job.Event{{Revision: 1, Opened: opened(2, 0)}}
	ask := &job.Request{ID: "3f2b8c1e-9d64-4a57-8f20-1c5b7e9a0d43", Hash: "ab"}
	for _, row := range []int{1, 2} {
		log = append(log, job.Event{Revision: len(log) + 1, Request: ask, Reading: &job.Reading{Row: row, Value: 50, Unit: leveling.MM}})
	}
	log = append(log, job.Event{Revision: len(log) + 1, Request: &job.Request{ID: "other", Hash: "cd"}, Note: &job.Note{Text: "x"}})
	s, err := job.Fold(log)
	if err != nil {
		t.Fatal(err)
	}
	events, hash := s.Wrote(ask.ID)
	if hash != "ab" || len(events) != 2 || events[0].Revision != log[len(log)-3].Revision || events[1].Reading.Row != 2 {
		t.Errorf("got %+v with hash %q", events, hash)
	}
	if events, hash := s.Wrote("new"); events != nil || hash != "" {
		t.Errorf("a new id wrote %+v, %q", events, hash)
	}
}

// A row misread by an inch, moved for it and read twice where it really stands: the two readings that agree are what counts,
// and neither depth nor scale is drawn towards the misread one. Left and right alike.
func TestContradictedStayCountsNoMore(t *testing.T) {
	for _, side := range []job.Side{job.WholeRow, job.Left} {
		s := newShop(opened(4, 0))
		for row := 2; row <= 4; row++ {
			if err := s.readMm(row, 50.8); err != nil {
				t.Fatal(err)
			}
		}
		read := func(mm float64) *job.RowState {
			if err := s.read(job.Reading{Row: 1, Value: mm, Unit: leveling.MM, Side: side, AfterMove: s.state.Row(1).LastMove}); err != nil {
				t.Fatal(err)
			}
			return s.state.Row(1)
		}
		read(76.2)
		if err := s.moveNow(1, -4); err != nil {
			t.Fatal(err)
		}
		if r := read(25.4); len(r.LeftOut) != 1 || math.Abs(r.Estimate.DepthMm-50.8) > 1e-9 {
			t.Fatalf("one surprise counts: %+v", r.Estimate)
		}
		r := read(25.4)
		if len(r.LeftOut) != 0 || math.Abs(r.Estimate.DepthMm-25.4) > 1e-9 || r.Estimate.Scale != 1 {
			t.Errorf("what was contradicted still counts: left out %v, %+v", r.LeftOut, r.Estimate)
		}
	}
}
