package main

import (
	"context"
	"errors"
	"fmt"
	"strconv"
	"strings"

	"google.golang.org/protobuf/proto"

	"rowdatum/clients/cli/api"
	"rowdatum/clients/cli/draw"
	"rowdatum/clients/cli/sheet"
	rowdatumv1 "rowdatum/proto/gen/rowdatum/v1"
	"rowdatum/proto/length"
)

type jobRead struct {
	writes
	Row    int32    `arg:"" help:"The row's number."`
	Values []string `arg:"" name:"value" sep:"none" help:"What the fixture read, like \"2 1/4 in\" or 57mm; a bare number needs --unit. left or right before it names the side."`
}

// Run adds readings of a row.
func (c *jobRead) Run(ctx context.Context, a *app) error {
	if err := fractionAlone(c.Values); err != nil {
		return err
	}
	words := map[string]string{}
	for i, value := range c.Values {
		words[fmt.Sprintf("readings[%d].value", i)] = value
	}
	return c.append(ctx, a, "the reading", words, func(v draw.Visit) (proto.Message, error) {
		row, err := rowOf(v, c.Row)
		if err != nil {
			return nil, err
		}
		request := &rowdatumv1.AddReadingsRequest{Person: c.Person}
		for _, value := range c.Values {
			reading, err := typed(row, value, c.Unit.Unit)
			if err != nil {
				return nil, err
			}
			request.Readings = append(request.Readings, reading)
		}
		return request, nil
	})
}

// fractionAlone refuses 2 1/4 without quotes, which arrives as two readings.
func fractionAlone(values []string) error {
	for i := 1; i < len(values); i++ {
		if whole, part := values[i-1], values[i]; length.OneNumber(whole, part) {
			return fmt.Errorf("%s %s: is that one reading or two? Quote one as \"%s %s\"; give two each with its unit", whole, part, whole, part)
		}
	}
	return nil
}

func notReading(text string, err error, r length.Reading) error {
	return errors.New(sheet.NotLength(text, err, r, "or say the unit once, with --unit in or --unit mm"))
}

type jobMove struct {
	writes
	Row       int32  `arg:"" help:"The row's number."`
	Count     string `arg:"" optional:"" help:"How many counts it was moved, like 3/4 or -2; above 0 is deeper, for shims more in the stack."`
	AsPlanned bool   `help:"It was moved as the plan says."`
	To        string `placeholder:"SETTING" help:"Where it stands now, in place of a count, like \"notch 11\" or 2+1."`
}

// Run adds that a row was moved.
func (c *jobMove) Run(ctx context.Context, a *app) error {
	words := map[string]string{"moves[0]": "the move", "moves[0].count": "COUNT", "moves[0].settingAfter": "--to"}
	return c.append(ctx, a, "the move", words, func(v draw.Visit) (proto.Message, error) {
		row, err := rowOf(v, c.Row)
		if err != nil {
			return nil, err
		}
		move, err := c.move(v, row)
		return &rowdatumv1.AddMovesRequest{Person: c.Person, Moves: []*rowdatumv1.MoveDone{move}}, err
	})
}

// move is what the one of the three ways says.
func (c *jobMove) move(v draw.Visit, row *rowdatumv1.RowState) (*rowdatumv1.MoveDone, error) {
	switch {
	case c.AsPlanned && c.Count == "" && c.To == "":
		return asPlanned(row)
	case c.To != "" && c.Count == "" && !c.AsPlanned:
		style, err := styleOf(v, row)
		if err != nil {
			return nil, err
		}
		move := moveFrom(row)
		move.SettingAfter, err = sheet.ParseSetting(c.To, style, length.Reading{Bare: c.Unit.Unit})
		return move, err
	case c.Count != "" && c.To == "" && !c.AsPlanned:
		return byCount(row, c.Count)
	}
	return nil, errors.New("say how the row was moved in one way: COUNT, --as-planned or --to SETTING")
}

// moveFrom begins a move from where the row stands as this writer knows it.
func moveFrom(row *rowdatumv1.RowState) *rowdatumv1.MoveDone {
	return &rowdatumv1.MoveDone{Row: row.GetRow(), SettingBefore: row.GetSetting(), AfterMove: proto.Int32(row.GetLastMove())}
}

// asPlanned is the move that the plan asks of a row.
func asPlanned(row *rowdatumv1.RowState) (*rowdatumv1.MoveDone, error) {
	if row.GetMove() == nil {
		return nil, fmt.Errorf("the plan asks for no move of row %d now; next there: %s", row.GetRow(), draw.Next(row))
	}
	move := moveFrom(row)
	move.Count, move.SettingAfter = proto.Float64(row.GetMove().GetCount()), row.GetMove().GetSettingAfter()
	return move, nil
}

// byCount is a move by a count that a person typed.
func byCount(row *rowdatumv1.RowState, text string) (*rowdatumv1.MoveDone, error) {
	count, err := length.Reading{}.Number(text)
	if err != nil {
		return nil, errors.New(sheet.NotNumber(text, err, " is not a count; write one like 3/4 or -2"))
	}
	move := moveFrom(row)
	move.Count = proto.Float64(length.Float(count))
	return move, nil
}

// styleOf returns the style of a row's mechanism.
func styleOf(v draw.Visit, row *rowdatumv1.RowState) (*rowdatumv1.Style, error) {
	for _, m := range v.Opened.GetPlanter().GetMechanisms() {
		for _, style := range v.Styles {
			if m.GetId() == row.GetMechanism() && style.GetName() == "styles/"+m.GetStyle() {
				return style, nil
			}
		}
	}
	return nil, fmt.Errorf("the service does not tell the style of row %d, so its figures cannot be read", row.GetRow())
}

type jobPlan struct {
	writes
	aimFlags
	Replan bool  `help:"Search freely, even where rows that were moved and are even would have to move again."`
	Dry    bool  `help:"Only compute it: nothing is kept."`
	Seen   int32 `placeholder:"REVISION" help:"The revision that you saw: refused where more has happened since."`
}

// Run has a plan made and prints it.
func (c *jobPlan) Run(ctx context.Context, a *app) error {
	_, flagOf := c.aimFlags.fields()
	return a.kept(func(client *api.Client) error {
		v, _, err := c.visit(ctx, client)
		if err != nil {
			return err
		}
		if err := seen(v, c.Seen); err != nil {
			return err
		}
		aim := c.over(v.Job.GetAim())
		plan, answer, err := planned(ctx, client, &v, &rowdatumv1.PlanJobRequest{Etag: v.Job.GetEtag(), Replan: c.Replan, Aim: aim, Person: c.Person, ValidateOnly: c.Dry})
		if err != nil {
			return refusedIn("the plan", err, nowhere, flagOf)
		}
		return a.print(answer, draw.Plan(planQuestion(v, aim), plan))
	})
}

// seen refuses a job that has gone on since a revision; 0 is whatever it is.
func seen(v draw.Visit, revision int32) error {
	if revision != 0 && v.Job.GetRevision() != revision {
		return fmt.Errorf("the job is at revision %d now, not %d: look at it again, then decide", v.Job.GetRevision(), revision)
	}
	return nil
}

// planned has a plan made and brings the visit up to it.
func planned(ctx context.Context, client *api.Client, v *draw.Visit, request *rowdatumv1.PlanJobRequest) (*rowdatumv1.Plan, []byte, error) {
	done, answer, err := client.Append(ctx, v.Job.GetName(), request)
	if err != nil {
		return nil, nil, err
	}
	v.Job = done.GetJob()
	for _, e := range done.GetEvents() {
		if plan := e.GetPlanIssued().GetPlan(); plan != nil {
			return plan, answer, nil
		}
	}
	return nil, nil, errors.New("the service answered without a plan; is it a rowdatum service?")
}

// planQuestion is what a plan of a job answers.
func planQuestion(v draw.Visit, aim *rowdatumv1.Aim) draw.Question {
	fixture := v.Opened.GetFixture()
	request := &rowdatumv1.ComputePlanRequest{Aim: aim, Reach: v.Job.GetReach(), Mechanisms: v.Opened.GetPlanter().GetMechanisms(),
		Fixture: &rowdatumv1.FixtureFigures{ResolutionMm: fixture.ResolutionMm, RepeatabilityMm: fixture.RepeatabilityMm, FloorMm: fixture.FloorMm}}
	for _, row := range v.Walk() {
		request.Rows = append(request.Rows, &rowdatumv1.RowReadings{Row: row.GetRow(), Mechanism: row.GetMechanism()})
	}
	return draw.Question{Planter: v.Opened.GetPlanter().GetDisplayName(), Unit: v.Unit, Request: request, Styles: v.Styles}
}

type jobTick struct {
	writes
	All bool `help:"Print them all and tick them all: only for who has seen to each."`
}

// Run ticks cautions: each after an answer of its own, or all that are open.
func (c *jobTick) Run(ctx context.Context, a *app) error {
	if c.Person == "" {
		return errors.New("a caution is ticked by a named person; give --person")
	}
	return a.kept(func(client *api.Client) error {
		v, answer, err := c.visit(ctx, client)
		if err != nil {
			return err
		}
		if c.All {
			return c.all(ctx, a, client, v, answer)
		}
		w := newWalk(a, client, v, c.Person)
		if err := w.run(ctx, w.nextCaution); err != nil || !a.flags.JSON {
			return err
		}
		_, answer, err = client.Job(ctx, string(c.Job))
		return errors.Join(err, a.print(answer, ""))
	})
}

// all prints the open cautions, then ticks them.
func (c *jobTick) all(ctx context.Context, a *app, client *api.Client, v draw.Visit, answer []byte) error {
	open := openCautions(v.Job)
	if len(open) == 0 {
		return a.print(answer, "Every caution is ticked.\n")
	}
	request := &rowdatumv1.TickCautionsRequest{Person: c.Person}
	for _, caution := range open {
		request.Ticks = append(request.Ticks, &rowdatumv1.CautionTick{Caution: caution.GetId()})
	}
	if _, err := fmt.Fprint(a.talkTo(), draw.Cautions(open)); err != nil {
		return err
	}
	_, answer, err := client.Append(ctx, v.Job.GetName(), request)
	if err != nil {
		return refusedIn("the tick", err, nowhere, map[string]string{"person": "--person"})
	}
	return a.print(answer, fmt.Sprintf("Ticked by %s: each of these is so.\n", c.Person))
}

// openCautions are those that nobody has ticked.
func openCautions(job *rowdatumv1.Job) []*rowdatumv1.CautionState {
	var open []*rowdatumv1.CautionState
	for _, caution := range job.GetState().GetCautions() {
		if caution.GetPerson() == "" {
			open = append(open, caution)
		}
	}
	return open
}

type jobInspect struct {
	writes
	Row     int32  `arg:"" help:"The row's number."`
	Point   string `arg:"" help:"The point, as rowdatum styles names it."`
	Value   string `arg:"" optional:"" help:"The figure, like 1.5mm; none for a point judged by eye."`
	Worn    bool   `help:"Judged worn out by eye; where a point has a limit, that decides."`
	Comment string `placeholder:"WORDS" help:"In words."`
}

// Run adds what an inspection found.
func (c *jobInspect) Run(ctx context.Context, a *app) error {
	words := map[string]string{"inspections[0].point": "POINT", "inspections[0].value": "VALUE", "inspections[0].comment": "--comment", "inspections[0].row": "ROW"}
	return c.append(ctx, a, "the inspection", words, func(v draw.Visit) (proto.Message, error) {
		in := &rowdatumv1.Inspection{Row: c.Row, Point: c.Point, Worn: c.Worn, Comment: c.Comment}
		var err error
		if c.Value != "" {
			in.Value, err = c.figure(v)
		}
		return &rowdatumv1.AddInspectionsRequest{Person: c.Person, Inspections: []*rowdatumv1.Inspection{in}}, err
	})
}

// figure reads the value in the unit of the point: lengths are mm.
func (c *jobInspect) figure(v draw.Visit) (*float64, error) {
	r := length.Reading{Bare: c.Unit.Unit}
	if !c.isLength(v) {
		number, err := r.Number(c.Value)
		if err != nil {
			return nil, errors.New(sheet.NotNumber(c.Value, err, " is not a number"))
		}
		return proto.Float64(length.Float(number)), nil
	}
	mm, err := r.Mm(c.Value)
	if err != nil {
		return nil, notReading(c.Value, err, r)
	}
	return proto.Float64(length.Float(mm)), nil
}

// isLength reports whether the point is measured in mm; one that is not known is taken to be.
func (c *jobInspect) isLength(v draw.Visit) bool {
	row, err := rowOf(v, c.Row)
	if err != nil {
		return true
	}
	style, _ := styleOf(v, row) // none has no points
	for _, point := range style.GetInspectionPoints() {
		if point.GetId() == c.Point {
			return point.GetUnit() == "mm"
		}
	}
	return true
}

type jobPart struct {
	writes
	Row  int32  `arg:"" help:"The row's number."`
	Part string `arg:"" help:"Which part was changed, in words. What was learned of the row ends there."`
}

// Run adds that a part was changed.
func (c *jobPart) Run(ctx context.Context, a *app) error {
	return c.append(ctx, a, "the change", map[string]string{"partChanges[0].part": "PART", "partChanges[0].row": "ROW"}, func(draw.Visit) (proto.Message, error) {
		return &rowdatumv1.ChangePartsRequest{Person: c.Person, PartChanges: []*rowdatumv1.PartChange{{Row: c.Row, Part: c.Part}}}, nil
	})
}

type jobNote struct {
	writes
	Text string `arg:"" help:"The note."`
	Row  int32  `placeholder:"ROW" help:"The row that it is about; the job otherwise."`
}

// Run adds a note.
func (c *jobNote) Run(ctx context.Context, a *app) error {
	return c.append(ctx, a, "the note", map[string]string{"notes[0].text": "TEXT", "notes[0].row": "--row"}, func(draw.Visit) (proto.Message, error) {
		return &rowdatumv1.AddNotesRequest{Person: c.Person, Notes: []*rowdatumv1.Note{{Row: c.Row, Text: c.Text}}}, nil
	})
}

type jobStrike struct {
	writes
	Revision int32  `arg:"" help:"The number of the event, as job events lists it."`
	Reason   string `placeholder:"WORDS" help:"Why."`
}

// Run strikes an event.
func (c *jobStrike) Run(ctx context.Context, a *app) error {
	return c.append(ctx, a, "the strike", map[string]string{"strikes[0].revision": "REVISION", "strikes[0].reason": "--reason"}, func(draw.Visit) (proto.Message, error) {
		return &rowdatumv1.StrikeEventsRequest{Person: c.Person, Strikes: []*rowdatumv1.Strike{{Revision: c.Revision, Reason: c.Reason}}}, nil
	})
}

type jobSign struct {
	writes
	Except         []exceptFlag `sep:"none" placeholder:"ROW: REASON" help:"A row that is signed although not proven even, and why, like \"9: worn arm, parts ordered\"; again for each."`
	ExceptUnproven string       `placeholder:"REASON" help:"Why all rows that this fixture cannot prove are good enough."`
	Seen           int32        `placeholder:"REVISION" help:"The revision that you saw: refused where more has happened since."`
}

// exceptFlag is one exception on the command line.
type exceptFlag struct {
	row    int32
	reason string
}

// UnmarshalText reads ROW: REASON.
func (f *exceptFlag) UnmarshalText(text []byte) error {
	number, reason, ok := strings.Cut(string(text), ":")
	row, err := strconv.ParseInt(strings.TrimSpace(number), 10, 32)
	f.row, f.reason = int32(row), strings.TrimSpace(reason)
	if !ok || err != nil || f.reason == "" {
		return fmt.Errorf("%q is not a row and a reason; write like \"9: worn arm, parts ordered\"", text)
	}
	return nil
}

// Run signs the job.
func (c *jobSign) Run(ctx context.Context, a *app) error {
	if c.Person == "" {
		return errors.New("a job is signed by a named person; give --person")
	}
	words := map[string]string{"person": "--person"}
	return c.append(ctx, a, "the signature", words, func(v draw.Visit) (proto.Message, error) {
		request := &rowdatumv1.SignJobRequest{Etag: v.Job.GetEtag(), Person: c.Person}
		for i, x := range c.Except {
			words[fmt.Sprintf("exceptions[%d].row", i)] = "--except"
			request.Exceptions = append(request.Exceptions, &rowdatumv1.Exception{Row: x.row, Reason: x.reason})
		}
		if c.ExceptUnproven != "" {
			request.Exceptions = append(request.Exceptions, &rowdatumv1.Exception{Unproven: true, Reason: c.ExceptUnproven})
		}
		return request, seen(v, c.Seen)
	})
}

type jobVoid struct {
	writes
	Reason string `required:"" placeholder:"WORDS" help:"Why it came to nothing."`
}

// Run voids the job.
func (c *jobVoid) Run(ctx context.Context, a *app) error {
	return c.append(ctx, a, "the end of the job", map[string]string{"reason": "--reason"}, func(draw.Visit) (proto.Message, error) {
		return &rowdatumv1.VoidJobRequest{Person: c.Person, Reason: c.Reason}, nil
	})
}
