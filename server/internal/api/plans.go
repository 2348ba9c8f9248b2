package api

import (
	"cmp"
	"context"
	"fmt"

	pb "rowdatum/proto/gen/rowdatum/v1"
	"rowdatum/server/internal/flow"
	"rowdatum/server/leveling"
	"rowdatum/server/leveling/plan"
	"rowdatum/server/leveling/worth"
)

// Plans serves rowdatum.v1.PlanService.
type Plans struct {
	pb.UnimplementedPlanServiceServer
	Flow *flow.Flow
}

// ComputePlan implements PlanService.
func (s *Plans) ComputePlan(ctx context.Context, req *pb.ComputePlanRequest) (*pb.Plan, error) {
	ask := planRequest(req)
	ask.Language = languageOf(ctx)
	ask.LengthUnit = lengthUnit("lengthUnit", req.GetLengthUnit(), &ask.Unreadable)
	answer, err := s.Flow.ComputePlan(ctx, ask)
	if err != nil {
		return nil, err
	}
	return planProto(answer)
}

var aimKind = map[pb.Aim_Kind]leveling.AimKind{
	pb.Aim_KIND_UNSPECIFIED: leveling.LeastWork,
	pb.Aim_LEAST_WORK:       leveling.LeastWork,
	pb.Aim_CLOSEST:          leveling.Closest,
	pb.Aim_MATCH_ROW:        leveling.MatchRow,
	pb.Aim_SET_DEPTH:        leveling.SetDepth,
}

// planRequest puts in the defaults of what the caller left out.
func planRequest(req *pb.ComputePlanRequest) flow.PlanRequest {
	ask := flow.PlanRequest{Fixture: leveling.DefaultFixture(), Aim: leveling.DefaultAim()}
	if f := req.GetFixture(); f != nil {
		set(&ask.Fixture.ResolutionMm, f.ResolutionMm)
		set(&ask.Fixture.RepeatabilityMm, f.RepeatabilityMm)
		set(&ask.Fixture.FloorMm, f.FloorMm)
	}
	ask.Aim = aimOf("aim", req.GetAim(), ask.Aim, &ask.Unreadable)
	ask.Reach = reachOf(req.GetReach())
	ask.Mechanisms = mechanismsOf("", req.GetMechanisms(), &ask.Unreadable)
	ask.Rows = make([]flow.PlanRow, len(req.GetRows()))
	for i, r := range req.GetRows() {
		ask.Unreadable.Of("rows", i, func() {
			ask.Rows[i] = flow.PlanRow{Number: int(r.GetRow()), Mechanism: r.GetMechanism(), ReadingsMm: r.GetReadingsMm(),
				Setting: object("setting", r.GetSetting(), "", &ask.Unreadable), Scale: r.Scale, ScaleSd: r.ScaleSd}
		})
	}
	for _, number := range req.GetReferenceRows() {
		ask.ReferenceRows = append(ask.ReferenceRows, int(number))
	}
	return ask
}

// aimOf puts what the caller gives over what stands there.
func aimOf(path string, a *pb.Aim, aim leveling.Aim, v *leveling.Violations) leveling.Aim {
	if a == nil {
		return aim
	}
	kind, known := aimKind[a.Kind]
	if !known {
		v.Add(path+".kind", "is %d, must be LEAST_WORK, CLOSEST, MATCH_ROW or SET_DEPTH", a.Kind)
	}
	if a.Kind != pb.Aim_KIND_UNSPECIFIED {
		aim.Kind = kind
	}
	if a.Row != nil {
		aim.Row = int(*a.Row)
	}
	if a.DatumMm != nil {
		aim.DatumMm = a.DatumMm
	}
	set(&aim.ToleranceMm, a.ToleranceMm)
	set(&aim.Confidence, a.Confidence)
	switch a.ConfidenceOf {
	case pb.Aim_CONFIDENCE_OF_UNSPECIFIED:
	case pb.Aim_ROW:
		aim.ConfidenceOf = leveling.OfRow
	case pb.Aim_PLANTER:
		aim.ConfidenceOf = leveling.OfPlanter
	default:
		v.Add(path+".confidenceOf", "is %d, must be ROW or PLANTER", a.ConfidenceOf)
	}
	set(&aim.MissSeconds, a.MissSeconds)
	set(&aim.ReadSeconds, a.ReadSeconds)
	set(&aim.ZeroUncertaintyMm, a.ZeroUncertaintyMm)
	return aim
}

func set(to *float64, from *float64) {
	if from != nil {
		*to = *from
	}
}

func planProto(a flow.PlanAnswer) (*pb.Plan, error) {
	out := &pb.Plan{
		DatumMm: a.DatumMm, SpreadBeforeMm: a.SpreadBeforeMm, SpreadAfterMm: a.SpreadAfterMm,
		TouchedRows: int32(a.TouchedRows), RereadRows: int32(a.RereadRows), WorkSeconds: cmp.Or(a.WorkSeconds, a.TouchSeconds),
		ProvableToleranceMm: a.ProvableToleranceMm, Cautions: a.Cautions,
		PlanterChance: a.PlanterChance, PlanterChanceAfter: a.PlanterChanceAfter,
		TrueSpreadMm: trueSpreadProto(a.TrueSpreadMm), TrueSpreadAfterMm: trueSpreadProto(a.TrueSpreadAfterMm),
	}
	for i, row := range a.Rows {
		one, err := rowProto(row, a.Moves[i])
		if err != nil {
			return nil, err
		}
		out.Rows = append(out.Rows, one)
	}
	for _, point := range a.Tradeoff {
		out.Tradeoff = append(out.Tradeoff, &pb.TradeoffPoint{TouchedRows: int32(point.TouchedRows), SpreadMm: point.SpreadMm})
	}
	for _, marks := range a.Marks {
		one, err := marksProto(marks)
		if err != nil {
			return nil, err
		}
		out.Marks = append(out.Marks, one)
	}
	return out, nil
}

func trueSpreadProto(s worth.Spread) *pb.TrueSpread {
	return &pb.TrueSpread{Mean: s.MeanMm, From: s.FromMm, To: s.ToMm}
}

func rowProto(row plan.RowPlan, move flow.Move) (*pb.RowPlan, error) {
	out := &pb.RowPlan{
		Row: int32(row.Row), EstimateMm: row.EstimateMm, UncertaintyMm: row.UncertaintyMm,
		Verdict: pb.Verdict(row.Verdict), Chance: row.Chance, ReadingsToSettle: int32(row.ReadingsToSettle),
		ExpectedEven: row.Part.Proves(), Why: row.Why,
	}
	if row.Part == plan.NoReach {
		return out, nil
	}
	out.PredictedMm, out.PredictedChance = &row.PredictedMm, &row.PredictedChance
	if row.Option.Leave {
		return out, nil
	}
	var err error
	out.Move, err = moveProto(row.Row, row.Option, move)
	return out, err
}

func moveProto(row int, o leveling.Option, move flow.Move) (*pb.Move, error) {
	after, err := structOf(o.SettingAfter)
	if err != nil {
		return nil, fmt.Errorf("row %d: setting after: %w", row, err)
	}
	return &pb.Move{EffectMm: o.EffectMm, Count: o.Count, Unit: move.Unit, SettingAfter: after, Say: move.Say}, nil
}

func marksProto(marks plan.MechanismMarks) (*pb.MechanismMarks, error) {
	out := &pb.MechanismMarks{Mechanism: marks.Mechanism, ReferenceRow: int32(marks.ReferenceRow)}
	for _, row := range marks.Rows {
		one := &pb.RowMark{Row: int32(row.Row), ResidualMm: row.ResidualMm}
		if len(row.Table) == 0 {
			one.Count = &row.Count
		}
		for _, entry := range row.Table {
			setting, err := structOf(entry.Setting)
			if err != nil {
				return nil, fmt.Errorf("row %d: table: %w", row.Row, err)
			}
			one.Table = append(one.Table, &pb.MarkTableEntry{DepthMm: entry.DepthMm, Setting: setting})
		}
		out.Rows = append(out.Rows, one)
	}
	return out, nil
}
