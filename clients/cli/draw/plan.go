package draw

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	rowdatumv1 "rowdatum/proto/gen/rowdatum/v1"
	"rowdatum/proto/length"
)

// Question is what a plan answers, with what the request does not say.
type Question struct {
	Planter string      // what people call it; may be empty
	Unit    length.Unit // in which lengths are shown; NoUnit is mm
	Request *rowdatumv1.ComputePlanRequest
	Styles  []*rowdatumv1.Style // for the words of counts; may lack some
}

// The service's defaults for what a request leaves out; needed to draw, never to judge.
const (
	defaultRulingMm    = 25.4 / 16
	defaultToleranceMm = 25.4 / 8
)

// Plan draws a whole plan: heading, what needs a closer look, cautions, the rows in the order of the
// request (the walk), what to do at each, a picture, what fewer or more rows would give, marks.
func Plan(q Question, answer *rowdatumv1.Plan) string {
	d := newDrawing(q, answer)
	d.heading()
	d.cautions()
	d.look()
	d.table()
	d.steps()
	d.reread()
	d.picture()
	d.tradeoff()
	d.marks()
	return d.String()
}

// Outline draws what a plan comes to, its cautions and what it does not bring level, without the rows.
func Outline(q Question, answer *rowdatumv1.Plan) string {
	d := newDrawing(q, answer)
	d.heading()
	d.cautions()
	d.look()
	return d.String()
}

// drawing is one plan being drawn.
type drawing struct {
	page
	q           Question
	plan        *rowdatumv1.Plan
	rows        []*rowdatumv1.RowPlan // in walking order
	mechanismOf map[int32]string      // id, by row
	toleranceMm float64
	scale       scale
}

func newDrawing(q Question, answer *rowdatumv1.Plan) *drawing {
	aim, fixture := cmp.Or(q.Request.GetAim(), &rowdatumv1.Aim{}), cmp.Or(q.Request.GetFixture(), &rowdatumv1.FixtureFigures{})
	d := &drawing{q: q, plan: answer, mechanismOf: map[int32]string{},
		toleranceMm: given(aim.ToleranceMm, defaultToleranceMm)}
	rulingMm := given(fixture.ResolutionMm, defaultRulingMm)
	d.scale = scale{inches: q.Unit == length.Inch, ruling: length.InchRuling(rulingMm)}
	place := map[int32]int{}
	for i, row := range q.Request.GetRows() {
		place[row.GetRow()] = i
		d.mechanismOf[row.GetRow()] = row.GetMechanism()
	}
	d.rows = slices.Clone(answer.GetRows())
	slices.SortStableFunc(d.rows, func(a, b *rowdatumv1.RowPlan) int {
		return cmp.Compare(place[a.GetRow()], place[b.GetRow()])
	})
	return d
}

// given returns what a request says, or the default.
func given(x *float64, otherwise float64) float64 {
	if x == nil {
		return otherwise
	}
	return *x
}

// heading says in a few lines what the plan comes to.
func (d *drawing) heading() {
	name := cmp.Or(d.q.Planter, "planter without a name")
	d.wrapped("LEVELING PLAN   ", name)
	d.line("")
	d.wrapped("Bring rows to   ", d.scale.both(d.plan.GetDatumMm())+", in the fixture's own numbers")
	d.wrapped("Spread          ", fmt.Sprintf("%s as found, %s when done", d.scale.exact(d.plan.GetSpreadBeforeMm()), d.scale.exact(d.plan.GetSpreadAfterMm())))
	d.worth()
	d.wrapped("Rows to touch   ", fmt.Sprintf("%d of %d%s", d.plan.GetTouchedRows(), len(d.rows), d.listed(moved)))
	if n := d.plan.GetRereadRows(); n > 0 {
		d.wrapped("Rows to reread  ", fmt.Sprintf("%d of %d%s", n, len(d.rows), d.listed(toReread)))
	}
	d.wrapped("Time            ", minutes(d.plan.GetWorkSeconds())+" at the planter")
	d.wrapped("Tolerance       ", fmt.Sprintf("± %s wanted; the readings can prove ± %s", d.scale.exact(d.toleranceMm), d.scale.least(d.plan.GetProvableToleranceMm())))
}

// chosen returns the rows that are so, in walking order.
func (d *drawing) chosen(so func(*rowdatumv1.RowPlan) bool) []*rowdatumv1.RowPlan {
	var rows []*rowdatumv1.RowPlan
	for _, row := range d.rows {
		if so(row) {
			rows = append(rows, row)
		}
	}
	return rows
}

// listed writes the numbers of the rows that are so, behind a colon.
func (d *drawing) listed(so func(*rowdatumv1.RowPlan) bool) string {
	text, lead := "", ": "
	for _, row := range d.chosen(so) {
		text += lead + strconv.Itoa(int(row.GetRow()))
		lead = ", "
	}
	return text
}

// readAfterMove belongs to every move: what was moved is known only once it is read.
const readAfterMove = "When it is moved and has settled, read it again."

func (d *drawing) cautions() {
	if len(d.plan.GetCautions()) == 0 {
		return
	}
	d.title("CAUTIONS, read before anything moves")
	for _, caution := range d.plan.GetCautions() {
		d.wrapped(" !  ", caution)
	}
}

// troubled reports whether a row needs more than this plan gives: stuck, or left or moved and not expected to be
// proven even.
func troubled(row *rowdatumv1.RowPlan) bool { return !row.GetExpectedEven() }

// moved reports whether the plan moves a row.
func moved(row *rowdatumv1.RowPlan) bool { return row.GetMove() != nil }

// toReread reports whether a row is left to be read again.
func toReread(row *rowdatumv1.RowPlan) bool {
	return row.GetReadingsToSettle() > 0
}

// look shows the rows that this plan does not bring level.
func (d *drawing) look() {
	rows := d.chosen(troubled)
	if len(rows) == 0 {
		return
	}
	d.title("LOOK HERE FIRST: " + number(len(rows), "row that this plan does not bring level", "rows that this plan does not bring level"))
	for _, row := range rows {
		d.wrapped(fmt.Sprintf(">> Row %-3d %-5s ", row.GetRow(), d.verdict(row)), row.GetWhy())
	}
}

// verdict writes the three that ask for a hand in capitals.
func (d *drawing) verdict(row *rowdatumv1.RowPlan) string {
	switch row.GetVerdict() {
	case rowdatumv1.Verdict_EVEN:
		return "even"
	case rowdatumv1.Verdict_UNSURE:
		return "unsure"
	}
	return row.GetVerdict().String()
}

// doWidth holds "−10 3/4 turns shallower".
const doWidth = 23

func (d *drawing) table() {
	d.title("THE ROWS, in walking order")
	d.line(" %s  %s %s %s  %s  %s  %s %s", right("row", 3), left("mechanism", 10), right("reads", 7), d.scale.plusMinus(),
		left("found", 6), left("do", doWidth), right("then", 7), right("chance", 6))
	for _, row := range d.rows {
		mark := " "
		if troubled(row) {
			mark = ">"
		}
		d.line("%s%s  %s %s %s  %s  %s  %s %s", mark, right(strconv.Itoa(int(row.GetRow())), 3),
			left(d.mechanismOf[row.GetRow()], 10), right(d.scale.short(row.GetEstimateMm()), 7), right(d.scale.fine(row.GetUncertaintyMm()), 5),
			left(d.verdict(row), 6), left(d.do(row), doWidth),
			right(d.then(row.PredictedMm, d.scale.short), 7), right(d.then(row.PredictedChance, percent), 6))
	}
	note := "reads, then: depth in mm"
	if d.scale.inches {
		note = "reads, then: depth in inches, to the fixture's ruling"
	}
	d.wrapped("", note+". ±: standard uncertainty of what was read. chance: that the row is then within tolerance of the datum.")
}

// then writes a figure that a stuck row does not have.
func (d *drawing) then(x *float64, write func(float64) string) string {
	if x == nil {
		return "-"
	}
	return write(*x)
}

// do is the short form of what to do at a row.
func (d *drawing) do(row *rowdatumv1.RowPlan) string {
	switch move := row.GetMove(); {
	case move != nil:
		return moveWords(move)
	case row.GetVerdict() == rowdatumv1.Verdict_STUCK:
		return "STUCK, see above"
	case troubled(row):
		return "see above"
	case toReread(row):
		return "read again"
	}
	return "leave"
}

// moveWords is the short form of a move.
func moveWords(move *rowdatumv1.Move) string {
	way := "deeper"
	if move.GetEffectMm() < 0 {
		way = "shallower"
	}
	if move.GetCount() == 0 { // as many shims as before, but others
		return "swap " + move.GetUnit() + ", " + way
	}
	return fmt.Sprintf("%s %s %s", signed(move.GetCount()), move.GetUnit(), way)
}

// signed writes a count with its sign, as a fraction where it is one of quarters or eighths.
func signed(count float64) string {
	eighths := math.Abs(count) * 8
	if eighths != math.Trunc(eighths) {
		return withSign(strconv.FormatFloat(math.Abs(count), 'f', -1, 64), count)
	}
	return withSign(length.Inches(math.Abs(count)*25.4, 8), count)
}

// steps gives the full words for every row that is moved, what is common to all of them said once.
func (d *drawing) steps() {
	rows := d.chosen(moved)
	if len(rows) == 0 {
		return
	}
	d.title("WHAT TO DO")
	words := make([]string, len(rows))
	for i, row := range rows {
		words[i] = row.GetMove().GetSay()
	}
	common := commonEnd(words)
	d.wrapped("  each row   ", strings.TrimSpace(common+" "+readAfterMove))
	for i, row := range rows {
		d.wrapped(fmt.Sprintf("  row %-3d    ", row.GetRow()), strings.TrimSuffix(words[i], common))
	}
}

// commonEnd returns the sentences that all texts of several end with, without taking any text whole.
func commonEnd(texts []string) string {
	if len(texts) < 2 {
		return ""
	}
	sentences := strings.SplitAfter(texts[0], ". ")
	for from := 1; from < len(sentences); from++ {
		end := strings.Join(sentences[from:], "")
		if !slices.ContainsFunc(texts, func(t string) bool { return !strings.HasSuffix(t, ". "+end) }) {
			return end
		}
	}
	return ""
}

func (d *drawing) reread() {
	rows := d.chosen(toReread)
	if len(rows) == 0 {
		return
	}
	d.title("READ AGAIN")
	for _, row := range rows {
		d.wrapped(fmt.Sprintf("  row %-3d    ", row.GetRow()), row.GetWhy())
	}
}

// tradeoff shows what touching fewer or more rows would leave, as long as more rows help.
func (d *drawing) tradeoff() {
	points := d.scale.shown(d.plan.GetTradeoff())
	if len(points) == 0 {
		return
	}
	d.title("TRADE-OFF: the smallest spread that so many touched rows can reach")
	widest := 0.0
	for _, point := range points {
		widest = math.Max(widest, point.GetSpreadMm())
	}
	const barWidth = 36
	for _, point := range points {
		bar := 0
		if widest > 0 {
			bar = int(math.Round(barWidth * point.GetSpreadMm() / widest))
		}
		d.line("  %s %s %s  %s", right(number(int(point.GetTouchedRows()), "row ", "rows"), 8),
			right(d.scale.fine(point.GetSpreadMm()), 6), d.scale.unit(), strings.Repeat("█", bar))
	}
	if last := points[len(points)-1]; int(last.GetTouchedRows()) < len(d.rows) {
		d.line("  More than %s give no smaller spread.", number(int(last.GetTouchedRows()), "row", "rows"))
	}
	d.line("  This plan touches %s and leaves %s %s.", number(int(d.plan.GetTouchedRows()), "row", "rows"), d.scale.fine(d.plan.GetSpreadAfterMm()), d.scale.unit())
}

// shown leaves out points that print the same spread as one before them.
func (s scale) shown(points []*rowdatumv1.TradeoffPoint) []*rowdatumv1.TradeoffPoint {
	return slices.CompactFunc(slices.Clone(points), func(a, b *rowdatumv1.TradeoffPoint) bool {
		return s.fine(a.GetSpreadMm()) == s.fine(b.GetSpreadMm())
	})
}

func (d *drawing) marks() {
	w := wording{d.q.Request.GetMechanisms(), d.q.Styles}
	for _, marks := range d.plan.GetMarks() {
		d.title(fmt.Sprintf("MARKS of %s, counted from row %d", marks.GetMechanism(), marks.GetReferenceRow()))
		for _, mark := range marks.GetRows() {
			if mark.Count == nil {
				d.wrapped(fmt.Sprintf("  row %-3d    ", mark.GetRow()), "by table: "+d.scale.markTable(mark))
				continue
			}
			d.wrapped(fmt.Sprintf("  row %-3d    ", mark.GetRow()), fmt.Sprintf("%s, then %s",
				w.counts(mark.GetCount(), marks.GetMechanism()), d.scale.offset(mark.GetResidualMm())))
		}
	}
}

// wording has what counts are called by.
type wording struct {
	mechanisms []*rowdatumv1.Mechanism
	styles     []*rowdatumv1.Style // may lack some
}

// counts writes a count with its unit's word, where the style tells it.
func (w wording) counts(count float64, mechanism string) string {
	text := signed(count)
	if count == 0 {
		text = "0"
	}
	for _, m := range w.mechanisms {
		for _, style := range w.styles {
			if m.GetId() == mechanism && style.GetName() == "styles/"+m.GetStyle() {
				unit := style.GetCountUnit()
				if a := math.Abs(count); a > 0 && a <= 1 {
					return text + " " + unit.GetOne()
				}
				return text + " " + unit.GetOther()
			}
		}
	}
	return text
}

// offset says what the steps of a mechanism leave.
func (s scale) offset(mm float64) string {
	text := s.fine(math.Abs(mm)) + " " + s.unit()
	switch {
	case s.fine(mm) == s.fine(0):
		return "at the datum"
	case mm > 0:
		return text + " deeper than the datum"
	}
	return text + " shallower than the datum"
}

func (s scale) markTable(mark *rowdatumv1.RowMark) string {
	var entries []string
	for _, entry := range mark.GetTable() {
		entries = append(entries, fmt.Sprintf("%s %s → %s", s.short(entry.GetDepthMm()), s.unit(), s.setting(entry.GetSetting())))
	}
	return strings.Join(entries, "; ")
}
