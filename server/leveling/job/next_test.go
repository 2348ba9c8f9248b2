package job_test

import (
	"math"
	"testing"

	"rowdatum/server/leveling"
	"rowdatum/server/leveling/job"
)

// Which rows are read once more, or after the move, because one reading alone puts them far from the datum
// of 50 mm: at the usual tolerance of 3.175 mm, from 12.7 - 3.175 = 9.525 mm on.
func TestFarOnOneReading(t *testing.T) {
	read := func(mm ...float64) func(*testing.T, *shop) {
		return func(t *testing.T, s *shop) { must(t, s.readMm(1, mm...)) }
	}
	turn := func(count float64) func(*testing.T, *shop) {
		return func(t *testing.T, s *shop) { must(t, s.moveNow(1, count)) }
	}
	part := func(t *testing.T, s *shop) {
		must(t, s.append("Ada", job.Event{PartChange: &job.PartChange{Row: 1, Part: "arm"}}))
	}
	type did []func(*testing.T, *shop)
	for _, c := range []struct {
		name        string
		verify      job.Verify
		toleranceMm float64
		did         did // before the plan
		next        job.NextStep
	}{
		{"far", job.VerifyWhenNeeded, 3.175, did{read(40.47)}, job.NextReadAgain},
		{"far, deeper", job.VerifyWhenNeeded, 3.175, did{read(59.53)}, job.NextReadAgain},
		{"not so far", job.VerifyWhenNeeded, 3.175, did{read(40.48)}, job.NextMove},
		{"far at another tolerance", job.VerifyWhenNeeded, 5, did{read(42.2)}, job.NextReadAgain},
		{"not so far at another tolerance", job.VerifyWhenNeeded, 5, did{read(42.4)}, job.NextMove},
		{"read after the move anyhow", job.VerifyMoved, 3.175, did{read(25)}, job.NextMove},
		{"read twice", job.VerifyWhenNeeded, 3.175, did{read(40.4, 41)}, job.NextMove},
		{"of two that do not agree", job.VerifyWhenNeeded, 3.175, did{read(40.4, 50)}, job.NextReadAgain},
		{"of three, two agree", job.VerifyWhenNeeded, 3.175, did{read(40.4, 50, 40.4)}, job.NextMove},
		{"moved on one reading", job.VerifyWhenNeeded, 3.175, did{read(40.4), turn(1.5)}, job.NextReadAfterMove},
		{"moved in two steps", job.VerifyWhenNeeded, 3.175, did{read(40.4), turn(0.75), turn(0.75)}, job.NextReadAfterMove},
		{"moved on two readings", job.VerifyWhenNeeded, 3.175, did{read(40.4, 40.4), turn(1.5)}, job.NextDone},
		{"moved a little on one", job.VerifyWhenNeeded, 3.175, did{read(43.65), turn(1)}, job.NextDone},
		{"moved astray, a reading after it agrees", job.VerifyWhenNeeded, 3.175, did{read(40.4), turn(-0.25), read(38.8)}, job.NextMove},
		{"moved astray, not read since", job.VerifyWhenNeeded, 3.175, did{read(40.4), turn(-0.25)}, job.NextMove},
		{"a new part", job.VerifyWhenNeeded, 3.175, did{read(40.4, 40.4), part, read(40.4)}, job.NextReadAgain},
	} {
		t.Run(c.name, func(t *testing.T) {
			o := opened(3, 0)
			o.Verify = c.verify
			s := newShop(o)
			must(t, s.readMm(2, 50))
			must(t, s.readMm(3, 50))
			for _, do := range c.did {
				do(t, s)
			}
			datum := 50.0
			must(t, s.plan(job.Ask{Aim: &leveling.Aim{Kind: leveling.SetDepth, DatumMm: &datum, ToleranceMm: c.toleranceMm, Confidence: 0.9, MissSeconds: 900}}))
			if r := s.state.Row(1); r.Next != c.next {
				t.Errorf("%v, %s", r.Next, s.state.In(leveling.English).Row(1).Why)
			}
		})
	}
}

// Where every moved row is read, nobody is asked before the move: the reading after it shows the slip, the
// next confirms that, and a plan brings the row back.
func TestMisreadMovedAndRead(t *testing.T) {
	s := newShop(opened(3, 0))
	must(t, s.readMm(1, 25.4)) // it is at 50.8
	must(t, s.readMm(2, 50.8))
	must(t, s.readMm(3, 50.8))
	must(t, s.plan(job.Ask{}))
	must(t, s.moveNow(1, 4))
	next := func(want job.NextStep) {
		t.Helper()
		if r := s.state.Row(1); r.Next != want {
			t.Fatalf("%v: %s", r.Next, s.state.In(leveling.English).Row(1).Why)
		}
	}
	next(job.NextReadAfterMove)
	must(t, s.readMm(1, 76.2))
	next(job.NextReadAgain)
	must(t, s.readMm(1, 76.2))
	next(job.NextPlan)
	must(t, s.plan(job.Ask{}))
	next(job.NextMove)
	left := 76.2 + s.state.Row(1).Move.Option.EffectMm - *s.state.DatumMm
	if math.Abs(left) > s.state.Aim.ToleranceMm {
		t.Errorf("the move back leaves it %g mm from the datum", left)
	}
}
