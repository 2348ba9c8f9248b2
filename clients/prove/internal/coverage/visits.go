package coverage

import (
	"context"
	"fmt"
	"math/rand/v2"

	"rowdatum/clients/prove/internal/proof"
	pb "rowdatum/proto/gen/rowdatum/v1"
)

// stages of a job at which the stated intervals are looked at.
const (
	found = iota
	movedOnce
	readOnce
	movedTwice
	readTwice
	stages
)

// visits counts how many true depths lie in the intervals that jobs state, stage by stage, over so many jobs.
func (p prover) visits(ctx context.Context, f fixture, readings, jobs int) (sum [stages]tally, err error) {
	fixture, err := p.client.Fixtures.CreateFixture(ctx, &pb.CreateFixtureRequest{Fixture: &pb.Fixture{
		DisplayName: "Window", Kind: pb.Fixture_WINDOW, ResolutionMm: &f.ruling, RepeatabilityMm: &f.scatter,
	}})
	if err != nil {
		return sum, err
	}
	counted, err := each(ctx, jobs, func(ctx context.Context, i int) ([stages]tally, error) {
		rng := f.luck(10+readings, i)
		v := visit{prover: p, rng: rng, fixture: f, readings: readings, rows: p.drawRows(rng)}
		if err := v.work(ctx, fixture.GetName()); err != nil {
			return v.counted, fmt.Errorf("job %d with a ruling of %v mm: %w", i, f.ruling, err)
		}
		return v.counted, nil
	})
	for _, c := range counted {
		for stage := range sum {
			sum[stage].add(c[stage])
		}
	}
	return sum, err
}

// visit is one job on one planter.
type visit struct {
	prover
	rng      *rand.Rand
	fixture  fixture
	readings int // of each row in each stay
	rows     []truth
	job      *pb.Job
	counted  [stages]tally
}

// work reads all rows, and twice moves and reads them again.
func (v *visit) work(ctx context.Context, fixture string) error {
	planter := &pb.Planter{DisplayName: "Planter", Mechanisms: mechanisms()}
	for i, t := range v.rows {
		planter.Rows = append(planter.Rows, &pb.PlanterRow{Row: int32(i + 1), Mechanism: t.id, Setting: proof.Object(t.setting)})
	}
	planter, err := v.client.Planters.CreatePlanter(ctx, &pb.CreatePlanterRequest{Planter: planter})
	if err != nil {
		return err
	}
	if v.job, err = v.client.Jobs.CreateJob(ctx, &pb.CreateJobRequest{Parent: planter.GetName(), Job: &pb.Job{Fixture: fixture}}); err != nil {
		return err
	}
	for stage, do := range [stages]func(context.Context) (*pb.AppendResponse, error){v.read, v.move, v.read, v.move, v.read} {
		done, err := do(ctx)
		if err != nil {
			return err
		}
		v.job = done.GetJob()
		v.look(stage)
	}
	return nil
}

// look counts what the job now states.
func (v *visit) look(stage int) {
	for i, row := range v.job.GetState().GetRows() {
		v.counted[stage].count(covers(row.GetEstimateMm(), row.GetUncertaintyMm(), v.rows[i].depth))
	}
}

func (v *visit) read(ctx context.Context) (*pb.AppendResponse, error) {
	request := &pb.AddReadingsRequest{Name: v.job.GetName()}
	for i, row := range v.job.GetState().GetRows() {
		for range v.readings {
			request.Readings = append(request.Readings, &pb.Reading{
				Row: row.GetRow(), Value: new(v.fixture.read(v.rng, v.rows[i].depth)), Unit: pb.LengthUnit_MM, AfterMove: row.GetLastMove(),
			})
		}
	}
	return v.client.Jobs.AddReadings(ctx, request)
}

// move moves every row by some steps either way, not by none.
func (v *visit) move(ctx context.Context) (*pb.AppendResponse, error) {
	request := &pb.AddMovesRequest{Name: v.job.GetName()}
	for i, row := range v.job.GetState().GetRows() {
		t := &v.rows[i]
		count := t.counts * float64(1+v.rng.IntN(3))
		if v.rng.IntN(2) == 0 {
			count = -count
		}
		t.move(v.rng, t.step*count)
		request.Moves = append(request.Moves, &pb.MoveDone{Row: row.GetRow(), SettingBefore: row.GetSetting(), Count: &count})
	}
	return v.client.Jobs.AddMoves(ctx, request)
}
