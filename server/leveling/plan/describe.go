package plan

import (
	"fmt"
	"math"
	"strings"

	"rowdatum/server/leveling"
	"rowdatum/server/leveling/worth"
)

// Describe draws the plan as text: for stories in tests and for whoever looks into a failing one.
func (p Plan) Describe() string {
	var b strings.Builder
	line := func(format string, args ...any) { fmt.Fprintf(&b, format+"\n", args...) }
	sure := leveling.Figure(p.Aim.Confidence)
	if p.Aim.ConfidenceOf == leveling.OfPlanter {
		sure += " of the planter"
	}
	line("%v: datum %.4f mm, tolerance %s mm at %s", p.Aim.Kind, p.DatumMm, leveling.Figure(p.Aim.ToleranceMm), sure)
	line("spread %.4f -> %.4f mm, touch %d, read again %d, work %s s, provable %.4f mm",
		p.SpreadBeforeMm, p.SpreadAfterMm, p.TouchedRows, p.RereadRows, leveling.Figure(p.WorkSeconds), p.ProvableToleranceMm)
	if p.PlanterChance > 0 || p.TrueSpreadMm != (worth.Spread{}) { // Solve alone leaves it out
		line("all rows within tolerance %.3f -> %.3f, true spread %s -> %s",
			p.PlanterChance, p.PlanterChanceAfter, spreadText(p.TrueSpreadMm), spreadText(p.TrueSpreadAfterMm))
	}
	half := p.pictureHalfMm()
	for _, r := range p.Rows {
		line("row %3d %s %s", r.Row, p.picture(r, half), r.figures())
	}
	for _, r := range p.Rows {
		if r.Why != "" {
			line("row %d %s", r.Row, r.Why)
		}
	}
	for _, t := range p.Tradeoff {
		line("touch %d: spread %.4f mm", t.TouchedRows, t.SpreadMm)
	}
	for _, m := range p.Marks {
		line("marks of %s from row %d", m.Mechanism, m.ReferenceRow)
		for _, r := range m.Rows {
			line("  row %d %s", r.Row, r.describe())
		}
	}
	for _, c := range p.Cautions {
		line("! %s", c)
	}
	return b.String()
}

func spreadText(s worth.Spread) string {
	return fmt.Sprintf("%.2f (%.2f to %.2f) mm", s.MeanMm, s.FromMm, s.ToMm)
}

func (r RowPlan) figures() string {
	found := fmt.Sprintf("%8.4f u %.4f %-6v %.5f", r.EstimateMm, r.UncertaintyMm, r.Verdict, r.Chance)
	switch {
	case r.Part == NoReach:
		return found
	case r.Option.Leave:
		found += " leave"
	default:
		found += fmt.Sprintf(" move %+.4f mm, count %+g %s", r.Option.EffectMm, r.Option.Count, r.Option.SettingAfter)
	}
	found += fmt.Sprintf(" -> %.4f %.5f", r.PredictedMm, r.PredictedChance)
	if r.Part == Reread {
		found += fmt.Sprintf(" read %d more", r.ReadingsToSettle)
	}
	return found
}

func (m RowMark) describe() string {
	if m.Table == nil {
		return fmt.Sprintf("%+g, off by %+.4f mm", m.Count, m.ResidualMm)
	}
	lines := make([]string, len(m.Table))
	for i, t := range m.Table {
		lines[i] = fmt.Sprintf("%.4f %s", t.DepthMm, t.Setting)
	}
	return fmt.Sprintf("by table, off by %+.4f mm: %s", m.ResidualMm, strings.Join(lines, ", "))
}

// pictureHalfMm is half of the depth that a row's picture covers: all rows and the tolerance.
func (p Plan) pictureHalfMm() float64 {
	half := p.Aim.ToleranceMm
	for _, r := range p.Rows {
		half = max(half, math.Abs(r.EstimateMm-p.DatumMm))
		if r.Part != NoReach {
			half = max(half, math.Abs(r.PredictedMm-p.DatumMm))
		}
	}
	return half
}

// picture draws a row from shallow to deep: the tolerance in brackets about the datum, o where the row
// was found, x where it will be.
func (p Plan) picture(r RowPlan, halfMm float64) string {
	const side = 16
	strip := []byte(strings.Repeat(".", 2*side+1))
	put := func(mark byte, awayMm float64) { strip[side+int(math.Round(awayMm/halfMm*side))] = mark }
	put('|', 0)
	put('[', -p.Aim.ToleranceMm)
	put(']', p.Aim.ToleranceMm)
	put('o', r.EstimateMm-p.DatumMm)
	if r.Part != NoReach && !r.Option.Leave {
		put('x', r.PredictedMm-p.DatumMm)
	}
	return string(strip)
}
