package api

import (
	"context"
	"fmt"

	pb "rowdatum/proto/gen/rowdatum/v1"
	"rowdatum/server/internal/flow"
	"rowdatum/server/leveling"
	"rowdatum/server/leveling/job"
	"rowdatum/server/leveling/plan"
)

// Field serves rowdatum.v1.FieldService.
type Field struct {
	pb.UnimplementedFieldServiceServer
	Flow *flow.Flow
}

// GetFieldMove implements FieldService.
func (s *Field) GetFieldMove(ctx context.Context, req *pb.GetFieldMoveRequest) (*pb.FieldMove, error) {
	ids, err := parseName("name", req.GetName(), planterPattern)
	if err != nil {
		return nil, err
	}
	var v leveling.Violations
	delta := given("deltaMm", req.DeltaMm, &v)
	if err := v.Err(); err != nil {
		return nil, err
	}
	move, err := s.Flow.FieldMove(ctx, callerOf(ctx), ids[0], delta, languageOf(ctx))
	if err != nil {
		return nil, err
	}
	return fieldMoveProto(move)
}

// ComputeFieldMove implements FieldService.
func (s *Field) ComputeFieldMove(ctx context.Context, req *pb.ComputeFieldMoveRequest) (*pb.FieldMove, error) {
	var ask flow.FieldRequest
	unit := lengthUnit("lengthUnit", req.GetLengthUnit(), &ask.Unreadable)
	ask.Voice = leveling.VoiceFor(languageOf(ctx), unit, leveling.DefaultFixture())
	ask.DeltaMm = given("deltaMm", req.DeltaMm, &ask.Unreadable)
	ask.Mechanisms = mechanismsOf("", req.GetMechanisms(), &ask.Unreadable)
	for i, r := range req.GetRows() {
		ask.Unreadable.Of("rows", i, func() {
			ask.Rows = append(ask.Rows, flow.FieldRow{Number: int(r.GetRow()), Mechanism: r.GetMechanism(), DepthMm: r.DepthMm, Scale: r.Scale, ScaleSd: r.ScaleSd,
				Setting: object("setting", r.GetSetting(), "", &ask.Unreadable)})
		})
	}
	move, err := s.Flow.ComputeFieldMove(ctx, ask)
	if err != nil {
		return nil, err
	}
	return fieldMoveProto(move)
}

func fieldMoveProto(m plan.FieldMove) (*pb.FieldMove, error) {
	out := &pb.FieldMove{LengthUnit: lengthUnitProto(m.LengthUnit), DeltaMm: m.DeltaMm, MeanChangeMm: m.MeanChangeMm, SpreadBeforeMm: m.SpreadBeforeMm, SpreadAfterMm: m.SpreadAfterMm,
		Reached: m.Reached, Cautions: m.Cautions}
	for _, g := range m.Groups {
		out.Mechanisms = append(out.Mechanisms, &pb.GroupMove{Mechanism: g.Mechanism, Count: g.Count, Unit: g.Unit.For(g.Count),
			Rows: each(g.Rows, func(n int) int32 { return int32(n) })})
	}
	var err error
	out.Rows, err = eachOr(m.Rows, func(r plan.FieldRow) (*pb.FieldRowMove, error) {
		after, err := structOf(r.Option.SettingAfter)
		if err != nil {
			return nil, fmt.Errorf("row %d: setting after: %w", r.Row, err)
		}
		return &pb.FieldRowMove{Row: int32(r.Row), DepthMm: *rounded(r.DepthMm), UncertaintyMm: *rounded(r.UncertaintyMm), ChangeMm: *rounded(r.ChangeMm),
			SettingAfter: after, OutOfTravel: r.OutOfTravel, TrimmedOnly: r.Trimmed}, nil
	})
	return out, err
}

// GetIndexCard implements FieldService.
func (s *Field) GetIndexCard(ctx context.Context, req *pb.GetIndexCardRequest) (*pb.IndexCard, error) {
	ids, err := parseName("name", req.GetName(), planterPattern)
	if err != nil {
		return nil, err
	}
	card, err := s.Flow.IndexCard(ctx, callerOf(ctx), ids[0], languageOf(ctx))
	if err != nil {
		return nil, err
	}
	out := &pb.IndexCard{Planter: planterPrefix + card.Planter.ID, DisplayName: card.Planter.DisplayName, LengthUnit: lengthUnitProto(card.Voice.LengthUnit())}
	if out.FieldMoves, err = eachOr(card.Moves, fieldMoveProto); err != nil || card.Last == nil {
		return out, err
	}
	state := card.Last.State
	out.Job, out.DatumMm, out.SpreadMm = jobNameOf(card.Last.Head.JobKey), roundedOr(state.DatumMm), roundedOr(state.SpreadMm)
	if sign := state.Signature; sign != nil {
		out.Person, out.SignTime = sign.Person, timeProto(sign.SignTime)
	}
	if out.Marks, err = eachOr(state.Marks, marksProto); err != nil {
		return nil, err
	}
	out.Rows, err = eachOr(state.Rows, indexCardRow)
	return out, err
}

func indexCardRow(r job.RowState) (*pb.IndexCardRow, error) {
	setting, err := structOf(r.Setting)
	if err != nil {
		return nil, fmt.Errorf("row %d: setting: %w", r.Row, err)
	}
	out := &pb.IndexCardRow{Row: int32(r.Row), OffsetMm: roundedOr(r.FromDatumMm), Measured: r.Measured, Verdict: pb.Verdict(r.Verdict),
		Exception: r.Exception, Setting: setting}
	if r.Known {
		out.UncertaintyMm = rounded(r.Estimate.UncertaintyMm)
	}
	return out, nil
}
