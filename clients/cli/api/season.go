package api

import (
	"context"

	pb "rowdatum/proto/gen/rowdatum/v1"
)

// FieldMove asks how a planter's planting depth is changed; above 0 is deeper.
func (c *Client) FieldMove(ctx context.Context, planter string, deltaMm float64) (*pb.FieldMove, []byte, error) {
	return ask[pb.FieldMove](ctx, c, &pb.GetFieldMoveRequest{Name: planter, DeltaMm: &deltaMm})
}

// IndexCard asks for a planter at a glance.
func (c *Client) IndexCard(ctx context.Context, planter string) (*pb.IndexCard, []byte, error) {
	return ask[pb.IndexCard](ctx, c, &pb.GetIndexCardRequest{Name: planter})
}

// Wear asks what the seasons did to a planter; confidence may be nil.
func (c *Client) Wear(ctx context.Context, planter string, confidence *float64) (*pb.Wear, []byte, error) {
	return ask[pb.Wear](ctx, c, &pb.GetWearRequest{Name: planter, Confidence: confidence})
}

// CreateDig keeps a dig of a planter; id may be empty.
func (c *Client) CreateDig(ctx context.Context, planter, id string, dig *pb.Dig) (*pb.Dig, []byte, error) {
	return ask[pb.Dig](ctx, c, &pb.CreateDigRequest{Parent: planter, DigId: id, Dig: dig})
}

// Dig returns the dig of a name.
func (c *Client) Dig(ctx context.Context, name string) (*pb.Dig, error) {
	dig, _, err := ask[pb.Dig](ctx, c, &pb.GetDigRequest{Name: name})
	return dig, err
}

// Digs lists the digs of a planter, by id.
func (c *Client) Digs(ctx context.Context, planter string) ([]*pb.Dig, error) {
	return pages(ctx, c, &pb.ListDigsRequest{Parent: planter, PageSize: 200}, (*pb.ListDigsResponse).GetDigs)
}

// AnalyzeDig asks what a dig says.
func (c *Client) AnalyzeDig(ctx context.Context, name string, aim *pb.DigAim) (*pb.DigAnalysis, []byte, error) {
	return ask[pb.DigAnalysis](ctx, c, &pb.AnalyzeDigRequest{Name: name, Aim: aim})
}

// StudyFixture asks what repeated readings say of a fixture.
func (c *Client) StudyFixture(ctx context.Context, request *pb.StudyFixtureRequest) (*pb.FixtureStudy, []byte, error) {
	return ask[pb.FixtureStudy](ctx, c, request)
}
