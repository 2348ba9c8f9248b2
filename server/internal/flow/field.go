package flow

import (
	"context"
	"strconv"

	"rowdatum/server/leveling"
	"rowdatum/server/leveling/estimate"
	"rowdatum/server/leveling/job"
	"rowdatum/server/leveling/plan"
)

// maxDeltaMm bounds a change of planting depth.
const maxDeltaMm = leveling.MaxDepthMm

// FieldRequest is everything a field move is computed from.
type FieldRequest struct {
	DeltaMm    float64
	Mechanisms []leveling.Mechanism
	Rows       []FieldRow
	Voice      leveling.Voice
	Unreadable leveling.Violations // what could not even be put into these fields
}

// FieldRow is one row of a planter in the field.
type FieldRow struct {
	Number    int
	Mechanism string
	Setting   leveling.JSON // empty where nobody knows
	DepthMm   *float64      // nil where it is not known
	Scale     *float64      // nil is 1
	ScaleSd   *float64      // nil is the style's
}

// ComputeFieldMove checks the request, asks the adjusters and chooses the counts; nothing is kept. Errors
// as ComputePlan.
func (f *Flow) ComputeFieldMove(ctx context.Context, req FieldRequest) (plan.FieldMove, error) {
	p, err := f.fieldProblem(ctx, req)
	if err != nil {
		return plan.FieldMove{}, err
	}
	return plan.MoveInField(p), nil
}

func (f *Flow) fieldProblem(ctx context.Context, req FieldRequest) (plan.FieldProblem, error) {
	wrong := append(req.check(), req.Unreadable...)
	groups := byStyle(req.Mechanisms, req.fitted())
	if len(req.Unreadable) == 0 {
		each(groups, func(g *styleGroup) error { return g.ask(ctx, f.Mechanisms, req.Voice) })
		wrong = append(wrong, violations(groups, "")...)
	}
	if err := sorted(wrong).Err(); err != nil {
		return plan.FieldProblem{}, err
	}
	if err := firstError(groups); err != nil {
		return plan.FieldProblem{}, err
	}
	level := req.atOneDepth()
	rows := planRows(groups, req.Mechanisms, func(i int, s *leveling.Style) estimate.Estimate {
		row := req.Rows[i]
		e := estimate.Estimate{Scale: orElse(row.Scale, 1), ScaleSd: orElse(row.ScaleSd, s.ScaleSd)}
		if !level {
			e.DepthMm = *row.DepthMm
		}
		return e
	})
	return plan.FieldProblem{Rows: rows, DeltaMm: req.DeltaMm, Voice: req.Voice}, nil
}

// atOneDepth says whether the rows are taken to stand at one depth, told as 0: no depth is known.
func (req *FieldRequest) atOneDepth() bool { return len(req.Rows) > 0 && req.Rows[0].DepthMm == nil }

func (req *FieldRequest) fitted() []fittedRow {
	rows := make([]fittedRow, len(req.Rows))
	for i, row := range req.Rows {
		rows[i] = fittedRow{number: row.Number, mechanism: row.Mechanism, setting: row.Setting}
	}
	return rows
}

func (req *FieldRequest) check() leveling.Violations {
	var v leveling.Violations
	v.Within("deltaMm", req.DeltaMm, -maxDeltaMm, maxDeltaMm, leveling.Millimeters)
	if !checkFitted(req.fitted(), leveling.CheckMechanisms("", req.Mechanisms, &v), &v) {
		return v
	}
	for i, row := range req.Rows {
		v.Of("rows", i, func() { row.check(req.atOneDepth(), &v) })
	}
	return v
}

func (row *FieldRow) check(atOneDepth bool, v *leveling.Violations) {
	checkScale(row.Scale, row.ScaleSd, v)
	switch {
	case (row.DepthMm == nil) != atOneDepth:
		say(v, "depthMm", func(p *phrases) string { return p.someDepths })
	case row.DepthMm != nil:
		v.Within("depthMm", *row.DepthMm, leveling.MinDepthMm, leveling.MaxDepthMm, leveling.Millimeters)
	}
}

// FieldMove chooses the counts that change a planter's depth, from where its jobs left it.
func (f *Flow) FieldMove(ctx context.Context, who Caller, planter string, deltaMm float64, l leveling.Language) (plan.FieldMove, error) {
	var p leveling.Planter
	var v leveling.Voice
	err := f.Store.Read(ctx, func(view View) (err error) {
		p, v, err = f.planterVoice(view, who, planter, l)
		return err
	})
	if err != nil {
		return plan.FieldMove{}, err
	}
	return f.ComputeFieldMove(ctx, fieldOf(p, deltaMm, v))
}

// fieldOf is a planter as its jobs left it; where they did not leave every row in one fixture's numbers, its
// rows are taken to stand at one depth.
func fieldOf(p leveling.Planter, deltaMm float64, v leveling.Voice) FieldRequest {
	req := FieldRequest{DeltaMm: deltaMm, Mechanisms: p.Mechanisms, Voice: v}
	whole := true
	for _, row := range p.Rows {
		whole = whole && row.AsLeftMm != nil && row.AsLeftFixture == p.Rows[0].AsLeftFixture
	}
	for _, row := range p.Rows {
		one := FieldRow{Number: row.Number, Mechanism: row.Mechanism, Setting: row.Setting, Scale: row.Scale, ScaleSd: row.ScaleSd}
		if whole {
			one.DepthMm = row.AsLeftMm
		}
		req.Rows = append(req.Rows, one)
	}
	return req
}

// IndexCard is what a monitor shows of a planter.
type IndexCard struct {
	Planter leveling.Planter
	Voice   leveling.Voice
	Last    *JobView // the last signed job; nil: none yet
	Moves   []plan.FieldMove
}

// IndexCard tells how a planter was left, and its field moves for common changes of depth.
func (f *Flow) IndexCard(ctx context.Context, who Caller, planter string, l leveling.Language) (IndexCard, error) {
	var card IndexCard
	err := f.Store.Read(ctx, func(view View) (err error) {
		if card.Planter, card.Voice, err = f.planterVoice(view, who, planter, l); err != nil {
			return err
		}
		card.Last, err = f.lastSigned(view, who, planter)
		return err
	})
	if err != nil {
		return IndexCard{}, err
	}
	p, err := f.fieldProblem(ctx, fieldOf(card.Planter, 0, card.Voice))
	if err != nil {
		return IndexCard{}, err
	}
	card.Moves = plan.FieldTable(p, plan.CommonChangesMm(card.Voice))
	return card, nil
}

// lastSigned is the signed job that was opened last, nil where there is none.
func (f *Flow) lastSigned(view View, who Caller, planter string) (*JobView, error) {
	heads, err := view.Jobs(who.Shop, planter, Query{Limit: 1, Equal: signed()})
	if err != nil || len(heads) == 0 {
		return nil, err
	}
	last, err := f.folded.job(view, heads[0].JobKey, 0)
	return &last, err
}

// signed is what a list of signed jobs asks for.
func signed() map[string]string {
	return map[string]string{"stage": strconv.Itoa(int(job.StageSigned))}
}
