package draw

import (
	"fmt"

	rowdatumv1 "rowdatum/proto/gen/rowdatum/v1"
)

// trueSpread says how far the true depths are apart, of which nobody knows more.
func (s scale) trueSpread(t *rowdatumv1.TrueSpread) string {
	return fmt.Sprintf("about %s, %s to %s %s at 90 %%", s.both(t.GetMean()), s.short(t.GetFrom()), s.short(t.GetTo()), s.unit())
}

// worth says what the plan is worth for all rows together: beside the spread of the numbers, and beside
// the rows one by one.
func (d *drawing) worth() {
	found, after := d.plan.GetTrueSpreadMm(), d.plan.GetTrueSpreadAfterMm()
	if found == nil || after == nil {
		return // a service that does not say it
	}
	d.wrapped("True spread     ", fmt.Sprintf("%s as found; %s when done", d.scale.trueSpread(found), d.scale.trueSpread(after)))
	rows := 0
	for _, row := range d.rows {
		if row.GetVerdict() != rowdatumv1.Verdict_STUCK {
			rows++
		}
	}
	if rows > 1 {
		d.wrapped("All together    ", fmt.Sprintf("all %d rows within ± %s: %s sure as found, %s sure when done", rows, d.scale.exact(d.toleranceMm),
			percent(d.plan.GetPlanterChance()), percent(d.plan.GetPlanterChanceAfter())))
	}
}

// worth says what the rows as they stand are worth together.
func (d *visit) worth() {
	if t := d.state.GetTrueSpreadMm(); t != nil {
		text := d.s.trueSpread(t) + " now"
		if found := d.state.GetTrueSpreadFoundMm(); found != nil {
			text = d.s.trueSpread(found) + " as found; " + text
		}
		d.wrapped("True spread     ", text)
	}
	rows := 0
	for _, row := range d.state.GetRows() {
		if row.EstimateMm != nil && row.GetVerdict() != rowdatumv1.Verdict_STUCK && row.GetException() == "" {
			rows++
		}
	}
	if d.state.PlanterChance != nil && rows > 1 {
		d.wrapped("All together    ", fmt.Sprintf("all %d rows within ± %s: %s sure now", rows, d.s.exact(d.state.GetToleranceMm()), percent(d.state.GetPlanterChance())))
	}
}
