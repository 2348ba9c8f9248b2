package draw

import (
	"cmp"
	"fmt"
	"math"
	"strconv"
	"strings"

	rowdatumv1 "rowdatum/proto/gen/rowdatum/v1"
	"rowdatum/proto/length"
)

// FieldMove draws what to do to every row of a planter to change its planting depth.
func FieldMove(planter *rowdatumv1.Planter, move *rowdatumv1.FieldMove, unit length.Unit) string {
	var p page
	s := scaleOf(unit)
	p.wrapped("FIELD MOVE      ", deeper(s, move.GetDeltaMm()))
	p.line("")
	p.wrapped("Planter         ", planter.GetDisplayName())
	p.wrapped("Rows' mean      ", deeper(s, move.GetMeanChangeMm())+", as far as is known")
	if !move.GetReached() {
		p.wrapped("            >>  ", "that is not what was asked: no counts come nearer")
	}
	known := leftKnown(planter)
	if known {
		p.wrapped("Spread          ", fmt.Sprintf("%s now, %s after", s.exact(move.GetSpreadBeforeMm()), s.exact(move.GetSpreadAfterMm())))
	}
	p.cautions(move.GetCautions())
	p.title("WHAT TO DO, the same on every row")
	for _, group := range move.GetMechanisms() {
		p.wrapped("  "+left(group.GetMechanism(), max(12, len(group.GetMechanism())))+" ", groupWords(group)+": "+rowNumbers(group.GetRows()))
	}
	if len(move.GetMechanisms()) == 0 {
		p.line("  nothing: no row's mechanism sets planting depth")
	}
	p.fieldRows(planter, move, s, known)
	return p.String()
}

func scaleOf(unit length.Unit) scale { return scale{inches: unit == length.Inch} }

// leftKnown reports whether the depth of every row is known.
func leftKnown(planter *rowdatumv1.Planter) bool {
	for _, row := range planter.GetRows() {
		if row.AsLeftMm == nil {
			return false
		}
	}
	return true
}

// deeper writes a change of depth.
func deeper(s scale, mm float64) string {
	text := s.exact(math.Abs(mm))
	switch {
	case length.Mm(mm) == "0.0":
		return "no change"
	case mm > 0:
		return text + " deeper"
	}
	return text + " shallower"
}

// groupWords is what one mechanism's rows do.
func groupWords(group *rowdatumv1.GroupMove) string {
	way := "deeper"
	switch {
	case group.GetCount() == 0:
		return "leave"
	case group.GetCount() < 0:
		way = "shallower"
	}
	return fmt.Sprintf("%s %s %s", signed(group.GetCount()), group.GetUnit(), way)
}

func (p *page) cautions(cautions []string) {
	if len(cautions) == 0 {
		return
	}
	p.title("MIND")
	for _, caution := range cautions {
		p.wrapped(" !  ", caution)
	}
}

func (p *page) fieldRows(planter *rowdatumv1.Planter, move *rowdatumv1.FieldMove, s scale, known bool) {
	p.title("THE ROWS")
	then := ""
	if known {
		then = right("then", 7) + "  "
	}
	p.line(" row  %s %s %s  %s%s", left("mechanism", 12), right("change", 7), s.plusMinus(), then, "stands at then")
	mechanismOf := map[int32]string{}
	for _, row := range planter.GetRows() {
		mechanismOf[row.GetRow()] = row.GetMechanism()
	}
	for _, row := range move.GetRows() {
		if known {
			then = right(s.short(row.GetDepthMm()), 7) + "  "
		}
		stands := cmp.Or(s.setting(row.GetSettingAfter()), "not known")
		switch {
		case row.GetTrimmedOnly():
			stands = "trimmed only: set it at the row unit"
		case row.GetOutOfTravel():
			stands += ", END OF TRAVEL"
		}
		p.wrapped(fmt.Sprintf(" %3d  %s %s %s  %s", row.GetRow(), left(mechanismOf[row.GetRow()], 12), right(s.change(row.GetChangeMm()), 7),
			right(s.fine(row.GetUncertaintyMm()), 5), then), stands)
	}
	note := fmt.Sprintf("change: in %s. ±: its standard uncertainty.", s.word())
	if known {
		note = fmt.Sprintf("change, then: in %s; then: depth expected, in the numbers of the fixture that read it last. ±: standard uncertainty of the change.", s.word())
	}
	p.wrapped("", note)
}

// change writes a change with its sign, without the unit.
func (s scale) change(mm float64) string { return withSign(s.short(math.Abs(mm)), mm) }

// withSign puts the sign of x before the text of its size; a text of nothing has none.
func withSign(text string, x float64) string {
	switch {
	case strings.Trim(text, "0.") == "":
		return text
	case x < 0:
		return "−" + text
	}
	return "+" + text
}

// word is the unit of what short writes, in words.
func (s scale) word() string {
	if s.inches {
		return "inches"
	}
	return "mm"
}

// rowNumbers writes rows as people say them: rows 1 to 6, 11.
func rowNumbers(rows []int32) string {
	var parts []string
	for i := 0; i < len(rows); {
		j := i
		for j+1 < len(rows) && rows[j+1] == rows[j]+1 {
			j++
		}
		switch j - i {
		case 0:
			parts = append(parts, strconv.Itoa(int(rows[i])))
		case 1:
			parts = append(parts, strconv.Itoa(int(rows[i])), strconv.Itoa(int(rows[j])))
		default:
			parts = append(parts, fmt.Sprintf("%d to %d", rows[i], rows[j]))
		}
		i = j + 1
	}
	if len(rows) == 1 {
		return "row " + parts[0]
	}
	return "rows " + strings.Join(parts, ", ")
}

// Card is an index card with what its words come from.
type Card struct {
	Planter *rowdatumv1.Planter
	Card    *rowdatumv1.IndexCard
	Styles  []*rowdatumv1.Style // for the words of counts; may lack some
	Unit    length.Unit         // in which lengths are shown; NoUnit is the planter's
}

// IndexCard draws a planter at a glance.
func IndexCard(c Card) string {
	var p page
	s, card := scaleOf(UnitOf(c.Unit, c.Card.GetLengthUnit())), c.Card
	p.wrapped("INDEX CARD      ", card.GetDisplayName())
	p.line("")
	p.wrapped("Planter         ", id(card.GetPlanter()))
	if card.GetJob() == "" {
		p.wrapped("Signed          ", "never yet")
	} else {
		p.wrapped("Signed          ", fmt.Sprintf("by %s, %s, as %s", card.GetPerson(), moment(card.GetSignTime()), card.GetJob()))
	}
	if card.DatumMm != nil {
		p.wrapped("Brought to      ", s.exact(card.GetDatumMm())+", in the fixture's own numbers")
	}
	if card.SpreadMm != nil {
		p.wrapped("Spread as left  ", s.exact(card.GetSpreadMm()))
	}
	p.cardRows(card.GetRows(), s)
	for _, marks := range card.GetMarks() {
		p.markCard(marks, s, wording{c.Planter.GetMechanisms(), c.Styles})
	}
	p.cardMoves(card.GetFieldMoves(), s)
	return p.String()
}

func (p *page) cardRows(rows []*rowdatumv1.IndexCardRow, s scale) {
	if len(rows) == 0 {
		return
	}
	p.title("THE ROWS, as left")
	p.line(" row  %s %s  %s  %s %s", right("offset", 7), s.plusMinus(), left("is", 6), left("known", 9), "stands at")
	for _, row := range rows {
		known := "foretold"
		switch {
		case row.OffsetMm == nil:
			known = "-"
		case row.GetMeasured():
			known = "read"
		}
		stands := cmp.Or(s.setting(row.GetSetting()), "not known")
		if row.GetException() != "" {
			stands += "; excepted: " + row.GetException()
		}
		p.wrapped(fmt.Sprintf(" %3d  %s %s  %s  %s ", row.GetRow(), right(dash(row.OffsetMm, s.change), 7), right(dash(row.UncertaintyMm, s.fine), 5),
			left(verdictOf(row.GetVerdict()), 6), left(known, 9)), stands)
	}
	p.wrapped("", fmt.Sprintf("offset: from the datum, in %s; above 0 is deeper. ±: standard uncertainty.", s.word()))
}

// cardMoves is the table of field moves.
func (p *page) cardMoves(moves []*rowdatumv1.FieldMove, s scale) {
	if len(moves) == 0 {
		return
	}
	p.title("FIELD MOVES, the same on every row")
	for _, move := range moves {
		var groups []string
		for _, group := range move.GetMechanisms() {
			groups = append(groups, group.GetMechanism()+" "+groupWords(group))
		}
		text := cmp.Or(strings.Join(groups, "; "), "nothing")
		if !move.GetReached() {
			text += fmt.Sprintf(" (makes %s only)", deeper(s, move.GetMeanChangeMm()))
		}
		for _, row := range move.GetRows() {
			if row.GetOutOfTravel() {
				text += "; END OF TRAVEL, see rowdatum field move"
				break
			}
		}
		p.wrapped(left(deeper(s, move.GetDeltaMm()), 28)+" ", text)
	}
}
