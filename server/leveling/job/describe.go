package job

import (
	"fmt"
	"strings"

	"rowdatum/server/leveling"
)

// Describe draws the state as text, in English and mm: for stories in tests and for whoever looks into a failing one.
func (s *State) Describe() string { return s.DescribeIn(leveling.Voice{}) }

// DescribeIn draws it with its words in a voice.
func (s *State) DescribeIn(v leveling.Voice) string {
	s = s.said(v)
	var b strings.Builder
	line := func(format string, args ...any) { fmt.Fprintf(&b, format+"\n", args...) }
	line("revision %d, %s, repeatability %.4f mm%s", s.Revision, s.Stage, s.RepeatabilityMm, s.figures())
	for i := range s.Rows {
		r := &s.Rows[i]
		line("row %d %s", r.Row, r.describe())
		if r.Why != "" {
			line("    %v: %s", r.Next, r.Why)
		}
		if r.Move != nil {
			line("    do: %+g, %+.4f mm, to %s", r.Move.Option.Count, r.Move.Option.EffectMm, orUnknown(string(r.Move.Option.SettingAfter)))
		}
		if r.Exception != "" {
			line("    excepted: %s", r.Exception)
		}
	}
	for _, m := range s.Marks {
		line("marks of %s from row %d", m.Mechanism, m.ReferenceRow)
		for _, r := range m.Rows {
			line("    row %d: %+g, off by %+.4f mm, table of %d", r.Row, r.Count, r.ResidualMm, len(r.Table))
		}
	}
	for _, in := range s.Inspections {
		line("inspected row %d %s: worn %v", in.Row, in.Point, in.Worn)
	}
	for _, n := range s.Notes {
		line("note on row %d: %s", n.Row, n.Text)
	}
	for _, w := range s.Warnings {
		line("! %s", w)
	}
	for _, c := range s.Cautions {
		if c.Person != "" {
			line("ticked %s: %s", c.ID, c.Person)
		}
	}
	for _, n := range s.SigningNeeds {
		line("needs: %s", n)
	}
	if s.Signature != nil {
		line("signed by %s", s.Signature.Person)
	}
	if s.VoidReason != "" {
		line("voided: %s", s.VoidReason)
	}
	return b.String()
}

// figures are those of the whole job that there are.
func (s *State) figures() string {
	var out string
	if s.DatumMm != nil {
		out += fmt.Sprintf(", datum %.4f by plan %d", *s.DatumMm, s.PlanRevision)
	}
	if s.SpreadMm != nil {
		out += fmt.Sprintf(", spread %.4f", *s.SpreadMm)
	}
	if s.ProvableToleranceMm != nil {
		out += fmt.Sprintf(", provable %.4f", *s.ProvableToleranceMm)
	}
	return out
}

func (r *RowState) describe() string {
	out := "at " + orUnknown(string(r.Setting))
	if r.LastMove > 0 {
		out += fmt.Sprintf(" since %d", r.LastMove)
	}
	if r.AsFound != nil {
		out += fmt.Sprintf(", found %.4f u %.4f", r.AsFound.Mm, r.AsFound.UncertaintyMm)
	}
	switch e := r.Estimate; {
	case r.Measured:
		out += fmt.Sprintf(", reads %.4f u %.4f of %d", e.DepthMm, e.UncertaintyMm, e.Readings)
	case r.Known:
		out += fmt.Sprintf(", foretold %.4f u %.4f", e.DepthMm, e.UncertaintyMm)
	}
	out += fmt.Sprintf(", scale %.4f sd %.4f", r.Estimate.Scale, r.Estimate.ScaleSd)
	if r.Verdict != 0 {
		out += fmt.Sprintf(", %v %.5f", r.Verdict, r.Chance)
	}
	if r.Even != nil {
		out += fmt.Sprintf(", even from %.4f to %.4f", r.Even.FromMm, r.Even.ToMm)
	}
	if r.SideDifferenceMm != nil {
		out += fmt.Sprintf(", left less right %.4f", *r.SideDifferenceMm)
	}
	if len(r.LeftOut) > 0 {
		out += fmt.Sprintf(", left out %v", r.LeftOut)
	}
	return out
}

func orUnknown(setting string) string {
	if setting == "" {
		return "a setting that nobody knows"
	}
	return setting
}

// String returns the stage's word in the API.
func (s Stage) String() string { return [...]string{"", "OPEN", "SIGNED", "VOIDED"}[s] }
