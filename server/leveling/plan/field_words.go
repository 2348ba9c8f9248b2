package plan

import (
	"fmt"
	"math"
	"strings"
)

func (f *fielder) fieldCautions(out *FieldMove) {
	p := catalogue.In(f.Voice.Language)
	var short, trimmed, unknown []int
	for i, r := range out.Rows {
		switch {
		case r.Trimmed:
			trimmed = append(trimmed, r.Row)
		case r.OutOfTravel:
			short = append(short, r.Row)
		}
		if !r.Trimmed && f.rows[i].Setting == "" {
			unknown = append(unknown, r.Row)
		}
	}
	say := func(what string) { out.Cautions = append(out.Cautions, what) }
	about := func(rows []int, what string) {
		if len(rows) > 0 {
			say(fmt.Sprintf(p.about, f.Voice.RowList(rows), what))
		}
	}
	about(short, p.outOfTravel)
	about(trimmed, p.trimmed)
	about(unknown, p.unknown)
	if len(f.groups) == 0 {
		say(p.noneMoves)
		return
	}
	if !out.Reached {
		say(fmt.Sprintf(p.notReached, f.Voice.Fine(math.Abs(out.MeanMm-out.TargetMm))))
	}
	if !out.Exact {
		say(p.notAll)
	}
	say(p.estimated)
}

// Describe draws the field move as text.
func (m FieldMove) Describe() string {
	var b strings.Builder
	line := func(format string, args ...any) { fmt.Fprintf(&b, format+"\n", args...) }
	line("by %+.4f mm to %.4f mm: mean %.4f (%+.4f), spread %.4f -> %.4f mm, coarsest step %.4f mm, reached %v",
		m.DeltaMm, m.TargetMm, m.MeanMm, m.MeanChangeMm, m.SpreadBeforeMm, m.SpreadAfterMm, m.CoarsestStepMm, m.Reached)
	for _, g := range m.Groups {
		line("%s: %+g %s on rows %v", g.Mechanism, g.Count, g.Unit.For(g.Count), g.Rows)
	}
	for _, r := range m.Rows {
		how := fmt.Sprintf("count %+g %s", r.Option.Count, r.Option.SettingAfter)
		switch {
		case r.Trimmed:
			how = "only trimmed"
		case r.OutOfTravel:
			how += " out of travel"
		}
		line("row %3d %+9.4f -> %9.4f u %.4f %s", r.Row, r.ChangeMm, r.DepthMm, r.UncertaintyMm, how)
	}
	for _, c := range m.Cautions {
		line("! %s", c)
	}
	return b.String()
}
