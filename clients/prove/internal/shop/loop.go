package shop

import (
	"context"
	"fmt"
	"math"

	"google.golang.org/protobuf/types/known/structpb"

	rowdatum "rowdatum/clients/go"
	"rowdatum/clients/prove/internal/proof"
	"rowdatum/clients/prove/internal/visit"
	rowdatumv1 "rowdatum/proto/gen/rowdatum/v1"
)

// settings are what the caller of the service chooses.
type settings struct {
	toleranceMm float64
	verify      rowdatumv1.Job_Verify
}

// byService levels a planter by doing, row by row, what the service says is to be done next.
func byService(ctx context.Context, client *rowdatum.Client, p *planter, s settings) (finished, error) {
	v, err := p.open(ctx, client, s)
	if err != nil {
		return finished{}, err
	}
	v.Doubts = p.doubts
	if err := v.Work(ctx); err != nil {
		return finished{}, err
	}
	if err := v.Sign(ctx); err != nil {
		return finished{}, err
	}
	state := v.Job.GetState()
	out := finished{datumMm: state.GetDatumMm(), told: &told{
		found:    promise{state.GetPlanterChanceFound(), state.GetTrueSpreadFoundMm()},
		left:     promise{state.GetPlanterChance(), state.GetTrueSpreadMm()},
		cautions: state.GetPlan().GetCautions(),
	}}
	for _, r := range state.GetRows() {
		out.even = append(out.even, r.GetException() == "")
	}
	return out, nil
}

// open makes the planter and the fixture known, and opens a job.
func (p *planter) open(ctx context.Context, client *rowdatum.Client, s settings) (*visit.Visit, error) {
	described := &rowdatumv1.Planter{DisplayName: "Planter in the shop", Mechanisms: []*rowdatumv1.Mechanism{p.mechanism()}}
	for i := range p.rows {
		described.Rows = append(described.Rows, &rowdatumv1.PlanterRow{Row: int32(i + 1), Mechanism: mechanismID, Setting: p.setting()})
	}
	known, err := client.Planters.CreatePlanter(ctx, &rowdatumv1.CreatePlanterRequest{Planter: described})
	if err != nil {
		return nil, fmt.Errorf("creating a planter: %w", err)
	}
	tape, err := client.Fixtures.CreateFixture(ctx, &rowdatumv1.CreateFixtureRequest{Fixture: &rowdatumv1.Fixture{
		DisplayName: "Window, " + p.fixture.title, Kind: rowdatumv1.Fixture_WINDOW, ResolutionMm: &p.rulingMm, RepeatabilityMm: &p.scatterMm,
	}})
	if err != nil {
		return nil, fmt.Errorf("creating a fixture: %w", err)
	}
	return visit.Open(ctx, client.Jobs, known.GetName(), &rowdatumv1.Job{Fixture: tape.GetName(), Verify: s.verify, Aim: &rowdatumv1.Aim{ToleranceMm: &s.toleranceMm}}, p)
}

// doubts says whether whoever works at the planter finds a row's first number hard to believe: the service shows how far it
// is from the others.
func (p *planter) doubts(r *rowdatumv1.RowState) bool {
	return !p.trusting && r.GetReadings() == 1 && r.GetLastMove() == 0 && math.Abs(r.GetFromOthersMm()) > doubtfulMm
}

// Read implements visit.Hands.
func (p *planter) Read(row int32) float64 { return p.read(int(row) - 1) }

// Move implements visit.Hands.
func (p *planter) Move(row int32, nominalMm float64) { p.move(int(row)-1, nominalMm) }

const mechanismID = "all"

// mechanism is the planter's, as the API takes it.
func (p *planter) mechanism() *rowdatumv1.Mechanism {
	return &rowdatumv1.Mechanism{Id: mechanismID, Style: p.style, Figures: proof.Object(p.figures)}
}

// setting is where every row stands when the planter comes in.
func (p *planter) setting() *structpb.Struct { return proof.Object(map[string]any{p.place: p.found}) }

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
