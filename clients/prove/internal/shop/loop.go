package shop

import (
	"context"
	"fmt"
	"math"

	"google.golang.org/protobuf/types/known/structpb"

	rowdatum "rowdatum/clients/go"
	"rowdatum/clients/prove/internal/proof"
	rowdatumv1 "rowdatum/proto/gen/rowdatum/v1"
)

const technician = "Ada Quill" // invented

// maxRounds ends a loop that does not end by itself.
const maxRounds = 40

// settings are what the caller of the service chooses.
type settings struct {
	toleranceMm float64
	verify      rowdatumv1.Job_Verify
	unsureFirst bool // a row that is to be moved although it may be even is read up to unsureReadings times first
}

const unsureReadings = 3

// visit is one job of the service on a planter, as far as it is.
type visit struct {
	*planter
	settings
	client *rowdatum.Client
	job    *rowdatumv1.Job
}

// byService levels a planter by doing, row by row, what the service says is to be done next.
func byService(ctx context.Context, client *rowdatum.Client, p *planter, s settings) (finished, error) {
	v := &visit{planter: p, settings: s, client: client}
	if err := v.open(ctx); err != nil {
		return finished{}, fmt.Errorf("opening a job: %w", err)
	}
	for range maxRounds {
		if done, err := v.round(ctx); err != nil {
			return finished{}, fmt.Errorf("working on %s: %w", v.job.GetName(), err)
		} else if done {
			break
		}
	}
	return v.sign(ctx)
}

// open makes the planter and the fixture known, and opens a job with its cautions ticked.
func (v *visit) open(ctx context.Context) error {
	planter := &rowdatumv1.Planter{DisplayName: "Planter in the shop", Mechanisms: []*rowdatumv1.Mechanism{v.mechanism()}}
	for i := range v.rows {
		planter.Rows = append(planter.Rows, &rowdatumv1.PlanterRow{Row: int32(i + 1), Mechanism: mechanismID, Setting: v.setting()})
	}
	planter, err := v.client.Planters.CreatePlanter(ctx, &rowdatumv1.CreatePlanterRequest{Planter: planter})
	if err != nil {
		return err
	}
	tape, err := v.client.Fixtures.CreateFixture(ctx, &rowdatumv1.CreateFixtureRequest{Fixture: &rowdatumv1.Fixture{
		DisplayName: "Window, " + v.fixture.title, Kind: rowdatumv1.Fixture_WINDOW, ResolutionMm: &v.rulingMm, RepeatabilityMm: &v.scatterMm,
	}})
	if err != nil {
		return err
	}
	v.job, err = v.client.Jobs.CreateJob(ctx, &rowdatumv1.CreateJobRequest{Parent: planter.GetName(), Person: technician, Job: &rowdatumv1.Job{
		Fixture: tape.GetName(), Verify: v.verify, Aim: &rowdatumv1.Aim{ToleranceMm: &v.toleranceMm},
	}})
	if err != nil {
		return err
	}
	ticks := &rowdatumv1.TickCautionsRequest{Name: v.job.GetName(), Person: technician}
	for _, caution := range v.job.GetState().GetCautions() {
		ticks.Ticks = append(ticks.Ticks, &rowdatumv1.CautionTick{Caution: caution.GetId()})
	}
	return v.became(v.client.Jobs.TickCautions(ctx, ticks))
}

const mechanismID = "all"

// mechanism is the planter's, as the API takes it.
func (p *planter) mechanism() *rowdatumv1.Mechanism {
	return &rowdatumv1.Mechanism{Id: mechanismID, Style: p.style, Figures: proof.Object(p.figures)}
}

// setting is where every row stands when the planter comes in.
func (p *planter) setting() *structpb.Struct { return proof.Object(map[string]any{p.place: p.found}) }

// became takes in what a write made of the job.
func (v *visit) became(after *rowdatumv1.AppendResponse, err error) error {
	if err == nil {
		v.job = after.GetJob()
	}
	return err
}

// round does what is to be done next: readings before moves, and a new plan where nothing else is left; done: nothing was.
func (v *visit) round(ctx context.Context) (done bool, err error) {
	read, move, plan := v.next()
	switch {
	case len(read) > 0:
		err = v.became(v.client.Jobs.AddReadings(ctx, v.readings(read)))
		if err == nil && plan && v.unsureFirst {
			err = v.plan(ctx)
		}
	case len(move) > 0:
		err = v.became(v.client.Jobs.AddMoves(ctx, v.moves(move)))
	case plan:
		err = v.plan(ctx)
	default:
		done = true
	}
	return done, err
}

func (v *visit) plan(ctx context.Context) error {
	request := &rowdatumv1.PlanJobRequest{Name: v.job.GetName(), Etag: v.job.GetEtag(), Person: technician}
	return v.became(v.client.Jobs.PlanJob(ctx, request))
}

// next sorts the rows by what is to be done at them.
func (v *visit) next() (read, move []*rowdatumv1.RowState, plan bool) {
	for _, r := range v.job.GetState().GetRows() {
		switch step := r.GetNext(); {
		case step == rowdatumv1.NextStep_READ, step == rowdatumv1.NextStep_READ_AGAIN, step == rowdatumv1.NextStep_READ_AFTER_MOVE, v.doubts(r):
			read = append(read, r)
		case step == rowdatumv1.NextStep_MOVE && v.unsureFirst && r.GetVerdict() == rowdatumv1.Verdict_UNSURE && r.GetReadings() < unsureReadings:
			read, plan = append(read, r), true
		case step == rowdatumv1.NextStep_MOVE:
			move = append(move, r)
		case step == rowdatumv1.NextStep_PLAN:
			plan = true
		}
	}
	return read, move, plan
}

// doubts says whether a first number is hard to believe, for whoever works; the service shows how far it is from the others.
func (v *visit) doubts(r *rowdatumv1.RowState) bool {
	return !v.trusting && r.GetReadings() == 1 && r.GetLastMove() == 0 && math.Abs(r.GetFromOthersMm()) > doubtfulMm
}

// readings reads rows, once each.
func (v *visit) readings(rows []*rowdatumv1.RowState) *rowdatumv1.AddReadingsRequest {
	request := &rowdatumv1.AddReadingsRequest{Name: v.job.GetName(), Person: technician}
	for _, r := range rows {
		request.Readings = append(request.Readings, &rowdatumv1.Reading{
			Row: r.GetRow(), Value: v.read(int(r.GetRow()) - 1), Unit: rowdatumv1.LengthUnit_MM, AfterMove: r.GetLastMove(),
		})
	}
	return request
}

// moves moves rows as the plan has it.
func (v *visit) moves(rows []*rowdatumv1.RowState) *rowdatumv1.AddMovesRequest {
	request := &rowdatumv1.AddMovesRequest{Name: v.job.GetName(), Person: technician}
	for _, r := range rows {
		v.move(int(r.GetRow())-1, r.GetMove().GetEffectMm())
		request.Moves = append(request.Moves, &rowdatumv1.MoveDone{Row: r.GetRow(), SettingBefore: r.GetSetting(), Count: &r.GetMove().Count})
	}
	return request
}

// sign closes the job; what is not proven even is excepted.
func (v *visit) sign(ctx context.Context) (finished, error) {
	request := &rowdatumv1.SignJobRequest{Name: v.job.GetName(), Etag: v.job.GetEtag(), Person: technician}
	out := finished{datumMm: v.job.GetState().GetDatumMm()}
	for _, r := range v.job.GetState().GetRows() {
		even := r.GetNext() == rowdatumv1.NextStep_DONE
		out.even = append(out.even, even)
		if !even {
			request.Exceptions = append(request.Exceptions, &rowdatumv1.Exception{Row: r.GetRow(), Reason: r.GetWhy()})
		}
	}
	err := v.became(v.client.Jobs.SignJob(ctx, request))
	return out, err
}

// byOracle levels a planter by the plan that the service makes of the true depths and scales; it keeps the guard band of one
// reading a row. One round is enough, and it knows how each handle's slack lies.
func byOracle(ctx context.Context, client *rowdatum.Client, p *planter, s settings) (finished, error) {
	exactly := 0.0
	request := &rowdatumv1.ComputePlanRequest{
		Fixture: &rowdatumv1.FixtureFigures{ResolutionMm: &p.rulingMm, RepeatabilityMm: &p.scatterMm},
		Aim:     &rowdatumv1.Aim{ToleranceMm: &s.toleranceMm}, Mechanisms: []*rowdatumv1.Mechanism{p.mechanism()},
	}
	for i := range p.rows {
		r := &p.rows[i]
		r.slackMm = 0
		request.Rows = append(request.Rows, &rowdatumv1.RowReadings{
			Row: int32(i + 1), Mechanism: mechanismID, Setting: p.setting(), ReadingsMm: []float64{r.depthMm}, Scale: &r.scale, ScaleSd: &exactly,
		})
	}
	plan, err := client.Plans.ComputePlan(ctx, request)
	if err != nil {
		return finished{}, err
	}
	out := finished{datumMm: plan.GetDatumMm()}
	for i, r := range plan.GetRows() {
		if r.GetMove() != nil {
			p.move(i, r.GetMove().GetEffectMm())
		}
		out.even = append(out.even, r.GetPredictedChance() >= confidence)
	}
	return out, nil
}
