package faults

import (
	"context"
	"fmt"
	"net/http"
	"time"

	"google.golang.org/grpc"

	rowdatum "rowdatum/clients/go"
	"rowdatum/clients/internal/service"
	"rowdatum/clients/prove/internal/proof"
	pb "rowdatum/proto/gen/rowdatum/v1"
)

const planterRows = 12

// scene is one service with a planter on which jobs are opened, and the ways to it.
type scene struct {
	*service.Service
	ways   [2]way
	conn   *grpc.ClientConn // of the first way
	http   *http.Client     // of the second
	client *rowdatum.Client // with manners: for what is no part of the load

	planter string
	close   []func()
}

// scene starts a service with these flags, its adjusters and a planter.
func (p *prover) scene(ctx context.Context, adjusters string, flags ...string) (*scene, error) {
	s := &scene{}
	if err := s.open(ctx, p, adjusters, flags); err != nil {
		s.end()
		return nil, err
	}
	return s, nil
}

func (s *scene) open(ctx context.Context, p *prover, adjusters string, flags []string) (err error) {
	if s.Service, err = service.Start(ctx, service.Options{Program: p.program(), Adjusters: adjusters, Flags: flags}); err != nil {
		return err
	}
	s.close = append(s.close, s.End)
	if err := s.Serving(ctx); err != nil {
		return err
	}
	if err := s.lead(s.GRPC, s.HTTP); err != nil {
		return err
	}
	s.planter, err = s.newPlanter(ctx)
	return err
}

func (s *scene) newPlanter(ctx context.Context) (string, error) {
	planter, err := s.client.Planters.CreatePlanter(ctx, &pb.CreatePlanterRequest{Planter: handles("Creek twelve")})
	if err != nil {
		return "", fmt.Errorf("making a planter: %w", err)
	}
	return planter.GetName(), nil
}

func (s *scene) newJob(ctx context.Context, planter string) (string, error) {
	job, err := s.client.Jobs.CreateJob(ctx, &pb.CreateJobRequest{Parent: planter, Job: &pb.Job{}})
	if err != nil {
		return "", fmt.Errorf("opening a job: %w", err)
	}
	return job.GetName(), nil
}

// lead makes the ways to the service at two addresses.
func (s *scene) lead(atGRPC, atHTTP string) error {
	both, conn, end, err := ways(atGRPC, atHTTP)
	if err != nil {
		return err
	}
	s.close = append(s.close, end)
	client, err := rowdatum.Dial(s.GRPC, rowdatum.Options{})
	if err != nil {
		return err
	}
	s.close = append(s.close, func() { client.Close() })
	s.ways, s.conn, s.http, s.client = both, conn, both[1].(overHTTP).client, client
	return nil
}

func (s *scene) end() {
	for i := len(s.close) - 1; i >= 0; i-- {
		s.close[i]()
	}
}

// log is a job's whole log.
func (s *scene) log(ctx context.Context, job string) (events []*pb.JobEvent, err error) {
	for event, err := range rowdatum.All(ctx, s.client.Jobs.ListJobEvents, &pb.ListJobEventsRequest{Parent: job, PageSize: 1000}, (*pb.ListJobEventsResponse).GetEvents) {
		if err != nil {
			return nil, fmt.Errorf("reading the log of %s: %w", job, err)
		}
		events = append(events, event)
	}
	return events, nil
}

func handles(name string) *pb.Planter {
	out := &pb.Planter{DisplayName: name, Mechanisms: []*pb.Mechanism{{Id: "m", Style: handle, Figures: proof.Object(map[string]any{"mmPerTurn": 4.0, "smallestTurn": 0.25, "totalTurns": 16.0})}}}
	for row := range int32(planterRows) {
		out.Rows = append(out.Rows, &pb.PlanterRow{Row: row + 1, Mechanism: "m", Setting: proof.Object(map[string]any{"turns": 8.0})})
	}
	return out
}

func sleep(ctx context.Context, d time.Duration) {
	wait := time.NewTimer(d)
	defer wait.Stop()
	select {
	case <-ctx.Done():
	case <-wait.C:
	}
}
