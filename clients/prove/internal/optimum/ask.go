package optimum

import (
	"context"
	"fmt"

	rowdatum "rowdatum/clients/go"
	"rowdatum/clients/prove/internal/proof"
	pb "rowdatum/proto/gen/rowdatum/v1"
)

// styled fills in what the service's styles say of themselves.
func (p *problem) styled(styles map[string]*pb.Style) {
	for i := range p.mechanisms {
		m := &p.mechanisms[i]
		style := styles["styles/"+m.style]
		m.scaleSd, m.seating, m.touch = style.GetScaleSd(), style.GetSeatingMm(), style.GetTouchSeconds()
	}
}

// styles are the service's styles by name.
func styles(ctx context.Context, client *rowdatum.Client) (map[string]*pb.Style, error) {
	all := map[string]*pb.Style{}
	for style, err := range rowdatum.All(ctx, client.Styles.ListStyles, &pb.ListStylesRequest{}, (*pb.ListStylesResponse).GetStyles) {
		if err != nil {
			return nil, err
		}
		all[style.GetName()] = style
	}
	return all, nil
}

// request asks for a plan.
func (p problem) request(aim pb.Aim_Kind) *pb.ComputePlanRequest {
	out := &pb.ComputePlanRequest{
		Fixture: &pb.FixtureFigures{ResolutionMm: &p.resolution, RepeatabilityMm: &p.repeat, FloorMm: &p.floor},
		Aim:     &pb.Aim{Kind: aim, ToleranceMm: &p.tolerance, Confidence: &p.confidence, MissSeconds: &p.miss, ReadSeconds: &p.read},
		Reach:   &pb.Reach{ShallowerMm: &p.shallower, DeeperMm: &p.deeper},
	}
	for i, m := range p.mechanisms {
		out.Mechanisms = append(out.Mechanisms, &pb.Mechanism{Id: mechanismID(i), Style: m.style, Figures: proof.Object(m.figures)})
	}
	for i, r := range p.rows {
		out.Rows = append(out.Rows, r.request(i+1))
	}
	return out
}

func mechanismID(i int) string { return fmt.Sprintf("m%d", i) }

func (r row) request(number int) *pb.RowReadings {
	out := &pb.RowReadings{Row: int32(number), Mechanism: mechanismID(r.on), ReadingsMm: r.readings, Scale: &r.scale}
	if r.scaleSd >= 0 {
		out.ScaleSd = &r.scaleSd
	}
	if r.setting != nil {
		out.Setting = proof.Object(r.setting)
	}
	return out
}
