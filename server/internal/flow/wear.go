package flow

import (
	"cmp"
	"context"
	"fmt"
	"slices"
	"strings"

	"rowdatum/server/leveling"
	"rowdatum/server/leveling/job"
	"rowdatum/server/leveling/wear"
)

// WearAnswer is what the seasons did to a planter.
type WearAnswer struct {
	wear.Analysis
	Voice  leveling.Voice
	Visits []WearVisit // oldest first
	Parts  []WearPart  // by row and point
}

// WearVisit is a signed job whose hectares are known.
type WearVisit struct {
	Job      JobKey
	SignTime leveling.Micros
	Hectares float64
	Area     float64 // in the voice's unit; as typed, where it was typed in that
}

// WearPart is one inspected part of one row.
type WearPart struct {
	Row    int
	Point  leveling.InspectionPoint
	Visits int // since it was last changed
	Trend  wear.PartTrend
}

// leastUncertaintyMm is what a reading is not better than: a fixture may claim to be exact.
const leastUncertaintyMm = 1e-6

// Wear tells how a planter's rows and parts wore over its signed jobs. Where an adjuster does not answer,
// nothing is said of the travel that is left.
func (f *Flow) Wear(ctx context.Context, who Caller, planter string, confidence float64, l leveling.Language) (WearAnswer, error) {
	var wrong leveling.Violations
	wrong.Confidence("confidence", confidence)
	if err := wrong.Err(); err != nil {
		return WearAnswer{}, err
	}
	var p leveling.Planter
	var visits []JobView
	var left []JobHead
	var v leveling.Voice
	err := f.Store.Read(ctx, func(view View) (err error) {
		if p, v, err = f.planterVoice(view, who, planter, l); err != nil {
			return err
		}
		visits, left, err = f.visits(view, who, planter)
		return err
	})
	if err != nil {
		return WearAnswer{}, err
	}
	groups := byStyle(p.Mechanisms, fittedRows(p.Rows))
	each(groups, func(g *styleGroup) error { return g.ask(ctx, f.Mechanisms, v) })
	problem := wear.Problem{Travel: travel(groups, reachOf(p, visits)), Confidence: confidence, Voice: v}
	out := WearAnswer{Voice: v}
	for i, visit := range visits {
		var next *job.State
		if i+1 < len(visits) {
			next = visits[i+1].State
		}
		problem.Visits = append(problem.Visits, wear.Visit{Hectares: *visit.State.Opened.Hectares, Fixture: sameZero(visit.State.Opened.Fixture), Rows: rowVisits(visit.State, next)})
		out.Visits = append(out.Visits, WearVisit{visit.Head.JobKey, visit.State.Signature.SignTime, *visit.State.Opened.Hectares, visit.State.Opened.AreaIn(v.AreaUnit)})
	}
	out.Analysis = wear.Analyze(problem)
	for _, head := range left {
		out.Cautions = append(out.Cautions, fmt.Sprintf(catalogue.In(v.Language).visitLeftOut, head.Job))
	}
	out.Parts = partsOf(visits, f.pointNames(ctx, groups), confidence)
	titled(out.Parts, groups)
	return out, nil
}

// titled puts the titles of parts into the groups' language; where a row has another style by now, that of its
// job stands.
func titled(parts []WearPart, groups []*styleGroup) {
	for _, g := range groups {
		for i := range parts {
			if p := &parts[i]; slices.Contains(g.numbers, p.Row) {
				if at := slices.IndexFunc(g.style.InspectionPoints, func(q leveling.InspectionPoint) bool { return q.ID == p.Point.ID }); at >= 0 {
					p.Point.Title = cmp.Or(g.style.InspectionPoints[at].Title, p.Point.Title)
				}
			}
		}
	}
}

// visits are a planter's signed jobs whose hectares are known, by hectares. Those that are no longer what was signed are left out.
func (f *Flow) visits(view View, who Caller, planter string) (all []JobView, left []JobHead, err error) {
	err = allOf(func(q Query) ([]JobHead, error) {
		q.Equal = signed()
		return view.Jobs(who.Shop, planter, q)
	}, JobHead.Place, func(head JobHead) error {
		visit, err := f.folded.job(view, head.JobKey, 0)
		if isChanged(err) {
			left = append(left, head)
			return nil
		}
		if err == nil && visit.State.Opened.Hectares != nil {
			all = append(all, visit)
		}
		return err
	})
	slices.SortStableFunc(all, func(a, b JobView) int {
		return cmp.Or(cmp.Compare(*a.State.Opened.Hectares, *b.State.Opened.Hectares), cmp.Compare(a.State.Signature.SignTime, b.State.Signature.SignTime))
	})
	return all, left, err
}

// rowVisits are what a job knew of its rows. A row that has another mechanism at the next visit begins anew.
func rowVisits(s, next *job.State) []wear.RowVisit {
	out := make([]wear.RowVisit, len(s.Rows))
	for i, lesson := range s.Lessons() {
		row := s.Rows[i]
		other := next != nil && refitted(s, next, row.Row)
		visit := wear.RowVisit{Row: row.Row, Moved: row.Moved, PartChanged: lesson.PartChanged || other}
		if row.AsFound != nil {
			visit.Found = reading(row.AsFound.Mm, row.AsFound.UncertaintyMm)
		}
		if row.Known && row.Measured && !other {
			visit.Left = reading(row.Estimate.DepthMm, row.Estimate.UncertaintyMm)
		}
		out[i] = visit
	}
	return out
}

func reading(mm, uncertaintyMm float64) *wear.Reading {
	return &wear.Reading{DepthMm: mm, UncertaintyMm: max(uncertaintyMm, leastUncertaintyMm)}
}

// refitted says whether a row has another mechanism at the next visit, or is not there.
func refitted(s, next *job.State, number int) bool {
	row := next.Row(number)
	return row == nil || !job.SameMechanism(&s.Opened.Planter, &next.Opened.Planter, s.Row(number).Mechanism, row.Mechanism)
}

// sameZero names a fixture with the figures that make its zero: visits of one name have absolute depths in common.
// It is empty for a job without a fixture of the shop.
func sameZero(f leveling.ShopFixture) string {
	if f.ID == "" {
		return ""
	}
	return fmt.Sprintf("%s %v %v", f.ID, f.Kind, f.ZeroMm)
}

// reachOf is what the season needs: of the newest visit, else the planter's.
func reachOf(p leveling.Planter, visits []JobView) leveling.Reach {
	if len(visits) == 0 {
		return p.Reach
	}
	return visits[len(visits)-1].State.Opened.Reach
}

// travel is what is left of every row's mechanism where it is known to stand, over the season's reach where the
// mechanism sets planting depth.
func travel(groups []*styleGroup, reach leveling.Reach) (out []wear.Travel) {
	for _, g := range groups {
		for i, answer := range g.options {
			for _, o := range answer.Options {
				if o.Leave && o.TravelKnown {
					t := wear.Travel{Row: g.numbers[i], ShallowerMm: o.ShallowerLeftMm, DeeperMm: o.DeeperLeftMm}
					if g.style.SetsPlantingDepth {
						t.ShallowerMm, t.DeeperMm = max(0, t.ShallowerMm-reach.ShallowerMm), max(0, t.DeeperMm-reach.DeeperMm)
					}
					out = append(out, t)
				}
			}
		}
	}
	return out
}

// pointNames are the titles of rows' inspection points in every language that can be had.
type pointNames map[rowPoint][]string

type rowPoint struct {
	row   int
	point string
}

func (f *Flow) pointNames(ctx context.Context, groups []*styleGroup) pointNames {
	names := pointNames{}
	for _, g := range groups {
		for _, l := range leveling.Languages() {
			style, err := f.Mechanisms.Style(ctx, g.id, leveling.Voice{Language: l})
			if err != nil {
				continue // its program is gone: what the jobs remember must do
			}
			for _, point := range style.InspectionPoints {
				for _, row := range g.numbers {
					at := rowPoint{row, point.ID}
					names[at] = append(names[at], point.Title)
				}
			}
		}
	}
	return names
}

// partsOf are the trends of all parts that were measured, from their last change on.
func partsOf(visits []JobView, names pointNames, confidence float64) []WearPart {
	var parts []*partHistory
	for _, visit := range visits {
		for _, e := range visit.State.Standing() {
			if e.PartChange != nil {
				for _, p := range parts {
					p.change(*e.PartChange, names)
				}
			}
		}
		for _, in := range visit.State.Inspections {
			point := visit.State.Inspected(in)
			if point == nil || in.Value == nil {
				continue
			}
			i := slices.IndexFunc(parts, func(p *partHistory) bool { return p.row == in.Row && p.point.ID == in.Point })
			if i < 0 {
				i, parts = len(parts), append(parts, &partHistory{row: in.Row})
			}
			parts[i].measure(*point, wear.Measured{Hectares: *visit.State.Opened.Hectares, Value: *in.Value})
		}
	}
	out := make([]WearPart, len(parts))
	for i, p := range parts {
		part := wear.Part{Points: p.measured, UncertaintyMm: wear.DefaultPartUncertaintyMm, Limit: p.point.Limit, WorseWhen: p.point.WorseWhen}
		out[i] = WearPart{Row: p.row, Point: p.point, Visits: len(p.measured), Trend: wear.Trend(part, confidence)}
	}
	slices.SortFunc(out, func(a, b WearPart) int { return cmp.Or(cmp.Compare(a.Row, b.Row), cmp.Compare(a.Point.ID, b.Point.ID)) })
	return out
}

// partHistory is one inspected part of one row since its last change.
type partHistory struct {
	row      int
	point    leveling.InspectionPoint // as last inspected
	measured []wear.Measured
}

func (p *partHistory) measure(point leveling.InspectionPoint, m wear.Measured) {
	p.point, p.measured = point, append(p.measured, m)
}

// change ends the history of the part that a change names, by its id or by its title in any language. A visit's
// inspections are of the parts that it left.
func (p *partHistory) change(c job.PartChange, names pointNames) {
	called := append([]string{p.point.ID, p.point.Title}, names[rowPoint{p.row, p.point.ID}]...)
	if c.Row == p.row && slices.ContainsFunc(called, func(name string) bool { return strings.EqualFold(name, c.Part) }) {
		p.measured = nil
	}
}
