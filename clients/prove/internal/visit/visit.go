package visit

import (
	"context"
	"fmt"
	"strings"

	rowdatumv1 "rowdatum/proto/gen/rowdatum/v1"
)

const (
	technician = "Ada Quill" // invented
	// maxRounds is more than any visit may take: twenty readings of a row in each of its five stays, a move and a plan
	// between them, and as much again for what waits for other rows. A visit that has not ended by then never will.
	maxRounds = 240
)

// Hands are at the planter. Rows have the numbers that the service knows them by.
type Hands interface {
	Read(row int32) (numberMm float64)
	Move(row int32, nominalMm float64)
}

// Visit is one job, as far as it is.
type Visit struct {
	Job *rowdatumv1.Job // as the service has told it last
	// Doubts says whether whoever works finds a row's number hard to believe, and reads it again although the service
	// asks for something else; nil: never.
	Doubts func(*rowdatumv1.RowState) bool

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

// Work ticks the cautions and then does what is next until nothing is. A visit that does not end is an error.
func (v *Visit) Work(ctx context.Context) error {
	ticks := &rowdatumv1.TickCautionsRequest{Name: v.Job.GetName(), Person: technician}
	for _, caution := range v.Job.GetState().GetCautions() {
		ticks.Ticks = append(ticks.Ticks, &rowdatumv1.CautionTick{Caution: caution.GetId()})
	}
	err := v.became(v.jobs.TickCautions(ctx, ticks))
	done := false
	for n := 0; err == nil && !done; n++ {
		if n == maxRounds {
			return fmt.Errorf("%s does not end: after %d rounds %s", v.Job.GetName(), n, v.asked())
		}
		done, err = v.round(ctx)
	}
	if left := v.asked(); err == nil && left != "" {
		return fmt.Errorf("%s stands still: %s", v.Job.GetName(), left)
	}
	return err
}

// asked says what is still asked of rows that are neither even nor to be excepted.
func (v *Visit) asked() string {
	var out []string
	for _, r := range v.Job.GetState().GetRows() {
		if next := r.GetNext(); next != rowdatumv1.NextStep_DONE && next != rowdatumv1.NextStep_EXCEPT {
			out = append(out, fmt.Sprintf("row %d is to be %s", r.GetRow(), next))
		}
	}
	return strings.Join(out, ", ")
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
		err = v.Read(ctx, next.read...)
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
}

func (v *Visit) next() (s steps) {
	for _, r := range v.Job.GetState().GetRows() {
		doubted := v.Doubts != nil && v.Doubts(r)
		switch step := r.GetNext(); {
		case step == rowdatumv1.NextStep_READ, step == rowdatumv1.NextStep_READ_AGAIN, step == rowdatumv1.NextStep_READ_AFTER_MOVE, doubted:
			s.read = append(s.read, r)
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
