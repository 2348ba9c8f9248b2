package plan

import (
	"math"

	"rowdatum/server/leveling"
	"rowdatum/server/leveling/worth"
)

// worth says what the plan is worth for all rows together, as found and as planned.
func (s *solver) worth(out *Plan) {
	rows := make([]worth.Row, len(s.rows))
	target := worth.Target{DatumMm: out.DatumMm, ToleranceMm: s.Aim.ToleranceMm, Matched: -1}
	if s.Aim.Kind == leveling.SetDepth {
		target.ZeroUncertaintyMm = s.Aim.ZeroUncertaintyMm
	}
	for i := range s.rows {
		r := &s.rows[i]
		rows[i] = r.Worth(nil)
		rows[i].Aside = r.stuck()
		if r.matched {
			target.Matched = i
		}
	}
	population := worth.NewPopulation(rows)
	if s.Seeds {
		population = worth.Apart()
	}
	found := population.Of(rows, target)
	for i := range s.rows {
		if r := &s.rows[i]; !r.stuck() {
			rows[i] = r.Worth(&out.Rows[i].Option)
		}
	}
	after := population.Of(rows, target)
	out.PlanterChance, out.TrueSpreadMm = found.Chance, found.Spread
	out.PlanterChanceAfter, out.TrueSpreadAfterMm = after.Chance, after.Spread
}

// Worth is the row among all of its planter, as it stands or, where o moves it, as it will then.
func (r *Row) Worth(o *leveling.Option) worth.Row {
	e := &r.Estimate
	first := e.AtFirst()
	out := worth.Row{
		First: worth.Depth{Mm: first.DepthMm, VarianceMm2: first.VarianceMm2}, CovarianceMm2: first.CovarianceMm2,
		Now: worth.Depth{Mm: e.DepthMm, VarianceMm2: e.UncertaintyMm * e.UncertaintyMm},
	}
	if o != nil && !o.Leave {
		sd := r.sdAfter(o.EffectMm, 0)
		out.Now = worth.Depth{Mm: e.DepthMm + float64(e.Scale*o.EffectMm), VarianceMm2: sd * sd}
		out.CovarianceMm2 = first.CovarianceMm2 + float64(o.EffectMm*first.ScaleCovarianceMm)
		// Figures that contradict each other must not make a variance negative.
		most := math.Sqrt(first.VarianceMm2) * sd
		out.CovarianceMm2 = max(-most, min(most, out.CovarianceMm2))
	}
	return out
}
