package job

import (
	"rowdatum/server/leveling"
	"rowdatum/server/leveling/plan"
	"rowdatum/server/leveling/worth"
)

// confidence is what is asked of each row that the last plan has not found stuck.
func (s *State) confidence() float64 {
	rows := len(s.rows)
	if s.Issued != nil {
		for i := range s.Issued.Plan.Rows {
			if s.Issued.Plan.Rows[i].Part == plan.NoReach {
				rows--
			}
		}
	}
	return s.Aim.RowConfidence(rows)
}

// worth works out what is known of all rows together.
func (d *deriver) worth() {
	d.Found, d.Now = nil, nil
	now, target := d.standing()
	if len(now) < 2 {
		return
	}
	population := worth.NewPopulation(now)
	d.Now = d.told(population.Of(now, target))
	found := make([]worth.Row, len(now))
	for i, r := range now {
		found[i] = worth.Row{First: r.First, Now: r.First, CovarianceMm2: r.First.VarianceMm2, Unclaimed: r.Unclaimed}
	}
	d.Found = d.told(population.Of(found, target))
}

// standing is what the rows whose depths are known come to, and what they are held against.
func (d *deriver) standing() ([]worth.Row, worth.Target) {
	var rows []worth.Row
	target := worth.Target{ToleranceMm: d.Aim.ToleranceMm, Matched: -1}
	if d.DatumMm != nil {
		target.DatumMm = *d.DatumMm
	}
	if d.Issued != nil && d.Aim.Kind == leveling.SetDepth {
		target.ZeroUncertaintyMm = d.Aim.ZeroUncertaintyMm
	}
	for i := range d.Rows {
		r := &d.Rows[i]
		if !r.Known {
			continue
		}
		if d.Issued != nil && d.Aim.Kind == leveling.MatchRow && d.Aim.Row == r.Row {
			target.Matched = len(rows)
		}
		one := plan.Row{Estimate: r.Estimate}
		rows = append(rows, one.Worth(nil))
		rows[len(rows)-1].Unclaimed = r.Verdict == leveling.Stuck || r.Exception != ""
	}
	return rows, target
}

func (d *deriver) told(w worth.Worth) *Worth {
	out := &Worth{TrueSpread: w.Spread}
	if d.DatumMm != nil {
		out.Chance = &w.Chance
	}
	return out
}
