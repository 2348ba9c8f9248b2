package api

import (
	"context"
	"fmt"

	pb "rowdatum/proto/gen/rowdatum/v1"
	"rowdatum/server/internal/flow"
	"rowdatum/server/leveling"
)

// Styles serves rowdatum.v1.StyleService.
type Styles struct {
	pb.UnimplementedStyleServiceServer
	Flow *flow.Flow
}

const (
	stylePrefix = "styles/"
	stylesScope = "styles"
)

// GetStyle implements StyleService.
func (s *Styles) GetStyle(ctx context.Context, req *pb.GetStyleRequest) (*pb.Style, error) {
	ids, err := parseName("name", req.GetName(), stylePattern)
	if err != nil {
		return nil, err
	}
	voice, err := voiceOf(ctx, req.GetLengthUnit())
	if err != nil {
		return nil, err
	}
	style, err := s.Flow.Style(ctx, ids[0], voice)
	if err != nil {
		return nil, err
	}
	return styleProto(style)
}

// ListStyles implements StyleService.
func (s *Styles) ListStyles(ctx context.Context, req *pb.ListStylesRequest) (*pb.ListStylesResponse, error) {
	q, err := page(req, manyToAPage, stylesScope)
	if err != nil {
		return nil, err
	}
	voice, err := voiceOf(ctx, req.GetLengthUnit())
	if err != nil {
		return nil, err
	}
	styles, more, err := s.Flow.Styles(ctx, q.After, q.Limit, voice)
	if err != nil {
		return nil, err
	}
	out := &pb.ListStylesResponse{}
	for _, style := range styles {
		one, err := styleProto(style)
		if err != nil {
			return nil, err
		}
		out.Styles = append(out.Styles, one)
	}
	if more {
		out.NextPageToken = nextToken(req, stylesScope, styles[len(styles)-1].ID)
	}
	return out, nil
}

func styleProto(s leveling.Style) (*pb.Style, error) {
	figures, err := structOf(leveling.JSON(s.FiguresSchema))
	if err != nil {
		return nil, fmt.Errorf("style %s: figures schema: %w", s.ID, err)
	}
	setting, err := structOf(leveling.JSON(s.SettingSchema))
	if err != nil {
		return nil, fmt.Errorf("style %s: setting schema: %w", s.ID, err)
	}
	out := &pb.Style{
		Name: stylePrefix + s.ID, Title: s.Title, Version: s.Version,
		CountUnit:  &pb.CountUnit{One: s.CountUnit.One, Other: s.CountUnit.Other},
		KeepsMarks: s.KeepsMarks, SetsPlantingDepth: s.SetsPlantingDepth,
		FiguresSchema: figures, SettingSchema: setting,
		ScaleSd: s.ScaleSd, SeatingMm: s.SeatingMm, SlackMm: s.SlackMm, Approach: pb.Approach(s.Approach),
		TouchSeconds: s.TouchSeconds, Cautions: s.Cautions, State: pb.StyleState(s.State), StateReason: s.StateReason,
	}
	for _, p := range s.InspectionPoints {
		out.InspectionPoints = append(out.InspectionPoints, &pb.InspectionPoint{Id: p.ID, Title: p.Title, Unit: p.Unit,
			Limit: p.Limit, WorseWhen: pb.WorseWhen(p.WorseWhen), Guidance: p.Guidance})
	}
	return out, nil
}
