package optimum

import (
	"math"
	"testing"

	pb "rowdatum/proto/gen/rowdatum/v1"
)

// twoHandles are rows at 50 and 56 mm whose handles turn by 6 mm, the first read once, the second often enough to be the
// datum's own.
func twoHandles() problem {
	handle := threaded(6, 1, 8)
	handle.scaleSd, handle.seating, handle.touch = 0.08, 0.3, 60
	setting := map[string]any{"turns": 4.0}
	return problem{
		resolution: 0, repeat: 0.5, tolerance: 3, confidence: 0.9, miss: 900, read: 20, mechanisms: []mechanism{handle},
		rows: []row{{setting: setting, readings: []float64{50}, scale: 1, scaleSd: -1}, {setting: setting, readings: []float64{56, 56}, scale: 1, scaleSd: -1}},
	}
}

func answered() *pb.Plan {
	fifty6, u := 56.0, 0.5
	return &pb.Plan{DatumMm: 56, WorkSeconds: 60, Rows: []*pb.RowPlan{
		{EstimateMm: 50, UncertaintyMm: u, Verdict: pb.Verdict_OFF, Move: &pb.Move{EffectMm: 6}, PredictedMm: &fifty6},
		{EstimateMm: 56, UncertaintyMm: u / math.Sqrt2, Verdict: pb.Verdict_EVEN, PredictedMm: &fifty6},
	}}
}

func TestJudge(t *testing.T) {
	p := twoHandles()
	got, err := p.judge(p.figure(), answered(), pb.Aim_LEAST_WORK)
	if err != nil || got.cost != 60 || got.spread != 0 {
		t.Errorf("%+v, %v", got, err)
	}
}

// An answer that is wrong in one thing does not pass.
func TestJudgeFindsFaults(t *testing.T) {
	depth := func(mm float64) *float64 { return &mm }
	for name, spoil := range map[string]func(*pb.Plan){
		"a row less":          func(a *pb.Plan) { a.Rows = a.Rows[:1] },
		"an estimate":         func(a *pb.Plan) { a.Rows[0].EstimateMm = 50.00001 },
		"an uncertainty":      func(a *pb.Plan) { a.Rows[0].UncertaintyMm = 0.49 },
		"a prediction":        func(a *pb.Plan) { a.Rows[0].PredictedMm = depth(55) },
		"a spread":            func(a *pb.Plan) { a.SpreadAfterMm = 1 },
		"work uncounted":      func(a *pb.Plan) { a.WorkSeconds = 0 },
		"even, far from it":   func(a *pb.Plan) { a.Rows[0].Verdict = pb.Verdict_EVEN },
		"unsure, far from it": func(a *pb.Plan) { a.Rows[0].Verdict = pb.Verdict_UNSURE },
		"off, at the datum":   func(a *pb.Plan) { a.Rows[1].Verdict = pb.Verdict_OFF },
		"stuck, with places":  func(a *pb.Plan) { a.Rows[1].Verdict = pb.Verdict_STUCK },
		"a place that is not": func(a *pb.Plan) { a.Rows[0].Move.EffectMm = 3 },
		"left off beside a way": func(a *pb.Plan) {
			a.Rows[0].Move, a.Rows[0].PredictedMm, a.WorkSeconds, a.SpreadAfterMm = nil, depth(50), 0, 6
		},
		"moved too far": func(a *pb.Plan) {
			a.Rows[0].Move.EffectMm, a.Rows[0].PredictedMm, a.SpreadAfterMm = 12, depth(62), 6
		},
	} {
		p, answer := twoHandles(), answered()
		spoil(answer)
		if got, err := p.judge(p.figure(), answer, pb.Aim_LEAST_WORK); err == nil {
			t.Errorf("%s: passes as %+v", name, got)
		}
	}
}

// A row that is read again, that stays off or unsure, that is stuck: each costs what it is worth.
func TestJudgeCountsMisses(t *testing.T) {
	for name, c := range map[string]struct {
		shallower, datum float64 // travel to keep and datum, mm
		verdict          pb.Verdict
		readings         int32
		work, cost       float64 // seconds
	}{
		"read again":                    {0, 52.5, pb.Verdict_UNSURE, 1, 20, 20},
		"unsure, and no reading proves": {0, 53, pb.Verdict_UNSURE, 0, 0, 900},
		"off, and no way to there":      {24, 46, pb.Verdict_OFF, 0, 0, 900},
		"stuck":                         {100, 50, pb.Verdict_STUCK, 0, 0, 900},
	} {
		p := twoHandles()
		p.rows, p.shallower = p.rows[:1], c.shallower
		answer := &pb.Plan{DatumMm: c.datum, WorkSeconds: c.work, Rows: []*pb.RowPlan{
			{EstimateMm: 50, UncertaintyMm: 0.5, Verdict: c.verdict, ReadingsToSettle: c.readings, PredictedMm: &p.rows[0].readings[0]},
		}}
		if got, err := p.judge(p.figure(), answer, pb.Aim_CLOSEST); err != nil || got.cost != c.cost {
			t.Errorf("%s: %+v, %v, want %v s", name, got, err, c.cost)
		}
	}
}

// What a row costs at a datum: the parts in their order, each at its price.
func TestCostAt(t *testing.T) {
	p := twoHandles() // a row at 50 mm, read once, moved by 6 mm a turn
	p.rows = p.rows[:1]
	row := p.figure()[0]
	for datum, want := range map[float64]float64{
		50:   0,        // A
		52.3: 0,        // A: 3 - 1.2816·0.5 is 2.36
		52.5: 20,       // R, once
		52.7: 80,       // R, four times
		53:   900,      // D, left: as far from where it stands as from where a turn brings it
		54:   60,       // M
		26:   60,       // M, to the end of the travel
		22:   900 + 60, // D, moved to 26
	} {
		if got := p.costAt(row, datum); got != want {
			t.Errorf("at %v mm %v s, want %v", datum, got, want)
		}
	}
	p.shallower, p.deeper = 24, 24 // it may not be moved at all
	if got := p.costAt(p.figure()[0], 53.2); got != 900 {
		t.Errorf("where nothing proves it %v s, want a miss", got)
	}
}
