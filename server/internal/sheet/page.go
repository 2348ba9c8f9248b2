package sheet

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	"rowdatum/server/leveling"
	"rowdatum/server/leveling/job"
	"rowdatum/server/leveling/plan"
)

// kind is what a block is.
type kind string

// The kinds of blocks.
const (
	stamp   kind = "stamp"   // Head and Text
	heading kind = "heading" // Head
	prose   kind = "prose"   // Text
	small   kind = "small"   // Text, in small letters
	facts   kind = "facts"   // Facts
	listing kind = "listing" // Items
	table   kind = "table"   // Head, may be empty, and Table
	cells   kind = "cells"   // Cells
	picture kind = "picture" // Picture, Text says what it shows
	code    kind = "code"    // Text
)

// block is a piece of the page, whatever it is set in.
type block struct {
	Kind       kind
	Head, Text string
	Facts      []fact
	Items      []string
	Table      grid
	Cells      []cell
	Picture    drawing
}

type fact struct{ Label, Value string }

type grid struct {
	Columns []column
	Rows    [][]string
}

type column struct {
	Title string
	Right bool
}

// cell is one mark.
type cell struct {
	Head, Big, Small string
	Strong           bool
}

// page is the sheet from top to bottom.
func (s *Sheet) page() []block {
	var out []block
	add := func(blocks ...block) { out = append(out, blocks...) }
	switch s.s.Stage {
	case job.StageOpen:
		add(block{Kind: stamp, Head: s.p.draft, Text: s.p.draftMeans})
	case job.StageVoided:
		add(block{Kind: stamp, Head: s.p.void, Text: fmt.Sprintf(s.p.voidMeans, s.s.VoidReason)})
	}
	add(block{Kind: facts, Facts: s.facts()})
	add(block{Kind: heading, Head: s.p.picture}, block{Kind: picture, Picture: s.picture(), Text: s.p.pictureSays})
	add(block{Kind: heading, Head: s.p.rowByRow}, block{Kind: table, Table: s.rowByRow()})
	add(s.meaning()...)
	add(under(s.p.exceptions, s.exceptions())...)
	add(s.marks()...)
	add(s.inspections()...)
	add(under(s.p.parts, s.parts())...)
	add(under(s.p.notes, s.notes())...)
	add(under(s.p.toMind, s.s.Warnings)...)
	add(s.cautions()...)
	add(s.whoDid()...)
	add(under(s.p.signingNeeds, s.s.SigningNeeds)...)
	add(s.hash()...)
	return out
}

// under is a list under its heading, nothing where it has no items.
func under(head string, items []string) []block {
	if len(items) == 0 {
		return nil
	}
	return []block{{Kind: heading, Head: head}, {Kind: listing, Items: items}}
}

// planter is the heading of the sheet: whose planter it is.
func (s *Sheet) planter() string { return s.s.Opened.Planter.DisplayName }

// running is the line that stands on every page.
func (s *Sheet) running() string {
	out := s.p.title
	switch s.s.Stage {
	case job.StageOpen:
		out = s.p.draft + " · " + out
	case job.StageVoided:
		out = s.p.void + " · " + out
	}
	if s.s.Signature != nil {
		out += " · " + s.s.Signature.ContentHash[:min(16, len(s.s.Signature.ContentHash))]
	}
	return out
}

func (s *Sheet) rowByRow() grid {
	out := grid{Columns: []column{
		{Title: s.p.row, Right: true}, {Title: s.units(s.p.asFound), Right: true}, {Title: s.units(s.p.asLeft), Right: true},
		{Title: s.p.how}, {Title: s.units(s.p.fromDatum), Right: true}, {Title: s.p.verdict},
		{Title: s.p.sure, Right: true}, {Title: s.p.moved},
	}}
	for i := range s.s.Rows {
		out.Rows = append(out.Rows, s.rowLine(&s.s.Rows[i]))
	}
	return out
}

func (s *Sheet) rowLine(r *job.RowState) []string {
	found, left, how, away, sure := s.p.notRead, nothing, s.p.notRead, nothing, nothing
	if r.AsFound != nil {
		found = s.depth(r.AsFound.Mm, r.AsFound.UncertaintyMm)
	} else if r.Moved || r.Known {
		found = s.p.foundUnknown
	}
	if r.Known {
		left, how = s.depth(r.Estimate.DepthMm, r.Estimate.UncertaintyMm), s.p.foretold
	}
	if r.Measured {
		how = s.p.measured
	}
	if r.FromDatumMm != nil {
		away = s.away(*r.FromDatumMm)
	}
	verdict := s.verdict(r.Verdict)
	if r.Verdict != 0 {
		sure = chance(r.Chance)
	}
	if r.Exception != "" {
		verdict += " *"
	}
	return []string{fmt.Sprint(r.Row), found, left, how, away, verdict, sure, s.moved(r)}
}

// meaning says what the words and figures of the rows mean, of those that occur.
func (s *Sheet) meaning() []block {
	sure := tenthless(100*s.s.Aim.Confidence) + " %"
	said := []string{s.p.uncertaintyMeans}
	seen := map[leveling.Verdict]bool{}
	estimated := false
	for i := range s.s.Rows {
		seen[s.s.Rows[i].Verdict] = true
		estimated = estimated || s.s.Rows[i].Known && !s.s.Rows[i].Measured
	}
	for _, v := range []struct {
		seen bool
		says string
	}{
		{seen[leveling.Even], fmt.Sprintf(s.p.evenMeans, s.nominal(s.s.Aim.ToleranceMm), sure)},
		{seen[leveling.Off], fmt.Sprintf(s.p.offMeans, sure)},
		{seen[leveling.Unsure], s.p.unsureMeans},
		{seen[leveling.Stuck], s.p.stuckMeans},
		{estimated, s.p.estimateMeans},
	} {
		if v.seen {
			said = append(said, v.says)
		}
	}
	return []block{{Kind: heading, Head: s.p.meaning}, {Kind: small, Text: strings.Join(append(said, s.p.depthMeans), " ")}}
}

// exceptions are the reasons that rows were signed with, each with its rows.
func (s *Sheet) exceptions() []string {
	var reasons []string
	rows := map[string][]int{}
	for i := range s.s.Rows {
		r := &s.s.Rows[i]
		if r.Exception == "" {
			continue
		}
		if rows[r.Exception] == nil {
			reasons = append(reasons, r.Exception)
		}
		rows[r.Exception] = append(rows[r.Exception], r.Row)
	}
	for i, reason := range reasons {
		reasons[i] = fmt.Sprintf(s.p.aboutRow, s.rowList(rows[reason]), reason)
	}
	return reasons
}

func (s *Sheet) marks() []block {
	if len(s.s.Marks) == 0 {
		return nil
	}
	out := []block{{Kind: heading, Head: s.p.marks}}
	marked := map[int]bool{}
	for _, m := range s.s.Marks {
		out = append(out, s.group(m)...)
		for _, r := range m.Rows {
			marked[r.Row] = true
		}
	}
	var rest []int
	for i := range s.s.Rows {
		if !marked[s.s.Rows[i].Row] {
			rest = append(rest, s.s.Rows[i].Row)
		}
	}
	use := s.p.marksUse
	if len(rest) > 0 {
		use = fmt.Sprintf(s.p.unmarked, runs(rest)) + " " + use
	}
	return append(out, block{Kind: small, Text: use})
}

// group is the marks of one mechanism.
func (s *Sheet) group(m plan.MechanismMarks) []block {
	style := s.style(m.Mechanism)
	says := fmt.Sprintf(s.p.countedFrom, s.titleOf(m.Mechanism), style.CountUnit.Other, m.ReferenceRow)
	if r := s.s.Row(m.ReferenceRow); r != nil && r.Setting != "" {
		says = fmt.Sprintf(s.p.standsAt, s.titleOf(m.Mechanism), style.CountUnit.Other, m.ReferenceRow, s.setting(style, r.Setting))
	}
	out := []block{{Kind: prose, Text: says}}
	marks := block{Kind: cells}
	var uneven []plan.RowMark
	for _, r := range m.Rows {
		if len(r.Table) > 0 {
			uneven = append(uneven, r)
			continue
		}
		marks.Cells = append(marks.Cells, cell{Head: fmt.Sprintf(s.p.oneRow, r.Row), Big: signed(leveling.Figure(r.Count)),
			Small: s.leftOver(r.ResidualMm), Strong: r.Row == m.ReferenceRow})
	}
	if len(marks.Cells) > 0 {
		out = append(out, marks)
	}
	const across = 6
	for rows := range slices.Chunk(uneven, across) {
		out = append(out, s.markTable(rows, style))
	}
	return out
}

// markTable is the tables of rows side by side: all are for the same depths of the reference row.
func (s *Sheet) markTable(rows []plan.RowMark, style leveling.Style) block {
	out := grid{Columns: []column{{Title: s.p.referenceDepth}}}
	for _, t := range rows[0].Table {
		out.Rows = append(out.Rows, []string{s.both(t.DepthMm)})
	}
	for _, r := range rows {
		out.Columns = append(out.Columns, column{Title: fmt.Sprintf(s.p.oneRow, r.Row)})
		for i, t := range r.Table {
			if i < len(out.Rows) {
				out.Rows[i] = append(out.Rows[i], s.setting(style, t.Setting))
			}
		}
	}
	return block{Kind: table, Head: s.p.marksTable, Table: out}
}

func (s *Sheet) inspections() []block {
	if len(s.s.Inspections) == 0 {
		return nil
	}
	out := grid{Columns: []column{{Title: s.p.row, Right: true}, {Title: s.p.point}, {Title: s.p.value}, {Title: s.p.limit},
		{Title: s.p.finding}, {Title: s.p.comment}}}
	for _, in := range s.s.Inspections {
		p := s.inspectionPoint(in.Row, in.Point)
		value, limit, finding := s.p.byEye, nothing, s.p.good
		if in.Value != nil {
			value = s.inspected(*in.Value, p)
		}
		if p.Limit != nil {
			limit = s.limit(p)
		}
		if in.Worn {
			finding = s.p.worn
		}
		out.Rows = append(out.Rows, []string{fmt.Sprint(in.Row), p.Title, value, limit, finding, in.Comment})
	}
	return append([]block{{Kind: heading, Head: s.p.inspections}, {Kind: table, Table: out}}, s.toOrder()...)
}

// toOrder lists the parts that were found worn and were not changed in the job, with their rows.
func (s *Sheet) toOrder() []block {
	rows := map[string][]int{}
	var titles []string
	for _, in := range s.s.Inspections {
		title := s.inspectionPoint(in.Row, in.Point).Title
		changed := s.done[in.Row].parts
		if !in.Worn || slices.Contains(changed, in.Point) || slices.Contains(changed, title) {
			continue
		}
		if rows[title] == nil {
			titles = append(titles, title)
		}
		rows[title] = append(rows[title], in.Row)
	}
	if len(titles) == 0 {
		return nil
	}
	for i, title := range titles {
		titles[i] = fmt.Sprintf(s.p.partFor, title, s.rowList(rows[title]))
	}
	return []block{{Kind: prose, Text: s.p.toOrder + strings.Join(titles, "; ") + "."}}
}

func (s *Sheet) inspected(value float64, p leveling.InspectionPoint) string {
	typed := unbroken(strings.TrimSpace(minus(leveling.Figure(value)) + " " + p.Unit))
	if p.Unit == "mm" && s.voice.PerInch > 0 {
		return unbroken(s.voice.Fine(value)) + " (" + typed + ")"
	}
	return typed
}

func (s *Sheet) limit(p leveling.InspectionPoint) string {
	says := s.p.atMost
	if p.WorseWhen == leveling.WorseSmaller {
		says = s.p.atLeast
	}
	return fmt.Sprintf(says, s.inspected(*p.Limit, p))
}

func (s *Sheet) parts() []string {
	var out []string
	for i := range s.s.Rows {
		row := s.s.Rows[i].Row
		for _, part := range s.done[row].parts {
			out = append(out, fmt.Sprintf(s.p.aboutRow, s.rowList([]int{row}), part))
		}
	}
	return out
}

func (s *Sheet) notes() []string {
	var out []string
	for _, n := range s.s.Notes {
		text := n.Text
		if n.Row > 0 {
			text = fmt.Sprintf(s.p.aboutRow, s.rowList([]int{n.Row}), n.Text)
		}
		out = append(out, text)
	}
	return out
}

func (s *Sheet) cautions() []block {
	out := grid{Columns: []column{{Title: s.p.caution}, {Title: s.p.by}, {Title: s.p.when}}}
	for _, c := range s.s.Cautions {
		by, when := s.p.open, nothing
		if c.Person != "" {
			by, when = c.Person, s.time(c.TickTime)
		}
		out.Rows = append(out.Rows, []string{c.Text, by, when})
	}
	return []block{{Kind: heading, Head: s.p.cautions}, {Kind: table, Table: out}}
}

func (s *Sheet) whoDid() []block {
	if len(s.people) == 0 {
		return nil
	}
	out := grid{Columns: []column{{Title: s.p.person}, {Title: s.p.did}}}
	for _, w := range s.people {
		var did []string
		if w.opened {
			did = append(did, s.p.didOpen)
		}
		for _, d := range []struct {
			n    int
			says string
		}{{w.readings, s.p.didReadings}, {w.moves, s.p.didMoves}, {w.plans, s.p.didPlans}, {w.parts, s.p.didParts}, {w.points, s.p.didPoints}, {w.ticks, s.p.didTicks}} {
			if d.n > 0 {
				did = append(did, fmt.Sprintf(d.says, d.n))
			}
		}
		if w.signed {
			did = append(did, s.p.didSign)
		}
		out.Rows = append(out.Rows, []string{w.name, cmp.Or(strings.Join(did, ", "), nothing)})
	}
	return []block{{Kind: heading, Head: s.p.people}, {Kind: table, Table: out}}
}

func (s *Sheet) hash() []block {
	if s.s.Signature == nil {
		return nil
	}
	return []block{{Kind: heading, Head: s.p.contentHash}, {Kind: code, Text: s.s.Signature.ContentHash}, {Kind: small, Text: s.p.hashMeans}}
}
