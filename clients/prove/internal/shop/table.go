package shop

import (
	"context"
	"fmt"

	"rowdatum/clients/prove/internal/proof"
	rowdatumv1 "rowdatum/proto/gen/rowdatum/v1"
)

// tables tries the main scenes, then the others, and writes down what came out.
func (t *trial) tables(ctx context.Context) ([]proof.Table, error) {
	var main, others []*compared
	for _, w := range t.wears {
		for _, k := range []kind{threads(), notches()} {
			c, err := t.compare(ctx, scene{kind: k, fixture: sixteenth(), wear: w, rows: 24, planters: t.planters})
			if err != nil {
				return nil, err
			}
			main = append(main, c)
		}
	}
	for _, s := range t.variants {
		c, err := t.verify(ctx, s)
		if err != nil {
			return nil, err
		}
		others = append(others, c)
	}
	misread, err := t.misread(ctx)
	if err != nil {
		return nil, err
	}
	out := []proof.Table{goals(main, t.planters), byTolerance(main), misread}
	if len(others) > 0 {
		out = append(out, onOthers(others))
	}
	return out, nil
}

// goals is the table of what was asked for.
func goals(all []*compared, planters int) proof.Table {
	out := proof.Table{
		Title: "Less work at equal spread",
		Notes: []string{
			fmt.Sprintf("%d planters of 24 rows whose truth is known come into a simulated shop, each leveled in every way, with the same rows and the same luck. %s", planters, truth()),
			"By hand: every row is read once; row 1 is the baseline; equal within one ruling counts as equal; every other row is moved by nominal counts, the smallest that it has, and read again, " +
				"up to four times, until it is equal or as near as its steps go. By the service: whatever it says is next at each row is done, through its API, until the job is signed. Whoever works " +
				"finishes each move in the direction that loads the thread, and reads a number half an inch off what is expected once more. " +
				"The oracle is the service's plan of the true depths and scales with the guard band of one reading a row, done once.",
			"Equal spread: the service's tolerance is the one with which 95 % of the planters keep within the true spread that they keep within by hand (between two tolerances that were tried, in " +
				"proportion). The ratio is the service over what it is compared with. Of rows wrongly called even it is their share of the rows called even, the worst of all tolerances. " +
				"The service has every moved row read again, but for `WHEN_NEEDED`.",
		},
		Columns: []string{"what", "mechanism", "wear", "spread kept by 95 %, mm", "service", "compared with"},
	}
	for _, c := range all {
		out.Rows = append(out.Rows, c.goals()...)
	}
	return out
}

// truth tells what the planters are like.
func truth() string {
	u, n := usual(), neglect()
	return fmt.Sprintf("Threaded handles are turned by quarters, 6.35 mm a turn; notched stops give 6 mm a notch. Rows differ by %g mm (standard deviation) and are worn by %g mm in the middle and %g mm at the edges on average (neglected planters: %g, %g and %g mm). "+
		"A mechanism gives more or less than its nominal travel by %g %% (standard deviation), half of the threaded handles stand slack by %g mm, and a move seats within %g mm. "+
		"A reading scatters by %g mm before the tape, ruled in 1/16 inch, rounds it, and %g in 100 is misread, by an inch or with two digits transposed. These figures are ours; there is no source for them.",
		u.rowsSd, u.middle, u.middle+u.edges, n.rowsSd, n.middle, n.middle+n.edges, 100*scaleSd, threads().lostMm, seatingSd, sixteenth().scatterMm, 100*misreadOdds)
}

// goals are the rows of one scene.
func (c *compared) goals() []proof.Row {
	row := func(what string, service, with float64, goal proof.Goal) proof.Row {
		return proof.Row{Ratio: service / with, Goal: goal, Cells: []string{
			what, c.kind.title, c.wear.title, proof.Figure(c.hand.p95), proof.Figure(service), proof.Figure(with)}}
	}
	verified, needed, oracle := c.verified.at(c.hand.p95), c.needed.at(c.hand.p95), c.oracle.at(c.hand.p95)
	touches, hand := c.touches(), c.hand
	wrong := max(c.verified.worst(), c.needed.worst())
	even := row("rows wrongly called even, by hand beside it", wrong, hand.wrong, proof.AtMost(1-confidence))
	even.Ratio = wrong
	return []proof.Row{
		row("handles moved, of the hand method's", verified.moves, hand.moves, touches),
		row("handles moved, `WHEN_NEEDED`, of the hand method's", needed.moves, hand.moves, touches),
		row("rows touched, of the hand method's", verified.touched, hand.touched, touches.Because(fmt.Sprintf(
			"A row that by hand is moved to and fro counts once here. The oracle touches %.3g rows at this spread, %.2f of the hand method's: the rest is what lies too far apart to be left.", oracle.touched, oracle.touched/hand.touched))),
		row("readings, of the hand method's", verified.readings, hand.readings, proof.AtMost(1)),
		row("readings, `WHEN_NEEDED`, of the hand method's", needed.readings, hand.readings, proof.AtMost(0.75)),
		row("minutes, of the hand method's", verified.minutes, hand.minutes, proof.Goal{}),
		even,
		row("rows touched, of the oracle's with the same guard band", verified.touched, c.oracle.with(verified.toleranceMm).touched, proof.AtMost(1.15).Because(
			"The oracle reads nothing: a row that one reading does not prove, and a few more are expected to, it leaves and counts as even. The service reads it, and has to move some of these rows.")),
		row("rows touched, of the oracle's at equal spread", verified.touched, oracle.touched, proof.Goal{}),
	}
}

// touches is the goal of handles touched.
func (c *compared) touches() proof.Goal {
	if c.style == notches().style {
		return proof.AtMost(0.40)
	}
	return proof.AtMost(0.85)
}

// byTolerance is the curve behind the goals: the first wear in numbers, all in pictures.
func byTolerance(all []*compared) proof.Table {
	out := proof.Table{
		Title: "Work and spread by tolerance",
		Notes: []string{fmt.Sprintf("The same run, for one planter on average. The ratio is the handles moved over those of the hand method. Minutes: what the style says that a touch takes, "+
			"a reading included, and %d seconds for each reading beside it. Rows wrongly called even are beyond the tolerance from the datum in truth; those of the hand method, beyond 1/8 inch from its baseline.", readSeconds)},
		Columns: []string{"way", "mechanism", "tolerance, mm", "readings", "handles moved", "rows touched", "minutes", "spread, median, mm", "spread kept by 95 %, mm", "called even, %", "of these wrongly, %"},
	}
	for _, c := range all {
		out.Pictures = append(out.Pictures, c.picture())
		if c.wear.title != all[0].wear.title {
			continue
		}
		out.Rows = append(out.Rows, c.line("by hand", "", c.hand))
		for _, w := range c.ways() {
			for _, p := range w.curve {
				out.Rows = append(out.Rows, c.line(w.name, proof.Figure(p.toleranceMm), p.figures))
			}
		}
	}
	return out
}

func (c *compared) line(way, tolerance string, f figures) proof.Row {
	return proof.Row{Ratio: f.moves / c.hand.moves, Cells: []string{
		way, c.kind.title, tolerance, proof.Figure(f.readings), proof.Figure(f.moves), proof.Figure(f.touched), proof.Figure(f.minutes),
		proof.Figure(f.median), proof.Figure(f.p95), proof.Figure(100 * f.even), proof.Figure(100 * f.wrong)}}
}

// onOthers is the table of planters, fixtures and wear that no goal is about.
func onOthers(all []*compared) proof.Table {
	out := proof.Table{
		Title:   "The same on other planters and with other fixtures",
		Notes:   []string{"At equal spread as above, on fewer planters. Even wear: rows differ by 2.5 mm, and the edges no more than the middle. The ratio is the handles moved over those of the hand method."},
		Columns: []string{"planters", "spread kept by 95 %, mm", "readings by hand", "readings", "moved by hand", "moved", "wrongly called even, worst, %"},
	}
	for _, c := range all {
		equal := c.verified.at(c.hand.p95)
		out.Rows = append(out.Rows, proof.Row{Ratio: equal.moves / c.hand.moves, Cells: []string{
			c.String(), proof.Figure(c.hand.p95), proof.Figure(c.hand.readings), proof.Figure(equal.readings), proof.Figure(c.hand.moves), proof.Figure(equal.moves), proof.Figure(100 * c.verified.worst())}})
	}
	return out
}

// misread is the table of what becomes of misread numbers where nobody doubts them but the service.
func (t *trial) misread(ctx context.Context) (proof.Table, error) {
	out := proof.Table{
		Title: "When a misread number is believed",
		Notes: []string{"Neglected planters, whose rows lie so far apart that a number an inch off does not stand out, at the usual tolerance of 1/8 inch. Doubted: whoever works reads a number half an inch " +
			"off what is expected once more. Believed: nobody does, unless the service asks for it. The ratio is the spread that 95 % keep within over that of the hand method with doubt."},
		Columns: []string{"way", "a number hard to believe is", "readings", "handles moved", "spread, median, mm", "spread kept by 95 %, mm", "worst spread, mm", "wrongly called even, %"},
	}
	s := scene{kind: threads(), fixture: sixteenth(), wear: neglect(), rows: 24, planters: t.planters}
	var doubted float64
	for _, s.trusting = range []bool{false, true} {
		for _, w := range []struct {
			name string
			by   func() (figures, error)
		}{
			{"by hand", func() (figures, error) { return s.byHand(ctx, usualToleranceMm) }},
			{verifiedName, func() (figures, error) {
				return t.one(ctx, s, settings{usualToleranceMm, rowdatumv1.Job_MOVED}, byService)
			}},
			{neededName, func() (figures, error) {
				return t.one(ctx, s, settings{usualToleranceMm, rowdatumv1.Job_WHEN_NEEDED}, byService)
			}},
		} {
			f, err := w.by()
			if err != nil {
				return proof.Table{}, err
			}
			if doubted == 0 {
				doubted = f.p95
			}
			out.Rows = append(out.Rows, proof.Row{Ratio: f.p95 / doubted, Cells: []string{
				w.name, s.belief(), proof.Figure(f.readings), proof.Figure(f.moves), proof.Figure(f.median), proof.Figure(f.p95), proof.Figure(f.most), proof.Figure(100 * f.wrong)}})
		}
	}
	t.say("leveled with misread numbers doubted and believed")
	return out, nil
}

func (s scene) belief() string {
	if s.trusting {
		return "believed"
	}
	return "doubted"
}

// named is a way of working with its curve.
type named struct {
	name string
	curve
}

const (
	verifiedName = "service"
	neededName   = "service, WHEN_NEEDED"
)

func (c *compared) ways() []named {
	return []named{{verifiedName, c.verified}, {neededName, c.needed}, {"oracle", c.oracle}}
}

// picture draws handles moved against spread.
func (c *compared) picture() proof.Picture {
	out := proof.Picture{
		File:  fmt.Sprintf("shop-%s-%s.svg", c.style, c.wear.title),
		Title: "24 rows, " + c.kind.title + ", " + c.wear.title + " wear",
		X:     "true spread kept by 95 % of planters, mm", Y: "handles moved on one planter",
		Lines: []proof.Line{{Name: "by hand", Points: []proof.Point{{X: c.hand.p95, Y: c.hand.moves}}}},
	}
	for _, w := range c.ways() {
		line := proof.Line{Name: w.name}
		for _, p := range w.curve {
			line.Points = append(line.Points, proof.Point{X: p.p95, Y: p.moves})
		}
		out.Lines = append(out.Lines, line)
	}
	return out
}
