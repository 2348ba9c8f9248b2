package api

import (
	"context"
	"fmt"

	"google.golang.org/protobuf/types/known/emptypb"
	"google.golang.org/protobuf/types/known/timestamppb"

	pb "rowdatum/proto/gen/rowdatum/v1"
	"rowdatum/server/internal/flow"
	"rowdatum/server/leveling"
)

// Planters serves rowdatum.v1.PlanterService.
type Planters struct {
	pb.UnimplementedPlanterServiceServer
	Flow *flow.Flow
}

const (
	planterPrefix = "planters/"
	plantersScope = "planters"
)

// CreatePlanter implements PlanterService.
func (s *Planters) CreatePlanter(ctx context.Context, req *pb.CreatePlanterRequest) (*pb.Planter, error) {
	p, err := planterOf(req.GetPlanter())
	if err != nil {
		return nil, err
	}
	p, err = s.Flow.CreatePlanter(ctx, callerOf(ctx), requestOf(ctx, req.GetRequestId(), req), req.GetPlanterId(), p)
	if err != nil {
		return nil, err
	}
	return planterProto(p)
}

// GetPlanter implements PlanterService.
func (s *Planters) GetPlanter(ctx context.Context, req *pb.GetPlanterRequest) (*pb.Planter, error) {
	ids, err := parseName("name", req.GetName(), planterPattern)
	if err != nil {
		return nil, err
	}
	p, err := s.Flow.Planter(ctx, callerOf(ctx), ids[0])
	if err != nil {
		return nil, err
	}
	return planterProto(p)
}

// ListPlanters implements PlanterService.
func (s *Planters) ListPlanters(ctx context.Context, req *pb.ListPlantersRequest) (*pb.ListPlantersResponse, error) {
	q, err := page(req, fewToAPage, plantersScope, "displayName", "owner", "externalIds.")
	if err != nil {
		return nil, err
	}
	planters, more, err := s.Flow.Planters(ctx, callerOf(ctx), q)
	if err != nil {
		return nil, err
	}
	out := &pb.ListPlantersResponse{}
	for _, p := range planters {
		one, err := planterProto(p)
		if err != nil {
			return nil, err
		}
		out.Planters = append(out.Planters, one)
	}
	if more {
		out.NextPageToken = nextToken(req, plantersScope, planters[len(planters)-1].ID)
	}
	return out, nil
}

// UpdatePlanter implements PlanterService.
func (s *Planters) UpdatePlanter(ctx context.Context, req *pb.UpdatePlanterRequest) (*pb.Planter, error) {
	ids, err := parseName("planter.name", req.GetPlanter().GetName(), planterPattern)
	if err != nil {
		return nil, err
	}
	change := func(present leveling.Planter) (leveling.Planter, error) {
		whole, err := planterProto(present)
		if err != nil {
			return leveling.Planter{}, err
		}
		if err := merge(whole, req.GetPlanter(), req.GetUpdateMask(), "name", "etag", "create_time", "update_time"); err != nil {
			return leveling.Planter{}, err
		}
		changed, err := planterOf(whole)
		changed.Remember(present)
		return changed, err
	}
	p, err := s.Flow.UpdatePlanter(ctx, callerOf(ctx), requestOf(ctx, req.GetRequestId(), req), ids[0], req.GetPlanter().GetEtag(), change)
	if err != nil {
		return nil, err
	}
	return planterProto(p)
}

// DeletePlanter implements PlanterService.
func (s *Planters) DeletePlanter(ctx context.Context, req *pb.DeletePlanterRequest) (*emptypb.Empty, error) {
	ids, err := parseName("name", req.GetName(), planterPattern)
	if err != nil {
		return nil, err
	}
	if err := s.Flow.DeletePlanter(ctx, callerOf(ctx), requestOf(ctx, req.GetRequestId(), req), ids[0], req.GetEtag()); err != nil {
		return nil, err
	}
	return &emptypb.Empty{}, nil
}

// planterOf reads what a caller may set of a planter; what was learned is not the caller's to give.
func planterOf(p *pb.Planter) (leveling.Planter, error) {
	var v leveling.Violations
	out := leveling.Planter{DisplayName: p.GetDisplayName(), Owner: p.GetOwner(), ExternalIDs: p.GetExternalIds(),
		Reach: reachOf(p.GetReach()), Mechanisms: mechanismsOf("planter.", p.GetMechanisms(), &v),
		LengthUnit: lengthUnit("planter.lengthUnit", p.GetLengthUnit(), &v), AreaUnit: areaUnit("planter.areaUnit", p.GetAreaUnit(), &v)}
	if p != nil {
		out.RowSpacingMm = p.RowSpacingMm
	}
	for i, row := range p.GetRows() {
		v.Of("planter.rows", i, func() {
			if _, known := pb.Rank_name[int32(row.GetRank())]; !known {
				v.Add("rank", "is %d, must be FRONT or REAR", row.GetRank())
			}
			out.Rows = append(out.Rows, leveling.PlanterRow{Number: int(row.GetRow()), Mechanism: row.GetMechanism(), Rank: leveling.Rank(row.GetRank()),
				Setting: object("setting", row.GetSetting(), "", &v)})
		})
	}
	for _, section := range p.GetSections() {
		out.Sections = append(out.Sections, leveling.Section{Title: section.GetTitle(), FirstRow: int(section.GetFirstRow()), LastRow: int(section.GetLastRow())})
	}
	for _, number := range p.GetReferenceRows() {
		out.ReferenceRows = append(out.ReferenceRows, int(number))
	}
	return out, v.Err()
}

func planterProto(p leveling.Planter) (*pb.Planter, error) {
	out := &pb.Planter{Name: planterPrefix + p.ID, DisplayName: p.DisplayName, Owner: p.Owner, RowSpacingMm: p.RowSpacingMm,
		ExternalIds: p.ExternalIDs, Reach: reachProto(p.Reach), Etag: flow.Etag(p.Revision),
		CreateTime: timeProto(p.CreateTime), UpdateTime: timeProto(p.UpdateTime),
		LengthUnit: lengthUnitProto(p.LengthUnit), AreaUnit: areaUnitProto(p.AreaUnit)}
	for _, m := range p.Mechanisms {
		figures, err := structOf(m.Figures)
		if err != nil {
			return nil, fmt.Errorf("planter %s: figures of %s: %w", p.ID, m.ID, err)
		}
		out.Mechanisms = append(out.Mechanisms, &pb.Mechanism{Id: m.ID, Style: m.Style, Figures: figures})
	}
	for _, row := range p.Rows {
		setting, err := structOf(row.Setting)
		if err != nil {
			return nil, fmt.Errorf("planter %s: setting of row %d: %w", p.ID, row.Number, err)
		}
		out.Rows = append(out.Rows, &pb.PlanterRow{Row: int32(row.Number), Mechanism: row.Mechanism, Setting: setting, Rank: pb.Rank(row.Rank),
			Scale: row.Scale, ScaleSd: row.ScaleSd, AsLeftMm: row.AsLeftMm})
	}
	for _, section := range p.Sections {
		out.Sections = append(out.Sections, &pb.Section{Title: section.Title, FirstRow: int32(section.FirstRow), LastRow: int32(section.LastRow)})
	}
	for _, number := range p.ReferenceRows {
		out.ReferenceRows = append(out.ReferenceRows, int32(number))
	}
	return out, nil
}

func mechanismsOf(path string, mechanisms []*pb.Mechanism, v *leveling.Violations) []leveling.Mechanism {
	var out []leveling.Mechanism
	for i, m := range mechanisms {
		v.Of(path+"mechanisms", i, func() {
			out = append(out, leveling.Mechanism{ID: m.GetId(), Style: m.GetStyle(), Figures: object("figures", m.GetFigures(), "{}", v)})
		})
	}
	return out
}

func reachOf(r *pb.Reach) (out leveling.Reach) {
	if r != nil {
		set(&out.ShallowerMm, r.ShallowerMm)
		set(&out.DeeperMm, r.DeeperMm)
	}
	return out
}

func reachProto(r leveling.Reach) *pb.Reach {
	return &pb.Reach{ShallowerMm: &r.ShallowerMm, DeeperMm: &r.DeeperMm}
}

// timeProto returns nil for no moment.
func timeProto(at leveling.Micros) *timestamppb.Timestamp {
	if at == 0 {
		return nil
	}
	return &timestamppb.Timestamp{Seconds: int64(at) / 1e6, Nanos: int32(int64(at) % 1e6 * 1e3)}
}

// timeOf returns 0 for no moment; a moment outside the years 1970 to 9999 is a violation.
func timeOf(path string, at *timestamppb.Timestamp, v *leveling.Violations) leveling.Micros {
	if at == nil {
		return 0
	}
	if !at.IsValid() || at.GetSeconds() < 0 {
		v.Add(path, "is not a moment from 1970 to 9999")
		return 0
	}
	return leveling.Micros(at.GetSeconds()*1e6 + int64(at.GetNanos())/1e3)
}
