package coverage

import (
	"context"
	"math"
	"math/rand/v2"

	rowdatum "rowdatum/clients/go"
	"rowdatum/clients/prove/internal/proof"
	pb "rowdatum/proto/gen/rowdatum/v1"
)

// rowsAtOnce is how many rows one call or one planter has.
const rowsAtOnce = 120

// z is the normal distribution's quantile of 0.95: an interval of estimate ± z·u is to hold 90 %.
const z = 1.6448536

func covers(estimate, u, depth float64) bool { return math.Abs(estimate-depth) <= z*u }

// prover asks one service.
type prover struct {
	client *rowdatum.Client
	styles map[string]*pb.Style
}

// drawRows makes the rows of one planter.
func (p prover) drawRows(rng *rand.Rand) []truth {
	rows := make([]truth, rowsAtOnce)
	for i := range rows {
		rows[i] = draw(rng, p.styles)
	}
	return rows
}

// plan reads each row some times and asks for a plan.
func (p prover) plan(ctx context.Context, rng *rand.Rand, f fixture, rows []truth, readings int, a aim) (*pb.Plan, error) {
	request := &pb.ComputePlanRequest{
		Fixture:    &pb.FixtureFigures{ResolutionMm: &f.ruling, RepeatabilityMm: &f.scatter},
		Aim:        a(rng),
		Mechanisms: mechanisms(),
	}
	for i, t := range rows {
		row := &pb.RowReadings{Row: int32(i + 1), Mechanism: t.id, Setting: proof.Object(t.setting)}
		for range readings {
			row.ReadingsMm = append(row.ReadingsMm, f.read(rng, t.depth))
		}
		request.Rows = append(request.Rows, row)
	}
	return p.client.Plans.ComputePlan(ctx, request)
}

// aim makes the aim of one plan.
type aim func(*rand.Rand) *pb.Aim

// setDepth is the aim whose datum owes nothing to the readings, nor to where the ruling's lines are.
func setDepth(rng *rand.Rand) *pb.Aim {
	datum := middle + 2*rng.Float64()
	return &pb.Aim{Kind: pb.Aim_SET_DEPTH, DatumMm: &datum}
}

func leastWork(*rand.Rand) *pb.Aim { return &pb.Aim{Kind: pb.Aim_LEAST_WORK} }

// asFound counts how many true depths lie in the intervals that a plan states, over so many calls.
func (p prover) asFound(ctx context.Context, f fixture, readings, calls int) (tally, error) {
	counted, err := each(ctx, calls, func(ctx context.Context, i int) (out tally, err error) {
		rng := f.luck(readings, i)
		rows := p.drawRows(rng)
		plan, err := p.plan(ctx, rng, f, rows, readings, setDepth)
		for i, row := range plan.GetRows() {
			out.count(covers(row.GetEstimateMm(), row.GetUncertaintyMm(), rows[i].depth))
		}
		return out, err
	})
	var sum tally
	for _, c := range counted {
		sum.add(c)
	}
	return sum, err
}
