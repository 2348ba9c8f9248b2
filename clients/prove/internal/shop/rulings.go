package shop

import (
	"context"
	"fmt"
	"strings"

	"rowdatum/clients/prove/internal/proof"
)

// Most of what may be asked at one row: moves, and readings between two of them.
const (
	mostMoves    = 4
	mostReadings = 20
)

// ruled are the planters of one scene, leveled by hand and by the service at a tolerance.
type ruled struct {
	scene
	toleranceMm float64
	hand, now   figures
	strict      figures // by hand, to the same mark
	moved, read int     // the most moves of one row, and its most readings between two of them
	word        string  // what the plans say of a ruling coarser than the tolerance; empty where one says nothing
}

// Rulings levels planters with tapes of three rulings, and says what came out.
func Rulings(ctx context.Context, setting proof.Setting) ([]proof.Table, error) {
	t, end, err := begin(ctx, setting)
	if err != nil {
		return nil, err
	}
	defer end()
	var all []*ruled
	for _, at := range []struct {
		fixture
		toleranceMm float64
	}{{sixteenth(), usualToleranceMm}, {eighth(), usualToleranceMm}, {quarter(), usualToleranceMm}, {quarter(), quarter().rulingMm}} {
		for _, w := range t.wears {
			for _, k := range []kind{threads(), notches()} {
				r, err := t.ruled(ctx, scene{kind: k, fixture: at.fixture, wear: w, rows: 24, planters: t.planters}, at.toleranceMm)
				if err != nil {
					return nil, err
				}
				all = append(all, r)
			}
		}
	}
	return []proof.Table{work(all, t.planters), bounds(all), wronglyEven(all)}, nil
}

// ruled has the planters of a scene leveled by hand and by the service.
func (t *trial) ruled(ctx context.Context, s scene, toleranceMm float64) (*ruled, error) {
	s, err := t.timed(ctx, s)
	if err != nil {
		return nil, err
	}
	r := &ruled{scene: s, toleranceMm: toleranceMm}
	if r.hand, err = s.byHand(ctx, toleranceMm); err != nil {
		return nil, err
	}
	strict := s
	strict.strict = true
	if r.strict, err = strict.byHand(ctx, toleranceMm); err != nil {
		return nil, err
	}
	all, err := t.signed(ctx, s, toleranceMm)
	if err != nil {
		return nil, err
	}
	r.now = s.sum(all)
	for i, w := range all {
		r.moved, r.read = max(r.moved, w.moved), max(r.read, w.read)
		if word := coarse(w.told.cautions); i == 0 || word == "" {
			r.word = word
		}
	}
	t.say("%s: leveled by hand and by the service", s)
	return r, nil
}

// coarse is the caution about a ruling coarser than the tolerance; empty where there is none.
func coarse(cautions []string) string {
	for _, c := range cautions {
		if strings.Contains(c, "coarser than the tolerance") {
			return c
		}
	}
	return ""
}

// work is the table of what each ruling takes.
func work(all []*ruled, planters int) proof.Table {
	out := proof.Table{
		Title: "Work by ruling, before and after",
		Notes: []string{
			fmt.Sprintf("The same shop, ways and planters as above, %d of each kind, at the usual tolerance of 1/8 inch where none is named, each for one planter on average. Before: the rule that priced a moved row by what is known before it is read, "+
				"and an unsure row as one that is off; measured once on these planters, with what the service was at commit %s.", planters, beforeCommit),
			"Excepted are rows that are not called even in the end: by hand, not within one ruling of row 1. The ratio is the handles moved over those of the hand method.",
		},
		Columns: []string{"planters", "handles moved by hand, before, now", "readings by hand, before, now", "minutes by hand, before, now", "rows excepted by hand, before, now"},
	}
	for _, r := range all {
		three := func(of func(figures) float64) string {
			was := "not measured"
			if f, ok := before[r.scene.String()]; ok && r.toleranceMm == usualToleranceMm {
				was = proof.Figure(of(f))
			}
			return fmt.Sprintf("%s, %s, **%s**", proof.Figure(of(r.hand)), was, proof.Figure(of(r.now)))
		}
		out.Rows = append(out.Rows, proof.Row{Ratio: r.now.moves / r.hand.moves, Goal: proof.AtMost(1).Because(r.whyMore()), Cells: []string{
			r.short(), three(func(f figures) float64 { return f.moves }), three(func(f figures) float64 { return f.readings }),
			three(func(f figures) float64 { return f.minutes }), three(func(f figures) float64 { return f.excepted }),
		}})
	}
	return out
}

// short names the scene among those of this proof.
func (r *ruled) short() string {
	name := fmt.Sprintf("%s, %s wear, ruled %s", r.kind.title, r.wear.title, r.fixture.title)
	if r.toleranceMm != usualToleranceMm {
		name += ", at ± " + r.fixture.title + ", what by hand counts as equal"
	}
	return name
}

// whyMore says why more handles are moved than by hand, where the ruling is coarser than the tolerance.
func (r *ruled) whyMore() string {
	if r.rulingMm <= r.toleranceMm {
		return ""
	}
	return fmt.Sprintf("By hand, numbers one ruling apart count as equal, and that is twice the tolerance: of the rows called even so %.0f %% lie beyond it, %.1f %% of the service's. Who counts only numbers on the same mark "+
		"as equal moves %.3g handles (%.0f %% of the rows called even beyond the tolerance), and the service %.2f of that.", 100*r.hand.wrong, 100*r.now.wrong, r.strict.moves, 100*r.strict.wrong, r.now.moves/r.strict.moves)
}

// bounds is the table of what was asked at one row.
func bounds(all []*ruled) proof.Table {
	out := proof.Table{
		Title:   "Every job ends",
		Notes:   []string{fmt.Sprintf("The same jobs, one on each planter: each ended by itself with every row even or excepted, and was signed. The ratio is the larger of two: the most moves of one row over %d, and the most readings between two of its moves over %d.", mostMoves, mostReadings)},
		Columns: []string{"ruled", "jobs", "most moves of a row", "most readings of a row between two moves"},
	}
	for i := 0; i < len(all); {
		title, jobs, moved, read := all[i].fixture.title, 0, 0, 0
		for ; i < len(all) && all[i].fixture.title == title; i++ {
			jobs, moved, read = jobs+all[i].planters, max(moved, all[i].moved), max(read, all[i].read)
		}
		out.Rows = append(out.Rows, proof.Row{
			Ratio: max(float64(moved)/mostMoves, float64(read)/mostReadings), Goal: proof.AtMost(1),
			Cells: []string{title, fmt.Sprint(jobs), fmt.Sprint(moved), fmt.Sprint(read)},
		})
	}
	return out
}

// wronglyEven is the table of rows that are called even and are not.
func wronglyEven(all []*ruled) proof.Table {
	out := proof.Table{
		Title: "Rows called even that are not, by ruling",
		Notes: []string{fmt.Sprintf("The same jobs. The ratio is the share, of the rows called even, of those that lie beyond the tolerance from the datum in truth; where the ruling is no coarser than the tolerance it is to be %.2g at most, "+
			"1 less the confidence and a point for chance. A coarser ruling has no such goal: readings that agree teach less there than their number says, and the plan says so in its own words. By hand: beyond the same tolerance from row 1.", wrongGoal)},
		Columns: []string{"planters", "called even, %", "of these wrongly, by hand, %", "what every plan says of it"},
	}
	for _, r := range all {
		goal := proof.AtMost(wrongGoal)
		if r.rulingMm > r.toleranceMm {
			goal = proof.Goal{}
		}
		out.Rows = append(out.Rows, proof.Row{Ratio: r.now.wrong, Goal: goal, Cells: []string{
			r.short(), proof.Figure(100 * r.now.even), proof.Figure(100 * r.hand.wrong), r.word}})
	}
	return out
}

const wrongGoal = 1 - confidence + 0.01
