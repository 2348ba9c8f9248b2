package flow

import (
	"context"
	"fmt"
	"slices"

	"rowdatum/server/leveling"
	"rowdatum/server/leveling/alike"
	"rowdatum/server/leveling/estimate"
	"rowdatum/server/leveling/plan"
)

// PlanRequest is everything a stateless plan is computed from. Figures that a caller may leave out hold
// their defaults already.
type PlanRequest struct {
	Fixture       leveling.Fixture
	Aim           leveling.Aim
	Reach         leveling.Reach
	Mechanisms    []leveling.Mechanism
	Rows          []PlanRow
	ReferenceRows []int
	Language      leveling.Language
	LengthUnit    leveling.LengthUnit
	Unreadable    leveling.Violations // what could not even be put into these fields
}

// PlanRow is one row as found.
type PlanRow struct {
	Number     int
	Mechanism  string
	Setting    leveling.JSON // empty where nobody knows
	ReadingsMm []float64
	Scale      *float64 // nil is 1
	ScaleSd    *float64 // nil is the style's
}

// PlanAnswer is the plan with the words that the adjusters give it.
type PlanAnswer struct {
	plan.Plan
	Moves []Move // one a row of Plan.Rows; empty where the row is not moved
}

// Move is how a move is said.
type Move struct {
	Unit string // the word for the counts
	Say  string
}

// ComputePlan checks the request, asks the adjusters and computes the plan; nothing is kept. Errors:
// Invalid with every violation at once; FailedState for a style that is not installed; what Mechanisms
// returns, with the rows that need the style, where an adjuster fails.
func (f *Flow) ComputePlan(ctx context.Context, req PlanRequest) (PlanAnswer, error) {
	wrong := append(req.check(), req.Unreadable...)
	groups := byStyle(req.Mechanisms, req.fitted())
	if len(req.Unreadable) == 0 {
		each(groups, func(g *styleGroup) error { return g.ask(ctx, f.Mechanisms, req.voice()) })
		wrong = append(wrong, violations(groups, "")...)
	}
	if err := sorted(wrong).Err(); err != nil {
		return PlanAnswer{}, err
	}
	if err := firstError(groups); err != nil {
		return PlanAnswer{}, err
	}
	return f.worded(ctx, f.planner.Compute(req.problem(groups)), groups, req.voice(), req.cautions())
}

// voice speaks mm whatever the fixture's ruling, unless inches are asked for: the request's figures are mm.
func (req *PlanRequest) voice() leveling.Voice {
	return leveling.VoiceFor(req.Language, req.LengthUnit, req.Fixture)
}

func (req *PlanRequest) fitted() []fittedRow {
	rows := make([]fittedRow, len(req.Rows))
	for i, row := range req.Rows {
		rows[i] = fittedRow{number: row.Number, mechanism: row.Mechanism, setting: row.Setting}
	}
	return rows
}

// problem puts the readings and the options together for the core.
func (req *PlanRequest) problem(groups []*styleGroup) plan.Problem {
	rows := planRows(groups, req.Mechanisms, func(i int, s *leveling.Style) estimate.Estimate {
		row := req.Rows[i]
		e := estimate.Stay(req.Fixture, row.ReadingsMm)
		e.Scale, e.ScaleSd = orElse(row.Scale, 1), orElse(row.ScaleSd, s.ScaleSd)
		return e
	})
	return plan.Problem{Rows: rows, Aim: req.Aim, Reach: req.Reach, ReferenceRows: req.ReferenceRows,
		ResolutionMm: req.Fixture.ResolutionMm, Voice: req.voice()}
}

// planRows are the rows of all groups with their options; of is what is known of the row at an index.
func planRows(groups []*styleGroup, mechanisms []leveling.Mechanism, of func(i int, s *leveling.Style) estimate.Estimate) []plan.Row {
	n := 0
	for _, g := range groups {
		n += len(g.rows)
	}
	rows := make([]plan.Row, 0, n)
	for _, g := range groups {
		for k, i := range g.rows {
			at := g.question.Rows[k]
			group := g.mechanisms[at.Mechanism]
			rows = append(rows, plan.Row{Number: g.numbers[k], Estimate: of(i, &g.style), Mechanism: mechanisms[group].ID, Group: group,
				Style: &g.style, Setting: at.Setting, Options: g.options[k].Options})
		}
	}
	return rows
}

func orElse(x *float64, otherwise float64) float64 {
	if x == nil {
		return otherwise
	}
	return *x
}

// worded gives a plan its words. Cautions come in order: safety, then the styles that are touched, then
// what the request gives reason for (asked), then the plan, then single rows.
func (f *Flow) worded(ctx context.Context, p plan.Plan, groups []*styleGroup, v leveling.Voice, asked []string) (PlanAnswer, error) {
	answer := PlanAnswer{Plan: p, Moves: make([]Move, len(p.Rows))}
	place := make(map[int]int, len(p.Rows))
	for i := range p.Rows {
		place[p.Rows[i].Row] = i
	}
	chosen := func(number int) *plan.RowPlan { return &p.Rows[place[number]] }
	each(groups, func(g *styleGroup) error { return g.say(ctx, f.Mechanisms, v, chosen) })
	if err := firstError(groups); err != nil {
		return PlanAnswer{}, err
	}
	cautions := v.SafetyCautions()
	var single []string
	for _, g := range groups {
		touched := false
		for i, number := range g.numbers {
			if row := chosen(number); row.Part != plan.NoReach && !row.Option.Leave {
				touched = true
				answer.Moves[place[number]] = Move{Unit: g.style.CountUnit.For(row.Option.Count), Say: g.words[i].Say}
			}
			for _, caution := range g.words[i].Cautions {
				single = append(single, fmt.Sprintf(catalogue.In(v.Language).single, v.RowList([]int{number}), caution))
			}
		}
		if touched {
			cautions = append(cautions, g.style.Cautions...)
		}
	}
	answer.Cautions = slices.Concat(cautions, asked, p.Cautions, single)
	return answer, nil
}

// cautions are what the request itself gives reason for.
func (req *PlanRequest) cautions() []string {
	var out []string
	p := catalogue.In(req.voice().Language)
	if req.looksLikeInches() {
		out = append(out, p.likeInches)
	}
	if req.Aim.Row != 0 && req.Aim.Kind != leveling.MatchRow {
		out = append(out, p.rowNotRead)
	}
	if req.Aim.DatumMm != nil && req.Aim.Kind != leveling.SetDepth {
		out = append(out, p.datumNotRead)
	}
	out = append(out, req.readingCautions()...)
	used := map[string]bool{}
	for _, row := range req.Rows {
		used[row.Mechanism] = true
	}
	for _, m := range req.Mechanisms {
		if !used[m.ID] {
			out = append(out, fmt.Sprintf(p.unusedFigures, m.ID))
		}
	}
	return out
}

// readingCautions are what the readings of all rows together give reason for.
func (req *PlanRequest) readingCautions() []string {
	rows := slices.Clone(req.Rows)
	slices.SortFunc(rows, func(a, b PlanRow) int { return a.Number - b.Number })
	readings := make([][]float64, len(rows))
	depths := alike.Problem{RulingMm: req.Fixture.ResolutionMm}
	for i, row := range rows {
		readings[i] = row.ReadingsMm
		depths.Rows = append(depths.Rows, alike.Row{Number: row.Number, DepthMm: estimate.Stay(req.Fixture, row.ReadingsMm).DepthMm})
	}
	var out []string
	for _, surprise := range estimate.Surprises(req.Fixture, readings) {
		out = append(out, plan.SurpriseCaution(req.voice(), rows[surprise.Row].Number, surprise))
	}
	if together := alike.Find(depths); together != nil {
		out = append(out, together.Say(req.voice()))
	}
	return out
}

// inchesBelowMm is the depth below which a whole request is taken to be in inches by mistake: no crop
// is planted so shallow on every row, and most are planted deeper than that many millimetres.
const inchesBelowMm = 6

func (req *PlanRequest) looksLikeInches() bool {
	for _, row := range req.Rows {
		for _, depth := range row.ReadingsMm {
			if depth >= inchesBelowMm {
				return false
			}
		}
	}
	return true
}
