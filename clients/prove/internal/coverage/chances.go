package coverage

import (
	"context"
	"math"
	"math/rand/v2"

	pb "rowdatum/proto/gen/rowdatum/v1"
)

// tenths are the classes that chances fall into.
const tenths = 10

// class is what was said of some rows and what was seen.
type class struct {
	tally
	said float64 // sum of chances
}

// held is what was seen over what was said, of the likelier of the two: that rows are within tolerance, or that they are not.
func (c class) held() float64 {
	if average := c.average(); average < 0.5 {
		return (1 - c.share()) / (1 - average)
	}
	return c.share() / c.average()
}

func (c class) average() float64 { return c.said / float64(c.of) }

// said is rows by their stated chance of being within tolerance.
type said [tenths]class

func (s *said) count(chance float64, within bool) {
	c := &s[min(int(chance*tenths), tenths-1)]
	c.tally.count(within)
	c.said += chance
}

func (s *said) add(t said) {
	for i := range s {
		s[i].tally.add(t[i].tally)
		s[i].said += t[i].said
	}
}

// tolerance is the default, 1/8 inch.
const tolerance = 3.175

// happening holds the chances of plans against what is so: of rows as found, and after the plan's moves were done.
type happening struct{ found, moved said }

// chances asks so many plans of each aim. Readings are of the commonest fixture, 1/16 inch.
func (p prover) chances(ctx context.Context, a aim, calls int) (happening, error) {
	tape := fixture{ruling: 1.5875, scatter: 0.5}
	counted, err := each(ctx, calls, func(ctx context.Context, i int) (happening, error) {
		rng := tape.luck(1+i%mostReadings, i)
		rows := p.drawRows(rng)
		plan, err := p.plan(ctx, rng, tape, rows, 1+i%mostReadings, a)
		return happened(rng, rows, plan), err
	})
	var sum happening
	for _, c := range counted {
		sum.found.add(c.found)
		sum.moved.add(c.moved)
	}
	return sum, err
}

// happened does a plan's moves and looks at the truth before and after.
func happened(rng *rand.Rand, rows []truth, plan *pb.Plan) (out happening) {
	within := func(t truth) bool { return math.Abs(t.depth-plan.GetDatumMm()) <= tolerance }
	for i, row := range plan.GetRows() {
		out.found.count(row.GetChance(), within(rows[i]))
		if row.GetMove() != nil {
			rows[i].move(rng, row.GetMove().GetEffectMm())
			out.moved.count(row.GetPredictedChance(), within(rows[i]))
		}
	}
	return out
}
