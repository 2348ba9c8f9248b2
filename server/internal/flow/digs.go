package flow

import (
	"context"
	"math"
	"slices"

	"rowdatum/server/leveling"
	"rowdatum/server/leveling/dig"
	"rowdatum/server/leveling/emergence"
	"rowdatum/server/leveling/estimate"
	"rowdatum/server/leveling/plan"
)

// CreateDig keeps a dig of a planter under the wanted id, or one of its own. Errors: Invalid with every
// violation; NotFound for the planter; Exists.
func (f *Flow) CreateDig(ctx context.Context, who Caller, req Request, wanted string, d leveling.Dig) (leveling.Dig, error) {
	planter, err := f.Planter(ctx, who, d.Planter)
	if err != nil {
		return leveling.Dig{}, err
	}
	var v leveling.Violations
	d.ID = wantedID("digId", wanted, &v)
	d.Check("dig.", func(row int) bool { _, known := planter.MechanismOf(row); return known }, &v)
	if err := sorted(v).Err(); err != nil {
		return leveling.Dig{}, err
	}
	return once(ctx, f, who, "CreateDig", req, func(tx Tx, now leveling.Micros) (leveling.Dig, string, error) {
		if _, err := tx.Planter(who.Shop, d.Planter); err != nil {
			return leveling.Dig{}, "", err // deleted meanwhile
		}
		d.CreateTime = now
		return d, planterName(d.Planter) + "/digs/" + d.ID, tx.PutDig(who.Shop, d)
	})
}

// Dig returns one dig.
func (f *Flow) Dig(ctx context.Context, who Caller, planter, id string) (d leveling.Dig, err error) {
	err = f.Store.Read(ctx, func(view View) error {
		d, err = view.Dig(who.Shop, planter, id)
		return err
	})
	return d, err
}

// Digs returns a page of a planter's digs by id.
func (f *Flow) Digs(ctx context.Context, who Caller, planter string, q Query) (page []leveling.Dig, more bool, err error) {
	return paged(ctx, f, q, func(view View, q Query) ([]leveling.Dig, error) {
		if _, err := view.Planter(who.Shop, planter); err != nil {
			return nil, err
		}
		return view.Digs(who.Shop, planter, q)
	})
}

// SeedsRequest is everything an analysis of seeds is computed from.
type SeedsRequest struct {
	Rows     []leveling.RowSeeds
	TargetMm *float64
	Judge    DigJudge
}

// DigJudge is what seeds are judged by.
type DigJudge struct {
	Aim             dig.Aim
	DailyDegreeDays *float64 // nil: not known
	Voice           leveling.Voice
}

// DigAnswer is what seeds say.
type DigAnswer struct {
	dig.Analysis
	Emergence  emergence.Guide
	LengthUnit leveling.LengthUnit // that its words say lengths in
	Plan       *PlanAnswer         // nil where no planter was named
}

// AnalyzeSeeds analyses seeds; nothing is kept. Errors: Invalid with every violation.
func (f *Flow) AnalyzeSeeds(_ context.Context, req SeedsRequest) (DigAnswer, error) {
	var v leveling.Violations
	leveling.CheckSeeds("rows", req.Rows, &v)
	leveling.CheckTarget("targetMm", req.TargetMm, &v)
	req.Judge.check(&v)
	if err := sorted(v).Err(); err != nil {
		return DigAnswer{}, err
	}
	return req.analyze(), nil
}

func (j *DigJudge) check(v *leveling.Violations) {
	j.Aim.Check("aim", v)
	emergence.CheckDaily("aim.dailyDegreeDays", j.DailyDegreeDays, v)
}

func (req *SeedsRequest) analyze() DigAnswer {
	a := dig.Analyze(dig.Problem{Rows: req.Rows, TargetMm: req.TargetMm, Aim: req.Judge.Aim, Voice: req.Judge.Voice})
	guide := emergence.Problem{ShallowestMm: math.Inf(1), DeepestMm: math.Inf(-1), DailyDegreeDays: req.Judge.DailyDegreeDays, Voice: req.Judge.Voice}
	for _, row := range a.Rows {
		guide.ShallowestMm = min(guide.ShallowestMm, row.Estimate.DepthMm)
		guide.DeepestMm = max(guide.DeepestMm, row.Estimate.DepthMm)
	}
	return DigAnswer{Analysis: a, Emergence: emergence.Of(guide), LengthUnit: req.Judge.Voice.LengthUnit()}
}

// AnalyzeDig analyses a dig and plans what to correct in the field, from where the planter's rows stand.
// Errors also as ComputePlan.
func (f *Flow) AnalyzeDig(ctx context.Context, who Caller, planter, id string, j DigJudge) (DigAnswer, error) {
	var v leveling.Violations
	j.check(&v)
	if err := sorted(v).Err(); err != nil {
		return DigAnswer{}, err
	}
	var d leveling.Dig
	var p leveling.Planter
	err := f.Store.Read(ctx, func(view View) (err error) {
		if d, err = view.Dig(who.Shop, planter, id); err != nil {
			return err
		}
		p, j.Voice, err = f.planterVoice(view, who, planter, j.Voice.Language)
		return err
	})
	if err != nil {
		return DigAnswer{}, err
	}
	req := SeedsRequest{Rows: d.Rows, TargetMm: d.TargetMm, Judge: j}
	answer := req.analyze()
	answer.Plan, err = f.correction(ctx, p, answer.Analysis, j)
	return answer, err
}

// correction plans the rows that were dug by what their seeds say, at the least work. Only rows that their seeds call off
// are moved; one that stands on its own scatter takes part only where it is off by that.
func (f *Flow) correction(ctx context.Context, p leveling.Planter, a dig.Analysis, j DigJudge) (*PlanAnswer, error) {
	said := map[int]*dig.Row{}
	for i := range a.Rows {
		if row := &a.Rows[i]; !row.SetApart || row.Verdict == leveling.Off {
			said[row.Row] = row
		}
	}
	// A row that the planter no longer has is left out.
	rows := slices.DeleteFunc(slices.Clone(p.Rows), func(row leveling.PlanterRow) bool { return said[row.Number] == nil })
	groups := byStyle(p.Mechanisms, fittedRows(rows))
	each(groups, func(g *styleGroup) error { return g.ask(ctx, f.Mechanisms, j.Voice) })
	if err := violations(groups, "planter.").Err(); err != nil {
		return nil, err
	}
	if err := firstError(groups); err != nil {
		return nil, err
	}
	problem := plan.Problem{Seeds: true, Aim: leveling.DefaultAim(), Reach: p.Reach, ReferenceRows: p.ReferenceRows, Voice: j.Voice}
	problem.Aim.ToleranceMm, problem.Aim.Confidence = j.Aim.ToleranceMm, j.Aim.Confidence
	problem.Rows = planRows(groups, p.Mechanisms, func(i int, s *leveling.Style) estimate.Estimate {
		e := said[rows[i].Number].Estimate
		e.Scale, e.ScaleSd = orElse(rows[i].Scale, 1), orElse(rows[i].ScaleSd, s.ScaleSd)
		return e
	})
	for i := range problem.Rows {
		row := &problem.Rows[i]
		row.Stays = said[row.Number].Verdict != leveling.Off
	}
	if len(problem.Rows) == 0 {
		return nil, nil
	}
	answer, err := f.worded(ctx, f.planner.Compute(problem), groups, j.Voice, nil)
	for i := range answer.Rows {
		if row := &answer.Rows[i]; said[row.Row].Verdict != leveling.Off {
			row.Why = said[row.Row].Why // it stays as it is because its seeds say so, not for the plan's datum
		}
	}
	return &answer, err
}
