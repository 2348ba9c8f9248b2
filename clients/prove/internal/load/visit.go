package load

import (
	"context"
	"fmt"
	"math/rand/v2"
	"sync"
	"time"

	"google.golang.org/grpc"

	"rowdatum/clients/prove/internal/visit"
	rowdatumv1 "rowdatum/proto/gen/rowdatum/v1"
)

// shop calls the service as a shop does, and notes how long each call took.
type shop struct {
	grpc.ClientConnInterface
	planters rowdatumv1.PlanterServiceClient
	jobs     rowdatumv1.JobServiceClient

	mu    sync.Mutex
	waits []time.Duration
}

func newShop(conn grpc.ClientConnInterface) *shop {
	s := &shop{ClientConnInterface: conn}
	s.planters, s.jobs = rowdatumv1.NewPlanterServiceClient(s), rowdatumv1.NewJobServiceClient(s)
	return s
}

// Invoke implements grpc.ClientConnInterface.
func (s *shop) Invoke(ctx context.Context, method string, args, reply any, options ...grpc.CallOption) error {
	begun := time.Now()
	err := s.ClientConnInterface.Invoke(ctx, method, args, reply, options...)
	s.mu.Lock()
	defer s.mu.Unlock()
	s.waits = append(s.waits, time.Since(begun))
	return err
}

// calls returns how long the calls so far took, and forgets them.
func (s *shop) calls() []time.Duration {
	s.mu.Lock()
	defer s.mu.Unlock()
	waits := s.waits
	s.waits = nil
	return waits
}

// planter is a planter as it truly is.
type planter struct {
	random *rand.Rand
	depths []float64 // of its rows, mm
}

// Read implements visit.Hands: on a ruling of 1/16 inch, half a mm of scatter in the hand.
func (p *planter) Read(row int32) float64 {
	return onRuling(p.depths[row-1] + 0.5*p.random.NormFloat64())
}

// Move implements visit.Hands.
func (p *planter) Move(row int32, nominalMm float64) { p.depths[row-1] += nominalMm }

// open makes a planter of 24 rows known and opens a job on it.
func (s *shop) open(ctx context.Context, seed uint64) (*visit.Visit, error) {
	p := &planter{random: rand.New(rand.NewPCG(seed, 24))}
	described := &rowdatumv1.Planter{DisplayName: "Planter of the shop", Mechanisms: []*rowdatumv1.Mechanism{handle()}}
	for row := range int32(planterRows) {
		described.Rows = append(described.Rows, &rowdatumv1.PlanterRow{Row: row + 1, Mechanism: "handle", Setting: turns(8)})
		p.depths = append(p.depths, 50.8+4*p.random.NormFloat64())
	}
	known, err := s.planters.CreatePlanter(ctx, &rowdatumv1.CreatePlanterRequest{Planter: described})
	if err != nil {
		return nil, fmt.Errorf("creating a planter: %w", err)
	}
	return visit.Open(ctx, s.jobs, known.GetName(), &rowdatumv1.Job{}, p)
}

// finish works on a job until it is signed.
func finish(ctx context.Context, v *visit.Visit) error {
	if err := v.Work(ctx); err != nil {
		return err
	}
	return v.Sign(ctx)
}
