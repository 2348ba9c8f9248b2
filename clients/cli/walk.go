package main

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"slices"
	"strconv"
	"strings"

	"google.golang.org/protobuf/proto"

	"rowdatum/clients/cli/api"
	"rowdatum/clients/cli/draw"
	rowdatumv1 "rowdatum/proto/gen/rowdatum/v1"
	"rowdatum/proto/length"
)

type jobWalk struct {
	writes
	From fromFlag `placeholder:"left|right" help:"At which end to begin, seen from behind (left)."`
}

// Run walks the rows. With --json the conversation goes to standard error and the job follows at the end.
func (c *jobWalk) Run(ctx context.Context, a *app) error {
	if c.Person == "" {
		return errors.New("cautions are ticked and jobs signed by a named person; give --person")
	}
	return a.kept(func(client *api.Client) error {
		v, _, err := c.visit(ctx, client)
		if err != nil {
			return err
		}
		v.Left = !c.From.right
		w := newWalk(a, client, v, c.Person)
		if err := w.run(ctx, w.next); err != nil || !a.flags.JSON {
			return err
		}
		_, answer, err := client.Job(context.WithoutCancel(ctx), string(c.Job))
		if err != nil {
			return err
		}
		return a.printJSON(answer)
	})
}

// walk is one person walking the rows of a job. The job is the service's: a walk keeps only where the
// person is, what may be undone, and the reasons to sign with.
type walk struct {
	*talk
	client *api.Client
	v      draw.Visit
	person string

	at       int32     // the row where the person is; 0 before the first
	section  string    // of that row
	written  []written // what u strikes, the last one at the end
	skipped  map[int32]bool
	reasons  map[int32]string // to sign rows with that are not proven even
	unproven string           // the same for all that this fixture cannot prove
	oneByOne bool             // a common reason did not do
}

// written is what one answer appended to the job.
type written struct {
	row       int32
	revisions []int32
}

// step is one question and what follows from the answer.
type step func(context.Context) error

func newWalk(a *app, client *api.Client, v draw.Visit, person string) *walk {
	return &walk{talk: newTalk(a.stdin, a.talkTo()), client: client, v: v, person: person, skipped: map[int32]bool{}, reasons: map[int32]string{}}
}

// run takes step after step until there is none or the person leaves. What the service refuses is said,
// and the job is looked at anew.
func (w *walk) run(ctx context.Context, next func() step) error {
	for {
		take := next()
		if take == nil {
			return nil
		}
		err := take(ctx)
		var refused *api.RefusedError
		switch {
		case err == nil:
		case errors.Is(err, errQuit):
			return w.leave()
		case errors.As(err, &refused):
			w.say("%s", draw.Paragraph("  refused: ", refusal(refused)))
			if err := w.look(ctx); err != nil {
				return err
			}
		default:
			return err
		}
	}
}

// refusal says what was wrong; the paths into the request would say nothing to who typed one number.
func refusal(refused *api.RefusedError) string {
	var wrong []string
	for _, v := range refused.Violations {
		wrong = append(wrong, v.Description)
	}
	return cmp.Or(strings.Join(wrong, "; "), refused.Message)
}

func (w *walk) leave() error {
	return w.say("All that was answered is kept. %s. Go on with:\n  rowdatum job walk %s --person %s\n", draw.Progress(w.v.Job),
		strings.Replace(strings.TrimPrefix(w.v.Job.GetName(), "planters/"), "/jobs/", "/", 1), strconv.Quote(w.person))
}

// look fetches the job anew.
func (w *walk) look(ctx context.Context) error {
	job, _, err := w.client.Job(ctx, w.v.Job.GetName())
	if err == nil {
		w.v.Job = job
	}
	return err
}

// append writes to the job; row is what it is about, 0 for none.
func (w *walk) append(ctx context.Context, row int32, request proto.Message) error {
	done, _, err := w.client.Append(ctx, w.v.Job.GetName(), request)
	if err != nil {
		return err
	}
	w.v.Job = done.GetJob()
	one := written{row: row}
	for _, e := range done.GetEvents() {
		one.revisions = append(one.revisions, e.GetRevision())
	}
	w.written = append(w.written, one)
	return nil
}

// nextCaution asks for the first caution that is open.
func (w *walk) nextCaution() step {
	if w.v.Job.GetStage() != rowdatumv1.Job_OPEN || len(openCautions(w.v.Job)) == 0 {
		return nil
	}
	return w.caution
}

// next is what the job asks for now: cautions, rows in walking order, a plan, rows that were skipped,
// reasons, the signature.
func (w *walk) next() step {
	if w.v.Job.GetStage() != rowdatumv1.Job_OPEN {
		w.ended()
		return nil
	}
	if step := w.nextCaution(); step != nil {
		return step
	}
	if w.v.Unit == length.NoUnit && !w.unitIsKnown() {
		return w.unit
	}
	if row := w.nextRow(); row != nil {
		return func(ctx context.Context) error { return w.row(ctx, row) }
	}
	if slices.ContainsFunc(w.rows(), func(r *rowdatumv1.RowState) bool { return r.GetNext() == rowdatumv1.NextStep_PLAN }) {
		return w.plan
	}
	if len(w.skipped) > 0 {
		return w.skips
	}
	if step := w.nextReason(); step != nil {
		return step
	}
	return w.sign
}

func (w *walk) rows() []*rowdatumv1.RowState { return w.v.Walk() }

// caution asks for one tick.
func (w *walk) caution(ctx context.Context) error {
	open, all := openCautions(w.v.Job), w.v.Job.GetState().GetCautions()
	w.say("%s", draw.Paragraph(fmt.Sprintf("Caution %d of %d: ", len(all)-len(open)+1, len(all)), open[0].GetText()))
	answer, err := w.answer(ctx, "  is it so? y, q quit")
	if err != nil || answer != "y" {
		return err
	}
	return w.append(ctx, 0, &rowdatumv1.TickCautionsRequest{Person: w.person, Ticks: []*rowdatumv1.CautionTick{{Caution: open[0].GetId()}}})
}

// answer asks, and leaves for q.
func (w *walk) answer(ctx context.Context, question string) (string, error) {
	answer, err := w.ask(ctx, question)
	switch strings.ToLower(answer) {
	case "q":
		err = errQuit
	case "y", "yes", "sí", "si":
		answer = "y"
	}
	return answer, err
}

// unitIsKnown takes the unit of bare numbers from the job where its planter has one or its fixture is named.
func (w *walk) unitIsKnown() bool {
	known := w.v.Opened.GetPlanter().GetLengthUnit() != rowdatumv1.LengthUnit_LENGTH_UNIT_UNSPECIFIED || w.v.Job.GetFixture() != ""
	if known {
		w.v.Unit = draw.UnitOf(length.NoUnit, w.v.Job.GetLengthUnit())
	}
	return known
}

// unit asks once for the unit of bare numbers.
func (w *walk) unit(ctx context.Context) error {
	answer, err := w.answer(ctx, "Are numbers without a unit inches or mm? in, mm")
	if err != nil {
		return err
	}
	unit, ok := length.ParseUnit(answer)
	if !ok || unit == length.Centimeter {
		return w.say("  write in or mm\n")
	}
	w.v.Unit = unit
	return nil
}

// nextRow is the row to go to: where the person is, if it needs a hand, else the next one along the walk
// that does, from the end on from the beginning; nil where none does.
func (w *walk) nextRow() *rowdatumv1.RowState {
	rows := w.rows()
	here := max(0, slices.IndexFunc(rows, func(r *rowdatumv1.RowState) bool { return r.GetRow() == w.at }))
	for i := range rows {
		row := rows[(here+i)%len(rows)]
		if !w.skipped[row.GetRow()] && needsHand(row) {
			return row
		}
	}
	return nil
}

// needsHand reports whether the row is to be read or moved.
func needsHand(row *rowdatumv1.RowState) bool {
	switch row.GetNext() {
	case rowdatumv1.NextStep_READ, rowdatumv1.NextStep_READ_AGAIN, rowdatumv1.NextStep_READ_AFTER_MOVE, rowdatumv1.NextStep_MOVE:
		return true
	}
	return false
}

// row asks for what one row needs.
func (w *walk) row(ctx context.Context, row *rowdatumv1.RowState) error {
	w.goTo(row)
	where := row.GetMechanism()
	if setting := w.v.Setting(row.GetSetting()); setting != "" {
		where += " at " + setting
	}
	question := fmt.Sprintf("Row %d, %s, %s", row.GetRow(), w.place(row), where)
	if row.GetNext() == rowdatumv1.NextStep_MOVE {
		w.say("%s%s", draw.Paragraph("", question), draw.Paragraph("  ", row.GetMove().GetSay()))
		return w.command(ctx, "  done? y", row, w.moved)
	}
	if even := draw.Even(w.v, row); even != "" {
		question += ", " + even
	}
	w.say("%s", draw.Paragraph("", question))
	return w.command(ctx, "  "+draw.Next(row), row, w.read)
}

// goTo heads a section where the person comes into it.
func (w *walk) goTo(row *rowdatumv1.RowState) {
	if section := w.v.Section(row.GetRow()); section != w.section || w.at == 0 {
		w.section = section
		if section != "" {
			w.say("── %s ──\n", section)
		}
	}
	w.at = row.GetRow()
}

// place says how far along the walk a row is.
func (w *walk) place(row *rowdatumv1.RowState) string {
	rows := w.rows()
	i := slices.IndexFunc(rows, func(r *rowdatumv1.RowState) bool { return r.GetRow() == row.GetRow() })
	return fmt.Sprintf("%d of %d", i+1, len(rows))
}

// command asks and obeys what can be said at every row; anything else goes to the question's own.
func (w *walk) command(ctx context.Context, question string, row *rowdatumv1.RowState, own func(context.Context, *rowdatumv1.RowState, string) error) error {
	answer, err := w.answer(ctx, question)
	if err != nil {
		return err
	}
	word, rest, _ := strings.Cut(answer, " ")
	switch rest = strings.TrimSpace(rest); {
	case answer == "":
		return nil
	case answer == "?":
		return w.say("  2 1/4, 57 or 57 mm: a reading; l or r before it: of the left or right side\n" +
			"  y: the move is done; m -1/2: it was moved by that count instead\n" +
			"  n WORDS: a note; p WORDS: a part was changed\n" +
			"  u: strike what was answered last; s: skip the row; q: quit, come back later\n")
	case answer == "u":
		return w.undo(ctx)
	case answer == "s":
		w.skipped[row.GetRow()] = true
		return nil
	case word == "n" && rest != "":
		return w.append(ctx, row.GetRow(), &rowdatumv1.AddNotesRequest{Person: w.person, Notes: []*rowdatumv1.Note{{Row: row.GetRow(), Text: rest}}})
	case word == "p" && rest != "":
		delete(w.reasons, row.GetRow())
		return w.append(ctx, row.GetRow(), &rowdatumv1.ChangePartsRequest{Person: w.person, PartChanges: []*rowdatumv1.PartChange{{Row: row.GetRow(), Part: rest}}})
	}
	return own(ctx, row, answer)
}

// read adds a reading and says what it means.
func (w *walk) read(ctx context.Context, row *rowdatumv1.RowState, answer string) error {
	reading, err := typed(row, answer, w.v.Unit)
	if err != nil {
		return w.say("%s", draw.Paragraph("  ", err.Error()+"; ? for help"))
	}
	return w.tell(row, w.append(ctx, row.GetRow(), &rowdatumv1.AddReadingsRequest{Person: w.person, Readings: []*rowdatumv1.Reading{reading}}))
}

// tell says where the row stands, unless that went wrong.
func (w *walk) tell(row *rowdatumv1.RowState, err error) error {
	if err != nil {
		return err
	}
	return w.say("%s", draw.Row(w.v, row.GetRow()))
}

// moved adds that the row was moved: as planned, or by another count.
func (w *walk) moved(ctx context.Context, row *rowdatumv1.RowState, answer string) error {
	move, err := asPlanned(row)
	if count, ok := strings.CutPrefix(answer, "m "); ok {
		move, err = byCount(row, strings.TrimSpace(count))
	} else if answer != "y" {
		return w.say("  y when it is done; ? for help\n")
	}
	if err != nil {
		return w.say("  %v\n", err)
	}
	return w.append(ctx, row.GetRow(), &rowdatumv1.AddMovesRequest{Person: w.person, Moves: []*rowdatumv1.MoveDone{move}})
}

// undo strikes what was written last and goes back there.
func (w *walk) undo(ctx context.Context) error {
	if len(w.written) == 0 {
		return w.say("  nothing to undo since the walk or the plan began; rowdatum job strike reaches further back\n")
	}
	last := w.written[len(w.written)-1]
	request := &rowdatumv1.StrikeEventsRequest{Person: w.person}
	for _, revision := range slices.Backward(last.revisions) {
		request.Strikes = append(request.Strikes, &rowdatumv1.Strike{Revision: revision, Reason: "undone in the walk"})
	}
	done, _, err := w.client.Append(ctx, w.v.Job.GetName(), request)
	if err != nil {
		return err
	}
	w.v.Job, w.written = done.GetJob(), w.written[:len(w.written)-1]
	if last.row != 0 {
		w.at = last.row
		delete(w.skipped, last.row)
		delete(w.reasons, last.row)
	}
	return w.say("%s", draw.Events(w.v, done.GetEvents()))
}

// plan has a plan made.
func (w *walk) plan(ctx context.Context) error {
	answer, err := w.answer(ctx, fmt.Sprintf("%s. Have a plan made? y, u undo, q quit", draw.Progress(w.v.Job)))
	switch {
	case err != nil:
		return err
	case answer == "u":
		return w.undo(ctx)
	case answer != "y":
		return nil
	}
	aim := w.v.Job.GetAim()
	plan, _, err := planned(ctx, w.client, &w.v, &rowdatumv1.PlanJobRequest{Etag: w.v.Job.GetEtag(), Person: w.person})
	if err != nil {
		return err
	}
	w.at, w.written = 0, nil
	clear(w.skipped)
	return w.say("\n%s\n", draw.Outline(planQuestion(w.v, aim), plan))
}

// skips goes back to the rows that were skipped.
func (w *walk) skips(ctx context.Context) error {
	var names []string
	for _, row := range w.rows() {
		if w.skipped[row.GetRow()] {
			names = append(names, strconv.Itoa(int(row.GetRow())))
		}
	}
	answer, err := w.answer(ctx, "Skipped: "+strings.Join(names, ", ")+". Go there now? y, q quit")
	if err == nil && answer == "y" {
		w.at = 0
		clear(w.skipped)
	}
	return err
}

// nextReason asks for the reasons to sign rows with that are not proven even and cannot be made so.
func (w *walk) nextReason() step {
	var unsure []string
	var first *rowdatumv1.RowState
	for _, row := range w.rows() {
		if row.GetNext() != rowdatumv1.NextStep_EXCEPT || w.reasons[row.GetRow()] != "" {
			continue
		}
		if row.GetVerdict() == rowdatumv1.Verdict_UNSURE && !w.oneByOne {
			unsure = append(unsure, strconv.Itoa(int(row.GetRow())))
			continue
		}
		if first == nil {
			first = row
		}
	}
	switch {
	case first != nil:
		return func(ctx context.Context) error { return w.reason(ctx, first) }
	case len(unsure) > 0 && w.unproven == "":
		return func(ctx context.Context) error { return w.commonReason(ctx, unsure) }
	}
	return nil
}

// reason asks why one row is good enough.
func (w *walk) reason(ctx context.Context, row *rowdatumv1.RowState) error {
	w.goTo(row)
	w.say("%s", draw.Paragraph(fmt.Sprintf("Row %d, %s: ", row.GetRow(), w.place(row)), row.GetWhy()))
	return w.command(ctx, "  why sign it all the same? WORDS, p WORDS part changed, q quit", row, func(_ context.Context, row *rowdatumv1.RowState, answer string) error {
		if !isReason(answer) {
			return w.say("  write why, in words; ? for help\n")
		}
		w.reasons[row.GetRow()] = answer
		return nil
	})
}

// isReason keeps a slip of the finger, like y, from standing as the reason on the sheet.
func isReason(answer string) bool {
	const shortest = 3 // characters of any word that gives a reason
	return len(answer) >= shortest
}

// commonReason asks why all rows that this fixture cannot prove are good enough.
func (w *walk) commonReason(ctx context.Context, rows []string) error {
	w.say("%s", draw.Paragraph("", "Not proven even, and more readings with this fixture will not do it: "+strings.Join(rows, ", ")+"."))
	answer, err := w.answer(ctx, "  why sign them all the same? WORDS, q quit")
	switch {
	case err != nil:
		return err
	case !isReason(answer):
		return w.say("  write why, in words\n")
	}
	w.unproven = answer
	return nil
}

// sign offers to sign.
func (w *walk) sign(ctx context.Context) error {
	answer, err := w.answer(ctx, fmt.Sprintf("%s. Sign as %s? y, u undo, q quit", draw.Progress(w.v.Job), w.person))
	switch {
	case err != nil:
		return err
	case answer == "u":
		return w.undo(ctx)
	case answer != "y":
		return nil
	}
	request := &rowdatumv1.SignJobRequest{Etag: w.v.Job.GetEtag(), Person: w.person}
	for _, row := range w.rows() {
		if reason := w.reasons[row.GetRow()]; reason != "" && row.GetNext() == rowdatumv1.NextStep_EXCEPT {
			request.Exceptions = append(request.Exceptions, &rowdatumv1.Exception{Row: row.GetRow(), Reason: reason})
		}
	}
	if w.unproven != "" {
		request.Exceptions = append(request.Exceptions, &rowdatumv1.Exception{Unproven: true, Reason: w.unproven})
	}
	if err := w.append(ctx, 0, request); err != nil {
		w.unproven, w.oneByOne = "", w.oneByOne || w.unproven != ""
		return err
	}
	return nil
}

// ended says how the job was closed, by this person or another.
func (w *walk) ended() {
	if s := w.v.Job.GetState().GetSignature(); s != nil {
		w.say("Signed by %s. Content:\n  %s\n", s.GetPerson(), s.GetContentHash())
		return
	}
	w.say("%s", draw.Paragraph("Voided: ", w.v.Job.GetState().GetVoidReason()))
}
