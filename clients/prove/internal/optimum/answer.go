package optimum

import (
	"fmt"
	"math"
	"slices"

	pb "rowdatum/proto/gen/rowdatum/v1"
)

// near is how far lengths may be apart, mm, and half-widths grown or shrunk.
const near = 1e-6

// judged is what an answer comes to by our own figures.
type judged struct {
	cost   float64 // seconds
	spread float64 // mm
	worst  float64 // largest difference of a figure in it from ours, mm
}

// judge works out what an answer comes to from its verdicts and moves. It fails where the answer contradicts itself or our
// figures; a plan of least work also where a row plays a part that is not its due.
func (p problem) judge(rows []figured, plan *pb.Plan, aim pb.Aim_Kind) (judged, error) {
	var out judged
	if len(plan.GetRows()) != len(rows) {
		return out, fmt.Errorf("%d rows answered of %d", len(plan.GetRows()), len(rows))
	}
	shallowest, deepest, work := math.Inf(1), math.Inf(-1), 0.0
	for i, f := range rows {
		answer := plan.GetRows()[i]
		out.worst = max(out.worst, math.Abs(f.depth-answer.GetEstimateMm()), math.Abs(f.u-answer.GetUncertaintyMm()))
		played, err := p.played(f, answer, plan.GetDatumMm())
		if err == nil && aim == pb.Aim_LEAST_WORK && !played.stuck {
			err = p.due(f, played, plan.GetDatumMm())
		}
		if err != nil {
			return out, fmt.Errorf("row %d: %w", i+1, err)
		}
		out.cost, work = out.cost+played.cost, work+played.work
		if !played.stuck {
			out.worst = max(out.worst, math.Abs(played.chosen.depth-answer.GetPredictedMm()))
			shallowest, deepest = min(shallowest, played.chosen.depth), max(deepest, played.chosen.depth)
		}
	}
	out.spread = max(0, deepest-shallowest)
	out.worst = max(out.worst, math.Abs(out.spread-plan.GetSpreadAfterMm()))
	switch {
	case out.worst > near:
		return out, fmt.Errorf("a figure is %.9f mm from ours", out.worst)
	case math.Abs(work-plan.GetWorkSeconds()) > near:
		return out, fmt.Errorf("%v s of work said, its rows make %v s", plan.GetWorkSeconds(), work)
	}
	return out, nil
}

// part is what one row's part in an answer comes to.
type part struct {
	stuck      bool
	chosen     option
	cost, work float64 // seconds
}

// played is the part that a row plays in an answer.
func (p problem) played(f figured, answer *pb.RowPlan, datum float64) (part, error) {
	reached := f.reached()
	if stuck := answer.GetVerdict() == pb.Verdict_STUCK; stuck || len(reached) == 0 {
		if stuck != (len(reached) == 0) {
			return part{}, fmt.Errorf("said to be %v, has %d places in reach", answer.GetVerdict(), len(reached))
		}
		return part{stuck: true, cost: p.miss}, nil // E
	}
	chosen, err := find(reached, answer.GetMove().GetEffectMm())
	if err != nil {
		return part{}, err
	}
	if err := f.verdictHolds(answer.GetVerdict(), math.Abs(f.depth-datum)); err != nil {
		return part{}, err
	}
	out := part{chosen: chosen}
	proves := chosen.accepted(datum, near)
	switch n := int(answer.GetReadingsToSettle()); {
	case answer.GetMove() != nil: // M, D
		out.work = f.touch
	case n > 0: // R
		if !(f.readings(datum-near) == n || f.readings(datum+near) == n || f.readings(datum) == n) {
			return part{}, fmt.Errorf("%d more readings said to prove it, %d would", n, f.readings(datum))
		}
		out.work, proves = float64(n)*p.read, true
	default: // A, D
		proves = answer.GetVerdict() == pb.Verdict_EVEN
	}
	if out.cost = out.work; !proves {
		out.cost += p.miss
	}
	return out, nil
}

// due tells whether a row's part is the one that it is to play at this datum.
func (p problem) due(f figured, played part, datum float64) error {
	costs := []float64{p.costAt(f, datum-near), p.costAt(f, datum), p.costAt(f, datum+near)}
	if !slices.Contains(costs, played.cost) {
		return fmt.Errorf("its part costs %v s, its due costs %v s", played.cost, costs[1])
	}
	switch reached := f.reached(); {
	case played.chosen.effect == 0:
		return nil
	case played.chosen.accepted(datum, near): // M
		return nearest(played.chosen, datum, slices.DeleteFunc(reached, func(o option) bool { return o.effect == 0 || !o.accepted(datum, -near) }))
	default: // D
		return nearest(played.chosen, datum, reached)
	}
}

// accepted tells whether the option is accepted at a datum, acceptance grown by so many millimetres.
func (o option) accepted(datum, grown float64) bool {
	return o.half >= 0 && math.Abs(o.depth-datum) <= o.half+grown
}

// nearest fails where one of these options is nearer to the datum than the chosen one.
func nearest(chosen option, datum float64, of []option) error {
	for _, o := range of {
		if math.Abs(o.depth-datum) < math.Abs(chosen.depth-datum)-near {
			return fmt.Errorf("is brought by %+g mm, %+g mm would be nearer", chosen.effect, o.effect)
		}
	}
	return nil
}

// find returns the option with an effect.
func find(options []option, effect float64) (option, error) {
	for _, o := range options {
		if math.Abs(o.effect-effect) <= near {
			return o, nil
		}
	}
	return option{}, fmt.Errorf("is brought by %+g mm to a place that is not in reach", effect)
}

// verdictHolds tells whether a verdict on the row as found is one that our figures allow.
func (f figured) verdictHolds(said pb.Verdict, away float64) error {
	half := -1.0
	for _, o := range f.options {
		if o.effect == 0 {
			half = o.half
		}
	}
	allowed := map[pb.Verdict]bool{
		pb.Verdict_EVEN:   away <= half+near,
		pb.Verdict_OFF:    away >= f.off-near,
		pb.Verdict_UNSURE: away > half-near && away < f.off+near,
	}
	if !allowed[said] {
		return fmt.Errorf("said to be %v, %.7f mm from the datum; even to %.7f, off from %.7f", said, away, half, f.off)
	}
	return nil
}
