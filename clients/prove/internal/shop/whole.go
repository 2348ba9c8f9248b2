package shop

import (
	"context"
	"fmt"
	"math"

	"rowdatum/clients/prove/internal/proof"
	rowdatumv1 "rowdatum/proto/gen/rowdatum/v1"
)

// Whole levels planters by the service and says whether what it says of all rows together comes true.
func Whole(ctx context.Context, setting proof.Setting) ([]proof.Table, error) {
	t, end, err := begin(ctx, setting)
	if err != nil {
		return nil, err
	}
	defer end()
	planters := 1000
	if setting.Quick {
		planters = 24
	}
	spreads, chances := spreadTable(planters), chanceTable(planters)
	for _, w := range []wear{alike(), usual(), neglect()} {
		for _, rows := range []int{6, 12, 24} {
			s := scene{kind: threads(), fixture: sixteenth(), wear: w, rows: rows, planters: planters}
			all, err := t.signed(ctx, s, usualToleranceMm)
			if err != nil {
				return nil, err
			}
			t.say("%s: leveled", s)
			for _, when := range []struct {
				name string
				of   func(worked) (promise, came)
			}{
				{"as found", func(w worked) (promise, came) { return w.told.found, w.found }},
				{"as left", func(w worked) (promise, came) { return w.told.left, w.left }},
			} {
				spread, chance := kept(fmt.Sprintf("%d rows, %s wear, %s", rows, w.title, when.name), all, when.of)
				spreads.Rows, chances.Rows = append(spreads.Rows, spread), append(chances.Rows, chance)
			}
		}
	}
	return []proof.Table{spreads, chances}, nil
}

// signed has the planters of a scene leveled by the service at a tolerance.
func (t *trial) signed(ctx context.Context, s scene, toleranceMm float64) ([]worked, error) {
	return s.each(ctx, toleranceMm, func(ctx context.Context, p *planter) (finished, error) {
		return byService(ctx, t.client, p, settings{toleranceMm, rowdatumv1.Job_MOVED})
	})
}

func spreadTable(planters int) proof.Table {
	return proof.Table{
		Title: "What is said of the true spread comes true",
		Notes: []string{
			fmt.Sprintf("%d planters of each kind come into the shop above, with threaded handles and a tape ruled in 1/16 inch, and are leveled and signed at the usual tolerance. Level planters' rows differ by %g mm (standard deviation). "+
				"The signed job says how far the true depths of all rows are apart, with an interval that is to hold 90 %%: as they were found, by all that was read since, and as they are left.", planters, alike().rowsSd),
			"The ratio is the share of planters whose true spread lay inside.",
		},
		Columns: []string{"planters", "said, mean, mm", "true, mean, mm"},
	}
}

func chanceTable(planters int) proof.Table {
	return proof.Table{
		Title: "What is said of all rows at once comes true",
		Notes: []string{fmt.Sprintf("The same jobs. The signed job says how likely it is that all rows, excepted ones aside, lie within tolerance of the datum at once. The ratio is by how much what is said, on average, differs from the share of planters "+
			"of which it is true; of so few planters that share is itself uncertain by up to %.2g.", 0.5/math.Sqrt(float64(planters)))},
		Columns: []string{"planters", "said", "seen"},
	}
}

// kept is how well a promise was kept, of the true spread and of all rows at once.
func kept(name string, all []worked, of func(worked) (promise, came)) (spread, chance proof.Row) {
	var inside, within, said, meant, apart float64
	for _, w := range all {
		p, c := of(w)
		said += p.chance
		meant += p.spreadMm.GetMean()
		apart += c.spreadMm
		if c.inside {
			inside++
		}
		if c.within {
			within++
		}
	}
	n := float64(len(all))
	spread = proof.Row{Ratio: inside / n, Goal: proof.Between(0.85, 0.97), Cells: []string{name, proof.Figure(meant / n), proof.Figure(apart / n)}}
	chance = proof.Row{Ratio: math.Abs(said-within) / n, Goal: proof.AtMost(0.04), Cells: []string{name, fmt.Sprintf("%.3f", said/n), fmt.Sprintf("%.3f", within/n)}}
	return spread, chance
}
