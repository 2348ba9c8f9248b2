package sheet

import (
	"cmp"
	"fmt"
	"maps"
	"slices"
	"strings"

	"rowdatum/server/leveling"
	"rowdatum/server/leveling/job"
)

// facts are those of the whole job.
func (s *Sheet) facts() []fact {
	p := &s.s.Opened.Planter
	rows := fmt.Sprint(len(p.Rows))
	if p.RowSpacingMm != nil {
		rows = fmt.Sprintf(s.p.rowsApart, len(p.Rows), s.nominal(*p.RowSpacingMm))
	}
	var out []fact
	add := func(label, value string) {
		if value != "" {
			out = append(out, fact{label, value})
		}
	}
	add(s.p.owner, p.Owner)
	add(s.p.workOrder, s.head.WorkOrder)
	add(s.p.job, s.head.Planter+" / "+s.head.Job)
	out = append(out, externalIDs(p.ExternalIDs)...)
	out = append(out, externalIDs(s.head.ExternalIDs)...)
	add(s.p.rows, rows)
	if s.s.Opened.Hectares != nil {
		area := s.s.Opened.AreaIn(s.voice.AreaUnit)
		add(s.p.planted, minus(leveling.Figure(area))+" "+s.voice.AreaUnit.Symbol())
	}
	add(s.p.mechanisms, s.mechanisms())
	add(s.p.fixture, s.fixture())
	add(s.p.datum, s.datum())
	add(s.p.spread, s.spread())
	out = append(out, s.tally()...)
	add(s.p.opened, s.time(s.s.CreateTime))
	if x := s.s.Signature; x != nil {
		add(s.p.signed, fmt.Sprintf(s.p.signedBy, x.Person, s.time(x.SignTime)))
	} else {
		add(s.p.signed, s.p.notSigned)
	}
	return out
}

func externalIDs(ids map[string]string) []fact {
	var out []fact
	for _, key := range slices.Sorted(maps.Keys(ids)) {
		out = append(out, fact{key, ids[key]})
	}
	return out
}

func (s *Sheet) mechanisms() string {
	var out []string
	for _, m := range s.s.Opened.Planter.Mechanisms {
		var rows []int
		for i := range s.s.Rows {
			if s.s.Rows[i].Mechanism == m.ID {
				rows = append(rows, s.s.Rows[i].Row)
			}
		}
		if len(rows) > 0 {
			out = append(out, s.titleOf(m.ID)+": "+runs(rows))
		}
	}
	return strings.Join(out, "; ")
}

func (s *Sheet) titleOf(mechanism string) string { return cmp.Or(s.style(mechanism).Title, mechanism) }

// fixture is the fixture and what is known of its uncertainty.
func (s *Sheet) fixture() string {
	x := &s.s.Opened.Fixture
	kind := map[leveling.FixtureKind]string{leveling.Window: s.p.window, leveling.Blocks: s.p.blocks, leveling.PointerPlate: s.p.pointerPlate}[x.Kind]
	out := []string{kind}
	if x.DisplayName != "" {
		out = []string{x.DisplayName, kind}
	}
	if x.Figures.ResolutionMm > 0 {
		out = append(out, fmt.Sprintf(s.p.ruled, s.nominal(x.Figures.ResolutionMm)))
	}
	out = append(out, fmt.Sprintf(s.p.repeats, s.fine(x.Figures.RepeatabilityMm)), fmt.Sprintf(s.p.repeated, s.fine(s.s.RepeatabilityMm)))
	if x.Figures.FloorMm > 0 {
		out = append(out, fmt.Sprintf(s.p.floor, s.fine(x.Figures.FloorMm)))
	}
	return strings.Join(out, ", ")
}

func (s *Sheet) datum() string {
	if s.s.DatumMm == nil {
		return s.p.noDatum
	}
	return fmt.Sprintf(s.p.datumBand, s.both(*s.s.DatumMm), s.nominal(s.s.Aim.ToleranceMm))
}

// spread is that of the rows as found and as left.
func (s *Sheet) spread() string {
	var found []float64
	for i := range s.s.Rows {
		if d := s.s.Rows[i].AsFound; d != nil {
			found = append(found, d.Mm)
		}
	}
	if len(found) < 2 && s.s.SpreadMm == nil {
		return ""
	}
	from, to := nothing, nothing
	if len(found) > 1 {
		from = s.truly(s.both(slices.Max(found)-slices.Min(found)), s.s.Found)
	}
	if s.s.SpreadMm != nil {
		to = s.truly(s.both(*s.s.SpreadMm), s.s.Now)
	}
	return fmt.Sprintf(s.p.spreadChange, from, to)
}

// truly puts what is known of how far the true depths are apart beside the spread of the numbers.
func (s *Sheet) truly(spread string, w *job.Worth) string {
	if w == nil {
		return spread
	}
	x := w.TrueSpread
	return fmt.Sprintf(s.p.trueSpread, spread, unbroken(s.bare(x.FromMm)), unbroken(s.voice.Length(x.ToMm)))
}

// tally counts the rows by what became of them.
func (s *Sheet) tally() []fact {
	even, excepted, estimated, together := 0, 0, 0, 0
	for i := range s.s.Rows {
		r := &s.s.Rows[i]
		if r.Verdict == leveling.Even {
			even++
		}
		if r.Exception != "" {
			excepted++
		}
		if r.Known && !r.Measured {
			estimated++
		}
		if r.Known && r.Verdict != leveling.Stuck && r.Exception == "" {
			together++
		}
	}
	of := func(n int) string { return fmt.Sprintf(s.p.someOf, n, len(s.s.Rows)) }
	proven := of(even)
	if w := s.s.Now; w != nil && w.Chance != nil && together > 1 {
		proven = fmt.Sprintf(s.p.allWithin, proven, together, chance(*w.Chance))
	}
	out := []fact{{s.p.provenEven, proven}}
	if excepted > 0 {
		out = append(out, fact{s.p.excepted, of(excepted)})
	}
	if estimated > 0 {
		out = append(out, fact{s.p.estimated, of(estimated)})
	}
	return out
}
