package api

import (
	"cmp"
	"context"
	"strconv"

	pb "rowdatum/proto/gen/rowdatum/v1"
	"rowdatum/server/internal/flow"
	"rowdatum/server/leveling"
	"rowdatum/server/leveling/wear"
)

// Wear serves rowdatum.v1.WearService.
type Wear struct {
	pb.UnimplementedWearServiceServer
	Flow *flow.Flow
}

// GetWear implements WearService.
func (s *Wear) GetWear(ctx context.Context, req *pb.GetWearRequest) (*pb.Wear, error) {
	ids, err := parseName("name", req.GetName(), planterPattern)
	if err != nil {
		return nil, err
	}
	confidence := leveling.DefaultAim().Confidence
	set(&confidence, req.Confidence)
	a, err := s.Flow.Wear(ctx, callerOf(ctx), ids[0], confidence, languageOf(ctx))
	if err != nil {
		return nil, err
	}
	return &pb.Wear{Method: a.Method, LengthUnit: lengthUnitProto(a.Voice.LengthUnit()), AreaUnit: areaUnitProto(cmp.Or(a.Voice.AreaUnit, leveling.Hectare)), Cautions: a.Cautions, Rows: each(a.Rows, rowWearProto), Parts: each(a.Parts, partWearProto), Edge: edgeProto(a.Edge), Common: commonProto(a.Common),
		Visits: each(a.Visits, func(v flow.WearVisit) *pb.WearVisit {
			return &pb.WearVisit{Job: jobNameOf(v.Job), SignTime: timeProto(v.SignTime), Hectares: v.Hectares, PlantedArea: v.Area}
		})}, nil
}

func rowWearProto(r wear.Row) *pb.RowWear {
	out := &pb.RowWear{Row: int32(r.Row), Visits: int32(r.Visits), Unlike: r.Unlike, Why: r.Why}
	if s := r.Since; s != nil {
		out.LastLeftMm, out.FoundMm = rounded(s.LeftMm), rounded(s.FoundMm)
		out.FoundChangeMm, out.FoundChangeFromMm, out.FoundChangeToMm = rounded(s.ChangeMm.At), rounded(s.ChangeMm.From), rounded(s.ChangeMm.To)
	}
	if !r.Enough {
		return out
	}
	out.DriftMmPerHectare, out.DriftFromMmPerHectare, out.DriftToMmPerHectare = fine(r.Drift.At), fine(r.Drift.From), fine(r.Drift.To)
	out.HectaresLeftFrom, out.HectaresLeftTo = leftProto(r.HectaresLeft)
	return out
}

func partWearProto(p flow.WearPart) *pb.PartWear {
	out := &pb.PartWear{Row: int32(p.Row), Point: p.Point.ID, Title: p.Point.Title, Unit: p.Point.Unit, Limit: p.Point.Limit, Visits: int32(p.Visits),
		Last: p.Trend.Last, Worn: p.Trend.Worn, Enough: p.Trend.Enough}
	out.HectaresLeftFrom, out.HectaresLeftTo = leftProto(p.Trend.HectaresLeft)
	return out
}

func edgeProto(e *wear.Edge) *pb.EdgeWear {
	if e == nil {
		return nil
	}
	return &pb.EdgeWear{Rows: each(e.Rows, func(n int) int32 { return int32(n) }), DifferenceMmPerHectare: *fine(e.Difference.At),
		DifferenceFromMmPerHectare: *fine(e.Difference.From), DifferenceToMmPerHectare: *fine(e.Difference.To), P: e.P}
}

func commonProto(c *wear.Common) *pb.CommonWear {
	if c == nil {
		return nil
	}
	return &pb.CommonWear{Visits: int32(c.Visits), DriftMmPerHectare: *fine(c.Drift.At), DriftFromMmPerHectare: *fine(c.Drift.From), DriftToMmPerHectare: *fine(c.Drift.To)}
}

func leftProto(l *wear.Left) (from, to *float64) {
	if l == nil {
		return nil, nil
	}
	return roundedOr(l.From), roundedOr(l.To)
}

// fine is x to nine significant digits: a drift for each hectare is small, and the last bits of it differ from
// one processor to the next.
func fine(x float64) *float64 {
	const digits = 9
	x, _ = strconv.ParseFloat(strconv.FormatFloat(x, 'e', digits-1, 64), 64)
	return &x
}
