package draw

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"google.golang.org/protobuf/types/known/timestamppb"

	rowdatumv1 "rowdatum/proto/gen/rowdatum/v1"
	"rowdatum/proto/length"
)

// Visit is a job with what its words come from.
type Visit struct {
	Job    *rowdatumv1.Job
	Opened *rowdatumv1.Opened  // the planter and the fixture that it is worked from
	Styles []*rowdatumv1.Style // for the words of counts; may lack some
	Unit   length.Unit         // in which lengths are shown; NoUnit is the job's
	Left   bool                // the walk begins at row 1, else at the highest row
}

func (v Visit) scale() scale {
	return scale{inches: UnitOf(v.Unit, v.Job.GetLengthUnit()) == length.Inch, ruling: length.InchRuling(given(v.Opened.GetFixture().ResolutionMm, defaultRulingMm))}
}

func (v Visit) wording() wording {
	return wording{v.Opened.GetPlanter().GetMechanisms(), v.Styles}
}

// Walk returns the rows in walking order: along the sections from one end to the other.
func (v Visit) Walk() []*rowdatumv1.RowState {
	rows := slices.Clone(v.Job.GetState().GetRows())
	slices.SortFunc(rows, func(a, b *rowdatumv1.RowState) int { return cmp.Compare(a.GetRow(), b.GetRow()) })
	if !v.Left {
		slices.Reverse(rows)
	}
	return rows
}

// Section names the section that a row belongs to; empty without one.
func (v Visit) Section(row int32) string {
	for _, s := range v.Opened.GetPlanter().GetSections() {
		if row >= s.GetFirstRow() && row <= s.GetLastRow() {
			return fmt.Sprintf("%s, rows %d to %d", s.GetTitle(), s.GetFirstRow(), s.GetLastRow())
		}
	}
	return ""
}

// Job draws a job: heading, warnings, the rows in walking order with what to do next, a picture, and what
// signing still needs.
func Job(v Visit) string {
	d := &visit{Visit: v, s: v.scale(), state: v.Job.GetState()}
	d.heading()
	d.warnings()
	d.table()
	d.moves()
	d.reasons()
	d.picture()
	d.signing()
	return d.String()
}

// visit is one job being drawn.
type visit struct {
	page
	Visit
	s     scale
	state *rowdatumv1.JobState
}

func (d *visit) heading() {
	job := d.Job
	d.wrapped("JOB             ", fmt.Sprintf("%s, %s, revision %d", job.GetName(), strings.ToLower(job.GetStage().String()), job.GetRevision()))
	d.line("")
	d.wrapped("Planter         ", d.Opened.GetPlanter().GetDisplayName())
	if job.GetWorkOrder() != "" {
		d.wrapped("Work order      ", job.GetWorkOrder())
	}
	d.wrapped("Opened          ", moment(job.GetCreateTime()))
	d.wrapped("Fixture         ", d.fixture())
	if d.state.DatumMm == nil {
		d.wrapped("Bring rows to   ", "not known yet: there is no plan")
	} else {
		d.wrapped("Bring rows to   ", d.s.both(d.state.GetDatumMm())+", in the fixture's own numbers")
	}
	if d.state.SpreadMm != nil {
		d.wrapped("Spread          ", d.s.both(d.state.GetSpreadMm())+" now")
	}
	d.worth()
	d.wrapped("Rows            ", Progress(d.Job))
	tolerance := fmt.Sprintf("± %s wanted", d.s.exact(d.state.GetToleranceMm()))
	if d.state.ProvableToleranceMm != nil {
		tolerance += fmt.Sprintf("; the readings can prove ± %s", d.s.least(d.state.GetProvableToleranceMm()))
	}
	d.wrapped("Tolerance       ", tolerance)
	if s := d.state.GetSignature(); s != nil {
		d.wrapped("Signed          ", fmt.Sprintf("by %s, %s", s.GetPerson(), moment(s.GetSignTime())))
		d.wrapped("Content         ", s.GetContentHash())
	}
	if reason := d.state.GetVoidReason(); reason != "" {
		d.wrapped("Voided          ", reason)
	}
}

func (d *visit) fixture() string {
	f := d.Opened.GetFixture()
	return fmt.Sprintf("%s: %s, ruled to %s", cmp.Or(f.GetDisplayName(), "none named"), kind(f.GetKind()), d.s.both(given(f.ResolutionMm, defaultRulingMm)))
}

// Progress says how far a job is, by its rows.
func Progress(job *rowdatumv1.Job) string {
	rows := job.GetState().GetRows()
	read, done := 0, 0
	for _, row := range rows {
		if row.EstimateMm != nil {
			read++
		}
		if row.GetVerdict() == rowdatumv1.Verdict_EVEN && row.GetNext() != rowdatumv1.NextStep_READ_AFTER_MOVE {
			done++
		}
	}
	if job.GetState().DatumMm == nil {
		return fmt.Sprintf("%d of %d read", read, len(rows))
	}
	return fmt.Sprintf("%d of %d even", done, len(rows))
}

func (d *visit) warnings() {
	if len(d.state.GetWarnings()) == 0 {
		return
	}
	d.title("MIND")
	for _, warning := range d.state.GetWarnings() {
		d.wrapped(" !  ", warning)
	}
}

func (d *visit) table() {
	d.title("THE ROWS, in walking order")
	d.line(" %s  %s %s  %s %s  %s  %s", right("row", 3), left("mechanism", 10), right("found", 7), right("now", 8), d.s.plusMinus(), left("is", 6), "next")
	section, foretold := "", false
	for _, row := range d.Walk() {
		if s := d.Section(row.GetRow()); s != section {
			section = s
			d.wrapped("  ─ ", s)
		}
		mark, now := " ", dash(row.EstimateMm, d.s.short)
		if row.GetNext() == rowdatumv1.NextStep_EXCEPT || row.GetException() != "" {
			mark = ">"
		}
		if row.EstimateMm != nil && !row.GetMeasured() {
			now, foretold = "("+now+")", true
		}
		d.line("%s%s  %s %s  %s %s  %s  %s", mark, right(strconv.Itoa(int(row.GetRow())), 3), left(row.GetMechanism(), 10),
			right(dash(row.AsFoundMm, d.s.short), 7), right(now, 8), right(dash(row.UncertaintyMm, d.s.fine), 5), left(verdictWord(row), 6), Next(row))
	}
	note := "found, now: depth in mm"
	if d.s.inches {
		note = "found, now: depth in inches, to the fixture's ruling"
	}
	if foretold {
		note += "; in brackets: foretold, not read"
	}
	d.wrapped("", note+". ±: standard uncertainty of what is now.")
}

func dash(x *float64, write func(float64) string) string {
	if x == nil {
		return "-"
	}
	return write(*x)
}

func verdictWord(row *rowdatumv1.RowState) string { return verdictOf(row.GetVerdict()) }

// verdictOf writes the verdicts that ask for a hand in capitals.
func verdictOf(v rowdatumv1.Verdict) string {
	switch v {
	case rowdatumv1.Verdict_VERDICT_UNSPECIFIED:
		return "-"
	case rowdatumv1.Verdict_EVEN, rowdatumv1.Verdict_UNSURE:
		return strings.ToLower(v.String())
	default:
		return v.String()
	}
}

// Next is the short form of what to do next at a row.
func Next(row *rowdatumv1.RowState) string {
	switch row.GetNext() {
	case rowdatumv1.NextStep_READ:
		return "read"
	case rowdatumv1.NextStep_READ_AGAIN:
		return "read again"
	case rowdatumv1.NextStep_READ_AFTER_MOVE:
		return "read after the move"
	case rowdatumv1.NextStep_MOVE:
		return moveWords(row.GetMove())
	case rowdatumv1.NextStep_DONE:
		return "nothing"
	case rowdatumv1.NextStep_EXCEPT:
		return "needs a reason, see below"
	case rowdatumv1.NextStep_PLAN:
		return "ask for a plan"
	}
	if row.GetException() != "" {
		return "excepted, see below"
	}
	return "-"
}

// moves gives the full words for every move that is to be done, what is common to all of them said once.
func (d *visit) moves() {
	var rows []*rowdatumv1.RowState
	var words []string
	for _, row := range d.Walk() {
		if row.GetNext() == rowdatumv1.NextStep_MOVE {
			rows, words = append(rows, row), append(words, row.GetMove().GetSay())
		}
	}
	if len(rows) == 0 {
		return
	}
	d.title("WHAT TO DO")
	common := commonEnd(words)
	if common != "" {
		d.wrapped("  each row   ", common)
	}
	for i, row := range rows {
		d.wrapped(fmt.Sprintf("  row %-3d    ", row.GetRow()), strings.TrimSuffix(words[i], common))
	}
}

// reasons says why for rows that ask for more than a first reading or the plan's move.
func (d *visit) reasons() {
	titled := false
	for _, row := range d.Walk() {
		text := row.GetWhy()
		switch row.GetNext() {
		case rowdatumv1.NextStep_READ_AGAIN, rowdatumv1.NextStep_EXCEPT, rowdatumv1.NextStep_PLAN:
		default:
			text = row.GetException()
		}
		if text == "" {
			continue
		}
		if !titled {
			d.title("WHY")
			titled = true
		}
		d.wrapped(fmt.Sprintf("  row %-3d    ", row.GetRow()), text)
	}
}

func (d *visit) picture() {
	p := picture{page: &d.page, scale: d.s, datumMm: d.state.DatumMm, toleranceMm: d.state.GetToleranceMm()}
	legend := "○ as found  ● now"
	foretold := false
	for _, row := range d.state.GetRows() {
		mark := "●"
		if !row.GetMeasured() {
			mark, foretold = "◇", foretold || row.EstimateMm != nil
		}
		p.rows = append(p.rows, pictured{row.GetRow(), row.AsFoundMm, row.EstimateMm, mark})
	}
	if foretold {
		legend += "  ◇ foretold"
	}
	if p.datumMm != nil {
		legend += "  ─ datum"
	}
	p.draw(legend)
}

func (d *visit) signing() {
	if d.Job.GetStage() != rowdatumv1.Job_OPEN {
		return
	}
	d.title("BEFORE IT IS SIGNED")
	for _, need := range d.state.GetSigningNeeds() {
		d.wrapped("  ☐  ", need)
	}
	if len(d.state.GetSigningNeeds()) == 0 {
		d.line("  nothing: it may be signed")
	}
}

// Row says where a row stands, for a line after something was written of it.
func Row(v Visit, number int32) string {
	for _, row := range v.Job.GetState().GetRows() {
		if row.GetRow() == number {
			return v.row(row)
		}
	}
	return ""
}

func (v Visit) row(row *rowdatumv1.RowState) string {
	var p page
	text := row.GetWhy()
	if v.Job.GetState().DatumMm == nil && row.EstimateMm != nil && row.GetNext() != rowdatumv1.NextStep_READ_AGAIN {
		text = v.amongOthers(row)
	}
	if next := Next(row); next != "-" && next != "nothing" {
		text += ". Next: " + next
	}
	p.wrapped(fmt.Sprintf("  row %d: ", row.GetRow()), strings.TrimPrefix(text, ". "))
	return p.String()
}

// amongOthers says how a row's depth compares with those of the other rows read so far.
func (v Visit) amongOthers(row *rowdatumv1.RowState) string {
	s, mm := v.scale(), row.GetEstimateMm()
	low, high, others := math.Inf(1), math.Inf(-1), 0
	for _, other := range v.Job.GetState().GetRows() {
		if other.GetRow() != row.GetRow() && other.EstimateMm != nil {
			low, high, others = math.Min(low, other.GetEstimateMm()), math.Max(high, other.GetEstimateMm()), others+1
		}
	}
	text := s.both(mm) + " deep"
	switch {
	case others == 0:
		return text + ", the first row read"
	case mm > high:
		text += ", the deepest so far"
	case mm < low:
		text += ", the shallowest so far"
	}
	if others == 1 {
		return fmt.Sprintf("%s; the other row read is at %s", text, s.both(low))
	}
	if s.short(low) == s.short(high) {
		return fmt.Sprintf("%s; the %d other rows are all at %s %s", text, others, s.short(low), s.unit())
	}
	return fmt.Sprintf("%s; the %d other rows are from %s to %s %s", text, others, s.short(low), s.short(high), s.unit())
}

// Even says which readings of a row are even, where the state tells: to the fixture's ruling, or else to
// 0.1 mm or 0.01 in, rounded towards the middle. It is empty where nothing is known.
func Even(v Visit, row *rowdatumv1.RowState) string {
	if row.EvenFromMm == nil || row.EvenToMm == nil {
		return ""
	}
	s := v.scale()
	step, write, unit := s.told(), s.short, s.unit()
	const rounding = 1e-6 // of a step
	from, to := step*math.Ceil(row.GetEvenFromMm()/step-rounding), step*math.Floor(row.GetEvenToMm()/step+rounding)
	if from > to {
		return ""
	}
	if from == to {
		return fmt.Sprintf("even at a depth of %s %s", write(from), unit)
	}
	return fmt.Sprintf("even from %s to %s %s deep", write(from), write(to), unit)
}

// moment writes a time by this machine's clock.
func moment(t *timestamppb.Timestamp) string {
	if t == nil {
		return "-"
	}
	return t.AsTime().Local().Format("2006-01-02 15:04")
}

func kind(k rowdatumv1.Fixture_Kind) string {
	switch k {
	case rowdatumv1.Fixture_BLOCKS:
		return "blocks"
	case rowdatumv1.Fixture_POINTER_PLATE:
		return "pointer plate"
	}
	return "window"
}
