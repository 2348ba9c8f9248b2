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
		resolution: 0, repeat: 0.5, tolerance: 3, confidence: 0.9, miss: 900, mechanisms: []mechanism{handle},
		rows: []row{{setting: setting, readings: []float64{50}, scale: 1, scaleSd: -1}, {setting: setting, readings: []float64{56, 56}, scale: 1, scaleSd: -1}},
	}
}

func answered() *pb.Plan {
	fifty6, u := 56.0, 0.5
	return &pb.Plan{DatumMm: 56, TouchSeconds: 60, Rows: []*pb.RowPlan{
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
		"touching uncounted":  func(a *pb.Plan) { a.TouchSeconds = 0 },
		"even, far from it":   func(a *pb.Plan) { a.Rows[0].Verdict = pb.Verdict_EVEN },
		"unsure, far from it": func(a *pb.Plan) { a.Rows[0].Verdict = pb.Verdict_UNSURE },
		"off, at the datum":   func(a *pb.Plan) { a.Rows[1].Verdict = pb.Verdict_OFF },
		"stuck, with places":  func(a *pb.Plan) { a.Rows[1].Verdict = pb.Verdict_STUCK },
		"a place that is not": func(a *pb.Plan) { a.Rows[0].Move.EffectMm = 3 },
		"left off beside a way": func(a *pb.Plan) {
			a.Rows[0].Move, a.Rows[0].PredictedMm, a.TouchSeconds, a.SpreadAfterMm = nil, depth(50), 0, 6
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

// A row that is read again, that stays off, that is stuck: each costs what it is worth.
func TestJudgeCountsMisses(t *testing.T) {
	for name, c := range map[string]struct {
		shallower, datum float64 // travel to keep and datum, mm
		verdict          pb.Verdict
		touch, cost      float64 // seconds
	}{
		"read again":               {0, 53, pb.Verdict_UNSURE, 60, 960},
		"off, and no way to there": {24, 46, pb.Verdict_OFF, 0, 900},
		"stuck":                    {100, 50, pb.Verdict_STUCK, 0, 900},
	} {
		p := twoHandles()
		p.rows, p.shallower = p.rows[:1], c.shallower
		answer := &pb.Plan{DatumMm: c.datum, TouchSeconds: c.touch, Rows: []*pb.RowPlan{
			{EstimateMm: 50, UncertaintyMm: 0.5, Verdict: c.verdict, PredictedMm: &p.rows[0].readings[0]},
		}}
		if got, err := p.judge(p.figure(), answer, pb.Aim_LEAST_WORK); err != nil || got.cost != c.cost {
			t.Errorf("%s: %+v, %v, want %v s", name, got, err, c.cost)
		}
	}
}
