package api

import (
	"context"
	"encoding/base64"
	"encoding/json"
	"fmt"
	"strings"

	"google.golang.org/protobuf/types/known/structpb"

	pb "rowdatum/proto/gen/rowdatum/v1"
	"rowdatum/server/internal/flow"
	"rowdatum/server/leveling"
)

// Styles serves rowdatum.v1.StyleService.
type Styles struct {
	pb.UnimplementedStyleServiceServer
	Flow *flow.Flow
}

const stylePrefix = "styles/"

// GetStyle implements StyleService.
func (s *Styles) GetStyle(ctx context.Context, req *pb.GetStyleRequest) (*pb.Style, error) {
	id, ok := strings.CutPrefix(req.GetName(), stylePrefix)
	if !ok || id == "" || strings.Contains(id, "/") {
		var v leveling.Violations
		v.Add("name", "%q is not the name of a style; write styles/ and the style's id", req.GetName())
		return nil, v.Err()
	}
	style, err := s.Flow.Style(ctx, id, "")
	if err != nil {
		return nil, err
	}
	return styleProto(style)
}

// Sizes of a page of styles.
const (
	usualPage   = 100
	largestPage = 1000
)

// ListStyles implements StyleService.
func (s *Styles) ListStyles(ctx context.Context, req *pb.ListStylesRequest) (*pb.ListStylesResponse, error) {
	var v leveling.Violations
	size := int(req.GetPageSize())
	switch {
	case size < 0:
		v.Add("pageSize", "is %d, must be 0 or more", size)
	case size == 0:
		size = usualPage
	case size > largestPage:
		size = largestPage
	}
	after, err := base64.RawURLEncoding.DecodeString(req.GetPageToken())
	if err != nil {
		v.Add("pageToken", "is not a token of this service; pass nextPageToken as it was given")
	}
	if err := v.Err(); err != nil {
		return nil, err
	}
	page, more, err := s.Flow.Styles(ctx, string(after), size, "")
	if err != nil {
		return nil, err
	}
	out := &pb.ListStylesResponse{}
	for _, style := range page {
		one, err := styleProto(style)
		if err != nil {
			return nil, err
		}
		out.Styles = append(out.Styles, one)
	}
	if more {
		out.NextPageToken = base64.RawURLEncoding.EncodeToString([]byte(page[len(page)-1].ID))
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

// structOf returns nil for an empty text.
func structOf(text leveling.JSON) (*structpb.Struct, error) {
	if text == "" {
		return nil, nil
	}
	var object map[string]any
	if err := json.Unmarshal([]byte(text), &object); err != nil {
		return nil, err
	}
	return structpb.NewStruct(object)
}
