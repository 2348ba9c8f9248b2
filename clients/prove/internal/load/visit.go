package load

import (
	"context"
	"fmt"
	"math/rand/v2"
	"sync"
	"time"

	"google.golang.org/grpc"

	rowdatumv1 "rowdatum/proto/gen/rowdatum/v1"
)

const (
	person = "Ada Quill" // invented
	// maxRounds ends a visit that does not end by itself.
	maxRounds = 20
)

// shop calls the service as a shop does, and notes how long each call took.
type shop struct {
	planters rowdatumv1.PlanterServiceClient
	jobs     rowdatumv1.JobServiceClient

	mu    sync.Mutex
	waits []time.Duration
}

func newShop(conn grpc.ClientConnInterface) *shop {
	return &shop{planters: rowdatumv1.NewPlanterServiceClient(conn), jobs: rowdatumv1.NewJobServiceClient(conn)}
}

// calls returns how long the calls so far took, and forgets them.
func (s *shop) calls() []time.Duration {
	s.mu.Lock()
	defer s.mu.Unlock()
	waits := s.waits
	s.waits = nil
	return waits
}

// noted notes how long a call took that began then.
func (s *shop) noted(begun time.Time) {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.waits = append(s.waits, time.Since(begun))
}

// visit is one planter and its job.
type visit struct {
	*shop
	random *rand.Rand
	depths []float64 // as they truly are, mm
	job    *rowdatumv1.Job
}

// open makes a planter of 24 rows known and opens a job on it.
func (s *shop) open(ctx context.Context, seed uint64) (*visit, error) {
	random := rand.New(rand.NewPCG(seed, 24))
	planter := &rowdatumv1.Planter{DisplayName: "Planter of the shop", Mechanisms: []*rowdatumv1.Mechanism{handle()}}
	v := &visit{shop: s, random: random}
	for row := range int32(planterRows) {
		planter.Rows = append(planter.Rows, &rowdatumv1.PlanterRow{Row: row + 1, Mechanism: "handle", Setting: turns(8)})
		v.depths = append(v.depths, 50.8+4*random.NormFloat64())
	}
	defer s.noted(time.Now())
	known, err := s.planters.CreatePlanter(ctx, &rowdatumv1.CreatePlanterRequest{Planter: planter})
	if err != nil {
		return nil, fmt.Errorf("creating a planter: %w", err)
	}
	v.job, err = s.jobs.CreateJob(ctx, &rowdatumv1.CreateJobRequest{Parent: known.GetName(), Person: person, Job: &rowdatumv1.Job{}})
	if err != nil {
		return nil, fmt.Errorf("opening a job: %w", err)
	}
	return v, nil
}

// finish does what the service says is to be done next, row by row, until the job is signed.
func (v *visit) finish(ctx context.Context) error {
	ticks := &rowdatumv1.TickCautionsRequest{Name: v.job.GetName(), Person: person}
	for _, caution := range v.job.GetState().GetCautions() {
		ticks.Ticks = append(ticks.Ticks, &rowdatumv1.CautionTick{Caution: caution.GetId()})
	}
	if err := became(v, ctx, v.jobs.TickCautions, ticks); err != nil {
		return err
	}
	for range maxRounds {
		done, err := v.round(ctx)
		if err != nil {
			return err
		}
		if done {
			break
		}
	}
	return v.sign(ctx)
}

// became makes one write and takes in what it made of the job.
func became[Request any](v *visit, ctx context.Context, write func(context.Context, Request, ...grpc.CallOption) (*rowdatumv1.AppendResponse, error), request Request) error {
	defer v.noted(time.Now())
	after, err := write(ctx, request)
	if err != nil {
		return fmt.Errorf("%T: %w", request, err)
	}
	v.job = after.GetJob()
	return nil
}

// round does once, at every row, what is to be done next there; done: nothing was.
func (v *visit) round(ctx context.Context) (done bool, err error) {
	moves := &rowdatumv1.AddMovesRequest{Name: v.job.GetName(), Person: person}
	readings := &rowdatumv1.AddReadingsRequest{Name: v.job.GetName(), Person: person}
	for i, row := range v.job.GetState().GetRows() {
		switch row.GetNext() {
		case rowdatumv1.NextStep_MOVE:
			v.depths[i] += row.GetMove().GetEffectMm()
			moves.Moves = append(moves.Moves, &rowdatumv1.MoveDone{Row: row.GetRow(), SettingBefore: row.GetSetting(), Count: &row.GetMove().Count})
		case rowdatumv1.NextStep_READ, rowdatumv1.NextStep_READ_AGAIN, rowdatumv1.NextStep_READ_AFTER_MOVE:
			readings.Readings = append(readings.Readings, v.read(i, row))
		}
	}
	switch {
	case len(moves.Moves) > 0:
		return false, became(v, ctx, v.jobs.AddMoves, moves)
	case len(readings.Readings) > 0:
		return false, became(v, ctx, v.jobs.AddReadings, readings)
	case v.waitsForPlan():
		return false, became(v, ctx, v.jobs.PlanJob, &rowdatumv1.PlanJobRequest{Name: v.job.GetName(), Etag: v.job.GetEtag(), Person: person})
	}
	return true, nil
}

func (v *visit) waitsForPlan() bool {
	for _, row := range v.job.GetState().GetRows() {
		if row.GetNext() == rowdatumv1.NextStep_PLAN {
			return true
		}
	}
	return false
}

// read reads a row on a ruling of 1/16 inch, half a mm of scatter in the hand.
func (v *visit) read(i int, row *rowdatumv1.RowState) *rowdatumv1.Reading {
	return &rowdatumv1.Reading{Row: row.GetRow(), Value: onRuling(v.depths[i] + 0.5*v.random.NormFloat64()), Unit: rowdatumv1.LengthUnit_MM, AfterMove: row.GetLastMove()}
}

// sign signs; what is not proven even is excepted.
func (v *visit) sign(ctx context.Context) error {
	request := &rowdatumv1.SignJobRequest{Name: v.job.GetName(), Etag: v.job.GetEtag(), Person: person}
	for _, row := range v.job.GetState().GetRows() {
		if row.GetNext() != rowdatumv1.NextStep_DONE {
			request.Exceptions = append(request.Exceptions, &rowdatumv1.Exception{Row: row.GetRow(), Reason: row.GetWhy()})
		}
	}
	if err := became(v, ctx, v.jobs.SignJob, request); err != nil {
		return err
	}
	if v.job.GetStage() != rowdatumv1.Job_SIGNED {
		return fmt.Errorf("%s was to be signed and is %s", v.job.GetName(), v.job.GetStage())
	}
	return nil
}
