package visit

import (
	"context"
	"fmt"

	rowdatumv1 "rowdatum/proto/gen/rowdatum/v1"
)

const (
	technician = "Ada Quill" // invented
	// maxRounds ends a visit that does not end by itself.
	maxRounds = 40
)

// Hands are at the planter. Rows have the numbers that the service knows them by.
type Hands interface {
	Read(row int32) (numberMm float64)
	Move(row int32, nominalMm float64)
}

// Doubt is why a row is read although the service asks for something else.
type Doubt int

// The doubts.
const (
	None    Doubt = iota
	Number        // its number is hard to believe
	Verdict       // its verdict is not sure: it is planned for anew when it was read
)

// Visit is one job, as far as it is.
type Visit struct {
	Job   *rowdatumv1.Job                  // as the service has told it last
	Doubt func(*rowdatumv1.RowState) Doubt // what whoever works adds to what the service says; nil: nothing

	jobs  rowdatumv1.JobServiceClient
	hands Hands
}

// Open opens a job on a planter that the service knows.
func Open(ctx context.Context, jobs rowdatumv1.JobServiceClient, planter string, job *rowdatumv1.Job, hands Hands) (*Visit, error) {
	opened, err := jobs.CreateJob(ctx, &rowdatumv1.CreateJobRequest{Parent: planter, Person: technician, Job: job})
	if err != nil {
		return nil, fmt.Errorf("opening a job: %w", err)
	}
	return &Visit{Job: opened, jobs: jobs, hands: hands}, nil
}

// Work ticks the cautions and then does what is next until nothing is.
func (v *Visit) Work(ctx context.Context) error {
	ticks := &rowdatumv1.TickCautionsRequest{Name: v.Job.GetName(), Person: technician}
	for _, caution := range v.Job.GetState().GetCautions() {
		ticks.Ticks = append(ticks.Ticks, &rowdatumv1.CautionTick{Caution: caution.GetId()})
	}
	err := v.became(v.jobs.TickCautions(ctx, ticks))
	for n, done := 0, false; err == nil && !done && n < maxRounds; n++ {
		done, err = v.round(ctx)
	}
	return err
}

// became takes in what a write made of the job.
func (v *Visit) became(after *rowdatumv1.AppendResponse, err error) error {
	if err != nil {
		return fmt.Errorf("working on %s: %w", v.Job.GetName(), err)
	}
	v.Job = after.GetJob()
	return nil
}

// round does what is next: readings before moves, and a new plan where nothing else is left; done: nothing was.
func (v *Visit) round(ctx context.Context) (done bool, err error) {
	switch next := v.next(); {
	case len(next.read) > 0:
		if err = v.Read(ctx, next.read...); err == nil && next.anew {
			err = v.plan(ctx)
		}
	case len(next.move) > 0:
		err = v.move(ctx, next.move)
	case next.plan:
		err = v.plan(ctx)
	default:
		done = true
	}
	return done, err
}

// steps are the rows by what is to be done at them.
type steps struct {
	read, move []*rowdatumv1.RowState
	plan       bool // once there is nothing to read or move
	anew       bool // as soon as was read
}

func (v *Visit) next() (s steps) {
	for _, r := range v.Job.GetState().GetRows() {
		doubt := None
		if v.Doubt != nil {
			doubt = v.Doubt(r)
		}
		switch step := r.GetNext(); {
		case step == rowdatumv1.NextStep_READ, step == rowdatumv1.NextStep_READ_AGAIN, step == rowdatumv1.NextStep_READ_AFTER_MOVE, doubt != None:
			s.read = append(s.read, r)
			s.anew = s.anew || doubt == Verdict
		case step == rowdatumv1.NextStep_MOVE:
			s.move = append(s.move, r)
		case step == rowdatumv1.NextStep_PLAN:
			s.plan = true
		}
	}
	return s
}

// Read reads rows, once each.
func (v *Visit) Read(ctx context.Context, rows ...*rowdatumv1.RowState) error {
	request := &rowdatumv1.AddReadingsRequest{Name: v.Job.GetName(), Person: technician}
	for _, r := range rows {
		request.Readings = append(request.Readings, &rowdatumv1.Reading{
			Row: r.GetRow(), Value: new(v.hands.Read(r.GetRow())), Unit: rowdatumv1.LengthUnit_MM, AfterMove: r.GetLastMove(),
		})
	}
	return v.became(v.jobs.AddReadings(ctx, request))
}

// move moves rows as the plan has it.
func (v *Visit) move(ctx context.Context, rows []*rowdatumv1.RowState) error {
	request := &rowdatumv1.AddMovesRequest{Name: v.Job.GetName(), Person: technician}
	for _, r := range rows {
		v.hands.Move(r.GetRow(), r.GetMove().GetEffectMm())
		request.Moves = append(request.Moves, &rowdatumv1.MoveDone{Row: r.GetRow(), SettingBefore: r.GetSetting(), Count: &r.GetMove().Count})
	}
	return v.became(v.jobs.AddMoves(ctx, request))
}

func (v *Visit) plan(ctx context.Context) error {
	return v.became(v.jobs.PlanJob(ctx, &rowdatumv1.PlanJobRequest{Name: v.Job.GetName(), Etag: v.Job.GetEtag(), Person: technician}))
}

// Sign signs the job; what is not proven even is excepted.
func (v *Visit) Sign(ctx context.Context) error {
	request := &rowdatumv1.SignJobRequest{Name: v.Job.GetName(), Etag: v.Job.GetEtag(), Person: technician}
	for _, r := range v.Job.GetState().GetRows() {
		if r.GetNext() != rowdatumv1.NextStep_DONE {
			request.Exceptions = append(request.Exceptions, &rowdatumv1.Exception{Row: r.GetRow(), Reason: r.GetWhy()})
		}
	}
	if err := v.became(v.jobs.SignJob(ctx, request)); err != nil {
		return err
	}
	if v.Job.GetStage() != rowdatumv1.Job_SIGNED {
		return fmt.Errorf("%s was to be signed and is %s", v.Job.GetName(), v.Job.GetStage())
	}
	return nil
}
