package job_test

import (
	"encoding/json"
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"rowdatum/proto/seal"
	"rowdatum/server/leveling"
	"rowdatum/server/leveling/job"
	"rowdatum/server/leveling/plan"
)

// refused says what an error is: its reason, or the fields that are wrong.
func refused(err error) string {
	if err == nil {
		return ""
	}
	e := leveling.AsError(err)
	if len(e.Violations) == 0 {
		return e.Reason
	}
	var fields []string
	for _, v := range e.Violations {
		fields = append(fields, v.Field)
	}
	return strings.Join(fields, " ")
}

// saidInSpanish: all but the words that only a program can send wrong.
func saidInSpanish(t *testing.T, err error) {
	if err == nil {
		return
	}
	for _, v := range leveling.AsError(err).Violations {
		english := strings.HasSuffix(v.Field, ".side") || strings.HasSuffix(v.Field, ".unit")
		if said, inSpanish := v.Say(leveling.Voice{}), v.Say(leveling.Voice{Language: leveling.Spanish}); (said == inSpanish) != english {
			t.Errorf("%s: %q in Spanish is %q", v.Field, said, inSpanish)
		}
	}
}

func TestChecks(t *testing.T) {
	s := newShop(opened(2, 1))
	must(t, s.readMm(1, 50.8))
	must(t, s.moveNow(1, 1))    // event 3
	must(t, s.moveNow(1, -0.5)) // event 4
	must(t, s.append("Bo", job.Event{PartChange: &job.PartChange{Row: 2, Part: "bushing"}}))
	must(t, s.append("Bo", job.Event{Voided: nil, Note: &job.Note{Text: "cold"}}))
	zero, three, four, nine := 0, 3, 4, 9
	long := strings.Repeat("x", 5000)
	nan, inf := math.NaN(), math.Inf(1)
	at := s.state.Row(1).Setting
	notMatched := leveling.DefaultAim()
	notMatched.Kind, notMatched.Row = leveling.MatchRow, 9
	st := s.state
	for _, c := range []struct {
		name, want string
		err        error
	}{
		{"a reading", "", st.CheckReadings([]job.Reading{{Row: 1, Value: 2, Unit: leveling.Inch, AfterMove: 3}, {Row: 2, Value: -20, Unit: leveling.MM, Side: job.Left, AfterMove: 5}})},
		{"no readings", "readings", st.CheckReadings(nil)},
		{"too many", "readings", st.CheckReadings(make([]job.Reading, 501))},
		{"every fault", "readings[0].row readings[0].side readings[0].unit readings[1].afterMove readings[1].value",
			st.CheckReadings([]job.Reading{{Row: 9, Side: "TOP", Unit: "FT"}, {Row: 1, Value: nan, Unit: leveling.MM, AfterMove: 5}})},
		{"infinite", "readings[0].value", st.CheckReadings([]job.Reading{{Row: 1, Value: inf, Unit: leveling.MM}})},
		{"inches typed as mm may be", "", st.CheckReadings([]job.Reading{{Row: 1, Value: 2, Unit: leveling.MM}})},
		{"a move", "", st.CheckMoves([]job.Move{{Row: 1, SettingBefore: at, AfterMove: &four}})},
		{"without its last move", "", st.CheckMoves([]job.Move{{Row: 1, SettingBefore: at}})},
		{"stale setting", "STALE_SETTING", st.CheckMoves([]job.Move{{Row: 1, SettingBefore: turns(9)}})},
		{"stale move", "STALE_SETTING", st.CheckMoves([]job.Move{{Row: 1, SettingBefore: at, AfterMove: &three}})},
		{"after a part change", "STALE_SETTING", st.CheckMoves([]job.Move{{Row: 2, SettingBefore: turns(8), AfterMove: &zero}})},
		{"wrong before stale", "moves[1].row moves[1].afterMove", st.CheckMoves([]job.Move{{Row: 1, SettingBefore: turns(9)}, {Row: 1, SettingBefore: at, AfterMove: &nine}})},
		{"no setting", "moves[0].settingBefore", st.CheckMoves([]job.Move{{Row: 1}})},
		{"endless", "moves[0].count moves[0].effectMm moves[0].row", st.CheckMoves([]job.Move{{Row: 7, Count: nan, EffectMm: inf}})},
		{"part", "partChanges[0].row partChanges[0].part", st.CheckPartChanges([]job.PartChange{{Row: 7}})},
		{"inspection by value", "inspections[0].value", st.CheckInspections([]job.Inspection{{Row: 1, Point: "play"}})},
		{"inspection of nothing", "inspections[0].comment inspections[0].value inspections[0].point", st.CheckInspections([]job.Inspection{{Row: 3, Point: "play", Value: &nan, Comment: long}})},
		{"notes", "notes[0].row notes[0].text notes[1].text", st.CheckNotes([]job.Note{{Row: 7}, {Text: long}})},
		{"last move struck", "", st.CheckStrikes([]job.Strike{{Revision: 4}})},
		{"and then the one before", "", st.CheckStrikes([]job.Strike{{Revision: 4}, {Revision: 3}})},
		{"not the last", "NOT_STRIKABLE", st.CheckStrikes([]job.Strike{{Revision: 3}})},
		{"twice", "NOT_STRIKABLE", st.CheckStrikes([]job.Strike{{Revision: 2}, {Revision: 2}})},
		{"the opening", "NOT_STRIKABLE", st.CheckStrikes([]job.Strike{{Revision: 1}})},
		{"nothing there", "strikes[0].revision strikes[0].reason", st.CheckStrikes([]job.Strike{{Revision: 7, Reason: long}})},
		{"ticks", "person ticks[0].caution", st.CheckTicks("", []job.Tick{{Caution: "dragons"}, {Caution: "stands"}})},
		{"unread rows", "NOTHING_READ", st.CheckPlan(job.Ask{})},
		{"a bad aim first", "aim.toleranceMm aim.confidence", st.CheckPlan(job.Ask{Aim: &leveling.Aim{}})},
		{"a row not there", "aim.row", st.CheckPlan(job.Ask{Aim: &notMatched})},
		{"void", "reason", st.CheckVoid("")},
		{"sign", "person exceptions[0].reason exceptions[0].row exceptions[1].row exceptions[2].row",
			st.CheckSign("", []job.Exception{{Row: 8}, {Row: 1, Unproven: true, Reason: "x"}, {Row: 8, Reason: "x"}, {Row: 2, Reason: "x"}})},
		{"sign unticked", "CAUTIONS_OPEN", st.CheckSign("Ada", nil)},
	} {
		got := refused(c.err)
		if c.name == "sign" { // row 8 is both unknown and named twice
			got = strings.Join(slices.Compact(strings.Fields(got)), " ")
		}
		if got != c.want {
			t.Errorf("%s: %q, want %q (%v)", c.name, got, c.want, c.err)
		}
		saidInSpanish(t, c.err)
	}
	must(t, s.append("Ada", job.Event{Voided: &job.Voided{Reason: "wrong planter"}}))
	st = s.state
	for i, err := range []error{
		st.CheckReadings(nil), st.CheckMoves(nil), st.CheckPartChanges(nil), st.CheckInspections(nil), st.CheckNotes(nil),
		st.CheckStrikes(nil), st.CheckTicks("", nil), st.CheckPlan(job.Ask{}), st.CheckVoid(""), st.CheckSign("", nil),
	} {
		if refused(err) != "JOB_CLOSED" {
			t.Errorf("check %d on a voided job: %v", i, err)
		}
	}
}

// What passes a check never breaks the fold, whatever it is.
func TestCheckedReadingsFold(t *testing.T) {
	rng := rand.New(rand.NewPCG(51, 52))
	taken := 0
	for range 300 {
		s := randomShop(rng, 12)
		for range 40 {
			r := job.Reading{
				Row: rng.IntN(8), Value: []float64{0, 50, -20, 300, 1e308, math.NaN(), 2}[rng.IntN(7)],
				Unit: []leveling.LengthUnit{leveling.MM, leveling.Inch, ""}[rng.IntN(3)], Side: []job.Side{"", job.Left, job.Right, "UP"}[rng.IntN(4)],
				AfterMove: []int{0, 0, rng.IntN(20) - 3}[rng.IntN(3)],
			}
			n := len(s.log)
			if s.state.CheckReadings([]job.Reading{r}) == nil {
				must(t, s.read(r))
				taken++
			} else if len(s.log) != n {
				t.Fatal("a refused reading was taken")
			}
		}
	}
	if taken < 300 {
		t.Errorf("only %d readings were taken", taken)
	}
}

func TestSignatureSealsTheLog(t *testing.T) {
	s := newShop(opened(2, 0))
	must(t, s.readMm(1, 50.8))
	must(t, s.readMm(2, 49.2))
	must(t, s.plan(job.Ask{}))
	must(t, s.tickAll("Ada"))
	must(t, s.sign("Ada"))
	if !sealHolds(s.log) {
		t.Fatal("the signature does not hold")
	}
	if s.log[len(s.log)-1].Signed.Recipe != seal.Newest {
		t.Error("the signature does not say its recipe")
	}
	for i := range s.log {
		var changed []job.Event
		text, err := json.Marshal(s.log)
		must(t, err)
		must(t, json.Unmarshal(text, &changed))
		if !sealHolds(changed) {
			t.Fatal("the signature does not survive being written and read")
		}
		e := &changed[i]
		switch {
		case e.Opened != nil:
			e.Opened.Planter.Rows[0].Number++
		case e.Reading != nil:
			e.Reading.Value += 0.1
		case e.Issued != nil:
			e.Issued.Plan.DatumMm += 1e-9
		default:
			e.Person = "Bo"
		}
		if sealHolds(changed) {
			t.Errorf("event %d was changed and nobody noticed", i+1)
		}
	}
	if sealHolds(s.log[:3]) || sealHolds(nil) {
		t.Error("a log without a signature holds")
	}
	broken := job.Event{CreateTime: 5, Signed: &job.Signed{}}
	if err := broken.Seal(sealedJob, [][]byte{[]byte(`{"reading":`)}); err == nil {
		t.Error("what is no JSON was sealed")
	}
}

// movedTo is a job of four rows that were read, the first ones also moved by one turn and read again.
func movedTo(t *testing.T, last int) *shop {
	t.Helper()
	s := newShop(opened(4, 0))
	for row := 1; row <= 4; row++ {
		must(t, s.readMm(row, 50.8))
	}
	for row := 1; row <= last; row++ {
		must(t, s.moveNow(row, 1))
		must(t, s.readMm(row, 55.6))
	}
	return s
}

func TestTeach(t *testing.T) {
	s := movedTo(t, 3)
	must(t, s.append("Ada", job.Event{PartChange: &job.PartChange{Row: 2, Part: "handle"}}))
	now := s.state.Opened.Planter // as it is by now: row 3 was rebuilt, row 4's setting was put right
	now.Rows = slices.Clone(now.Rows)
	now.Rows[2].Mechanism, now.Rows[2].Setting = "stop", notch(4)
	now.Rows[3].Setting = turns(2)
	old := 61.0
	now.Rows[1].AsLeftMm, now.Rows[1].AsLeftFixture = &old, "box"
	got := s.state.Teach(now)
	if r := got.Rows[0]; r.Setting != turns(9) || *r.Scale >= 1 || *r.ScaleSd >= 0.08 || *r.AsLeftMm != s.state.Row(1).Estimate.DepthMm || r.AsLeftFixture != "box" {
		t.Errorf("row 1 learned %+v", r)
	}
	if r := got.Rows[1]; r.Setting != turns(9) || r.Scale != nil || r.ScaleSd != nil || r.AsLeftMm != nil {
		t.Errorf("row 2, whose handle was changed, learned %+v", r)
	}
	if r := got.Rows[2]; r != now.Rows[2] {
		t.Errorf("row 3, rebuilt, learned %+v", r)
	}
	if r := got.Rows[3]; r.Setting != turns(2) || r.Scale != nil || r.AsLeftMm == nil {
		t.Errorf("row 4, never moved, learned %+v", r)
	}
	if now.Rows[0].Setting != turns(8) {
		t.Error("the planter handed in was changed")
	}
}

// TestTeachBesideAnotherVisit: another job of the planter was opened later and signed first. What it left stands, but for a row
// that both moved.
func TestTeachBesideAnotherVisit(t *testing.T) {
	s := movedTo(t, 2)
	now := s.state.Opened.Planter
	now.Rows = slices.Clone(now.Rows)
	scale, sd, left := 0.9, 0.02, 61.0
	for _, i := range []int{1, 2} { // it moved rows 2 and 3, and read row 4
		now.Rows[i].Setting, now.Rows[i].Scale, now.Rows[i].ScaleSd, now.Rows[i].AsLeftMm, now.Rows[i].AsLeftFixture = turns(11), &scale, &sd, &left, "box"
	}
	now.Rows[3].Scale, now.Rows[3].ScaleSd = &scale, &sd
	got := s.state.Teach(now)
	if r := got.Rows[0]; r.Setting != turns(9) || r.Scale == nil {
		t.Errorf("row 1, moved here only, learned %+v", r)
	}
	if r := got.Rows[1]; r.Setting != "" || r.AsLeftMm != nil || r.Scale != &scale {
		t.Errorf("row 2, moved by both, learned %+v", r)
	}
	if r := got.Rows[2]; r != now.Rows[2] {
		t.Errorf("row 3, moved there only, learned %+v", r)
	}
	if r := got.Rows[3]; r.Setting != turns(8) || r.Scale != &scale || r.AsLeftMm == nil {
		t.Errorf("row 4, moved by neither, learned %+v", r)
	}
}

// After a plan, least work never undoes a row that was moved and is even: it stays even at the new datum
// and is left alone; and a free plan is never claimed to be held.
func TestDatumStays(t *testing.T) {
	rng := rand.New(rand.NewPCG(53, 54))
	held := 0
	for i := range 150 {
		s := newShop(opened(3, 3))
		truth := map[int]float64{}
		for row := 1; row <= 6; row++ {
			truth[row] = 50 + 5*rng.NormFloat64()
			must(t, s.readMm(row, ruled(truth[row]), ruled(truth[row]+0.4*rng.NormFloat64())))
		}
		for range 4 {
			must(t, s.plan(job.Ask{}))
			for _, r := range s.state.Rows {
				if r.Move != nil && rng.IntN(3) > 0 {
					must(t, s.moveNow(r.Row, r.Move.Option.Count))
					truth[r.Row] += (0.8 + 0.3*rng.Float64()) * r.Move.Option.EffectMm
					must(t, s.readMm(r.Row, ruled(truth[r.Row])))
				}
			}
			before := s.state
			p, free := s.problem(job.Ask{})
			if free != (p.Window == nil) {
				t.Fatal("free and a window")
			}
			if free {
				continue
			}
			held++
			datum := plan.Compute(p)
			if pm := int64(math.RoundToEven(datum.DatumMm * 1e9)); pm < p.Window.FromPm || pm > p.Window.ToPm {
				t.Fatalf("case %d: datum %v outside its window %+v", i, datum.DatumMm, *p.Window)
			}
			for j, r := range datum.Rows {
				was := before.Rows[j]
				if was.Moved && was.Verdict == leveling.Even && !was.Surprising && r.Part != plan.Left {
					t.Fatalf("case %d: row %d was moved and even, and is now touched\n%s", i, r.Row, datum.Describe())
				}
			}
			if q, free := s.problem(job.Ask{Replan: true}); !free || q.Window != nil {
				t.Fatal("a replan was held")
			}
		}
	}
	if held < 80 {
		t.Errorf("held %d times only", held)
	}
}
