package api

import (
	"context"
	"math"

	pb "rowdatum/proto/gen/rowdatum/v1"
	"rowdatum/proto/length"
	"rowdatum/server/internal/flow"
	"rowdatum/server/leveling"
	"rowdatum/server/leveling/dig"
	"rowdatum/server/leveling/emergence"
)

// Digs serves rowdatum.v1.DigService.
type Digs struct {
	pb.UnimplementedDigServiceServer
	Flow *flow.Flow
}

const digPattern = "planters/*/digs/*"

// CreateDig implements DigService.
func (s *Digs) CreateDig(ctx context.Context, req *pb.CreateDigRequest) (*pb.Dig, error) {
	ids, err := parseName("parent", req.GetParent(), planterPattern)
	if err != nil {
		return nil, err
	}
	d, err := digOf(req.GetDig())
	if err != nil {
		return nil, err
	}
	d.Planter = ids[0]
	d, err = s.Flow.CreateDig(ctx, callerOf(ctx), requestOf(ctx, req.GetRequestId(), req), req.GetDigId(), d)
	if err != nil {
		return nil, err
	}
	return digProto(d), nil
}

// GetDig implements DigService.
func (s *Digs) GetDig(ctx context.Context, req *pb.GetDigRequest) (*pb.Dig, error) {
	ids, err := parseName("name", req.GetName(), digPattern)
	if err != nil {
		return nil, err
	}
	d, err := s.Flow.Dig(ctx, callerOf(ctx), ids[0], ids[1])
	if err != nil {
		return nil, err
	}
	return digProto(d), nil
}

// ListDigs implements DigService.
func (s *Digs) ListDigs(ctx context.Context, req *pb.ListDigsRequest) (*pb.ListDigsResponse, error) {
	ids, err := parseName("parent", req.GetParent(), planterPattern)
	if err != nil {
		return nil, err
	}
	scope := "digs of " + ids[0]
	q, err := page(req, fewToAPage, scope)
	if err != nil {
		return nil, err
	}
	digs, more, err := s.Flow.Digs(ctx, callerOf(ctx), ids[0], q)
	if err != nil {
		return nil, err
	}
	out := &pb.ListDigsResponse{Digs: each(digs, digProto)}
	if more {
		out.NextPageToken = nextToken(req, scope, digs[len(digs)-1].ID)
	}
	return out, nil
}

// AnalyzeDig implements DigService.
func (s *Digs) AnalyzeDig(ctx context.Context, req *pb.AnalyzeDigRequest) (*pb.DigAnalysis, error) {
	ids, err := parseName("name", req.GetName(), digPattern)
	if err != nil {
		return nil, err
	}
	judge := judgeOf(ctx, req.GetAim())
	answer, err := s.Flow.AnalyzeDig(ctx, callerOf(ctx), ids[0], ids[1], judge)
	if err != nil {
		return nil, err
	}
	return digAnalysisProto(answer, judge)
}

// AnalyzeSeeds implements DigService.
func (s *Digs) AnalyzeSeeds(ctx context.Context, req *pb.AnalyzeSeedsRequest) (*pb.DigAnalysis, error) {
	var v leveling.Violations
	rows := seedsOf("", req.GetRows(), req.GetPasted(), &v)
	unit := lengthUnit("lengthUnit", req.GetLengthUnit(), &v)
	if unit == "" {
		unit = unitOf[req.GetPasted().GetUnit()]
	}
	if err := v.Err(); err != nil {
		return nil, err
	}
	judge := judgeOf(ctx, req.GetAim())
	judge.Voice = leveling.VoiceFor(judge.Voice.Language, unit, leveling.DefaultFixture())
	answer, err := s.Flow.AnalyzeSeeds(ctx, flow.SeedsRequest{Rows: rows, TargetMm: req.TargetMm, Judge: judge})
	if err != nil {
		return nil, err
	}
	return digAnalysisProto(answer, judge)
}

func judgeOf(ctx context.Context, a *pb.DigAim) flow.DigJudge {
	j := flow.DigJudge{Aim: dig.DefaultAim(), Voice: leveling.Voice{Language: languageOf(ctx)}}
	if a != nil {
		set(&j.Aim.ToleranceMm, a.ToleranceMm)
		set(&j.Aim.Confidence, a.Confidence)
		set(&j.Aim.WithinMm, a.WithinMm)
		j.DailyDegreeDays = a.DailyDegreeDays
	}
	return j
}

// digOf reads what a caller says of a dig.
func digOf(d *pb.Dig) (leveling.Dig, error) {
	var v leveling.Violations
	out := leveling.Dig{Title: d.GetTitle(), Person: d.GetPerson(), Comment: d.GetComment(), DigTime: timeOf("dig.digTime", d.GetDigTime(), &v),
		Rows: seedsOf("dig.", d.GetRows(), d.GetPasted(), &v)}
	if d != nil {
		out.TargetMm = d.TargetMm
	}
	return out, v.Err()
}

var pastedUnit = map[pb.LengthUnit]length.Unit{pb.LengthUnit_MM: length.Millimeter, pb.LengthUnit_IN: length.Inch}

// seedsOf reads seeds, as figures or as pasted; path is where they stand in the request, with a dot behind it,
// or empty.
func seedsOf(path string, rows []*pb.RowSeeds, pasted *pb.PastedSeeds, v *leveling.Violations) []leveling.RowSeeds {
	if pasted == nil {
		return each(rows, func(r *pb.RowSeeds) leveling.RowSeeds {
			return leveling.RowSeeds{Row: int(r.GetRow()), DepthsMm: r.GetDepthsMm()}
		})
	}
	if len(rows) > 0 {
		v.Add(path+"rows", "are given beside pasted seeds; give one of them")
	}
	unit, known := pastedUnit[pasted.GetUnit()]
	if !known {
		v.Add(path+"pasted.unit", "is missing, must be MM or IN")
		return nil
	}
	read, wrong := dig.Parse(path+"pasted.text", pasted.GetText(), unit)
	*v = append(*v, wrong...)
	return read
}

func digProto(d leveling.Dig) *pb.Dig {
	return &pb.Dig{Name: planterPrefix + d.Planter + "/digs/" + d.ID, Title: d.Title, Person: d.Person, DigTime: timeProto(d.DigTime), TargetMm: d.TargetMm,
		Comment: d.Comment, CreateTime: timeProto(d.CreateTime), Rows: each(d.Rows, func(r leveling.RowSeeds) *pb.RowSeeds {
			return &pb.RowSeeds{Row: int32(r.Row), DepthsMm: r.DepthsMm}
		})}
}

func digAnalysisProto(a flow.DigAnswer, judge flow.DigJudge) (*pb.DigAnalysis, error) {
	out := &pb.DigAnalysis{LengthUnit: lengthUnitProto(a.LengthUnit), Method: a.Method, Seeds: int32(a.Seeds), MeanMm: *rounded(a.MeanMm), SdMm: *rounded(a.SdMm), CvPercent: roundedOr(a.CVPercent),
		ShareWithin: roundedOr(a.WithinShare), WithinMm: judge.Aim.WithinMm, BetweenVarianceMm2: *rounded(a.BetweenMm2), WithinVarianceMm2: *rounded(a.WithinMm2),
		P: a.Anova.P, Cautions: a.Cautions, Emergence: emergenceProto(a.Emergence),
		Rows: each(a.Rows, func(r dig.Row) *pb.DigRow {
			out := &pb.DigRow{Row: int32(r.Row), Seeds: int32(r.Seeds), MeanMm: *rounded(r.MeanMm), MeanFromMm: *rounded(r.MeanFromMm), MeanToMm: *rounded(r.MeanToMm),
				EffectMm: *rounded(r.EffectMm), UncertaintyMm: *rounded(r.UncertaintyMm), Verdict: pb.Verdict(r.Verdict), SeedsToSettle: int32(r.SeedsToSettle), Why: r.Why,
				SetApart: r.SetApart, Bounces: r.Bounces}
			if s := r.Scatter; s != nil {
				out.ScatterMm, out.ScatterFromMm, out.ScatterToMm = rounded(s.Mm), rounded(s.FromMm), rounded(s.ToMm)
				if s.F > 0 {
					out.ScatterF, out.ScatterP = &s.F, &s.P
				}
			}
			return out
		})}
	if e := a.EqualScatter; e != nil {
		out.ScatterF, out.ScatterP = &e.F, &e.P
	}
	if !math.IsInf(a.Anova.F, 0) {
		out.F = &a.Anova.F
	}
	if a.Plan == nil {
		return out, nil
	}
	var err error
	out.Plan, err = planProto(*a.Plan)
	return out, err
}

func emergenceProto(g emergence.Guide) *pb.Emergence {
	return &pb.Emergence{SpreadMm: *rounded(g.SpreadMm), CountedMm: *rounded(g.CountedMm), DegreeDays: *rounded(g.DegreeDays), Days: roundedOr(g.Days),
		DegreeDaysPerMm: g.DegreeDaysPerMm, Guide: g.Says, Cautions: g.Cautions, Sources: each(g.Sources, func(s emergence.Source) *pb.Source {
			return &pb.Source{Title: s.Title, Figure: s.Figure}
		})}
}
