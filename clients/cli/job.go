package main

import (
	"context"
	"fmt"
	"strings"

	"google.golang.org/protobuf/proto"

	"rowdatum/clients/cli/api"
	"rowdatum/clients/cli/draw"
	rowdatumv1 "rowdatum/proto/gen/rowdatum/v1"
	"rowdatum/proto/length"
)

// jobCommands are rowdatum job ….
type jobCommands struct {
	Open    jobOpen    `cmd:"" help:"Open a job on a planter and print its name."`
	List    jobList    `cmd:"" help:"List jobs, newest first."`
	Show    jobShow    `cmd:"" help:"Show how a job stands and what to do next."`
	Walk    jobWalk    `cmd:"" help:"Walk the rows: asks row by row, from the cautions to the signature. Leave and come back as you like."`
	Tick    jobTick    `cmd:"" help:"Tick the cautions, one by one, by a named person."`
	Read    jobRead    `cmd:"" help:"Add readings of a row."`
	Plan    jobPlan    `cmd:"" help:"Have a plan made of what was read."`
	Move    jobMove    `cmd:"" help:"Add that a row was moved."`
	Inspect jobInspect `cmd:"" help:"Add what an inspection of a row found."`
	Part    jobPart    `cmd:"" help:"Add that a part of a row was changed."`
	Note    jobNote    `cmd:"" help:"Add a note."`
	Strike  jobStrike  `cmd:"" help:"Strike an earlier event: a wrong reading is not edited."`
	Sign    jobSign    `cmd:"" help:"Sign the job: it takes no more events."`
	Void    jobVoid    `cmd:"" help:"Close a job that came to nothing."`
	Marks   jobMarks   `cmd:"" help:"Print the card of marks to copy onto the handles."`
	Events  jobEvents  `cmd:"" help:"List everything that happened, in order."`
	Verify  jobVerify  `cmd:"" help:"Check, without any service, that a job in a file is still what was signed."`
	Watch   jobWatch   `cmd:"" help:"Print what happens as it happens, until the job is closed."`
}

// jobName is planters/P/jobs/J, or P/J.
type jobName string

// UnmarshalText reads a job's name.
func (n *jobName) UnmarshalText(text []byte) error {
	name, ok := ofPlanter(string(text), "jobs")
	if !ok {
		return fmt.Errorf("%q is not the name of a job; write it as rowdatum job list does, or short like creek-six/spring", text)
	}
	*n = jobName(name)
	return nil
}

// ofPlanter reads the name of what belongs to a planter: planters/P/jobs/J, or P/J.
func ofPlanter(text, kind string) (name string, ok bool) {
	parts := strings.Split(text, "/")
	if len(parts) == 4 && parts[0] == "planters" && parts[2] == kind {
		parts = []string{parts[1], parts[3]}
	}
	if len(parts) != 2 || !isID(parts[0]) || !isID(parts[1]) {
		return "", false
	}
	return "planters/" + parts[0] + "/" + kind + "/" + parts[1], true
}

// jobArg is the job of a command, and how to show it.
type jobArg struct {
	Job  jobName  `arg:"" help:"The job, as job list names it, or short like creek-six/spring."`
	Unit unitFlag `placeholder:"in|mm" help:"The unit of bare numbers, and the one to show lengths in; set ROWDATUM_UNIT once."`
}

// writes is what every command has that writes to a job.
type writes struct {
	jobArg
	Person string `placeholder:"NAME" help:"Who did it; set ROWDATUM_PERSON once. The key's label otherwise."`
}

// visit fetches a job with what its words come from.
func (j jobArg) visit(ctx context.Context, client *api.Client) (draw.Visit, []byte, error) {
	job, answer, err := client.Job(ctx, string(j.Job))
	if err != nil {
		return draw.Visit{}, nil, err
	}
	v := draw.Visit{Job: job, Unit: j.Unit.Unit, Left: true}
	if v.Opened, err = client.Opened(ctx, string(j.Job)); err != nil {
		return v, nil, err
	}
	v.Styles, err = optionalStyles(ctx, client)
	return v, answer, err
}

// row returns the state of a row.
func rowOf(v draw.Visit, number int32) (*rowdatumv1.RowState, error) {
	for _, row := range v.Job.GetState().GetRows() {
		if row.GetRow() == number {
			return row, nil
		}
	}
	return nil, fmt.Errorf("the planter has no row %d", number)
}

// append writes to the job and prints what that did. what says in an error what was refused, words are by
// what a person knows the parts of the request.
func (w writes) append(ctx context.Context, a *app, what string, words map[string]string, request func(draw.Visit) (proto.Message, error)) error {
	return a.kept(func(client *api.Client) error {
		v, _, err := w.visit(ctx, client)
		if err != nil {
			return err
		}
		asked, err := request(v)
		if err != nil {
			return err
		}
		done, answer, err := client.Append(ctx, string(w.Job), asked)
		if err != nil {
			return refusedIn(what, err, nowhere, words)
		}
		v.Job = done.GetJob()
		return a.print(answer, draw.Events(v, done.GetEvents())+rowsAfter(v, done.GetEvents()))
	})
}

// rowsAfter says of every row that events are about where it now stands.
func rowsAfter(v draw.Visit, events []*rowdatumv1.JobEvent) string {
	text, said := "", map[int32]bool{}
	for _, e := range events {
		row := max(e.GetReading().GetRow(), e.GetMove().GetRow(), e.GetPartChange().GetRow())
		if row > 0 && !said[row] {
			text, said[row] = text+draw.Row(v, row), true
		}
	}
	return text
}

type jobOpen struct {
	aimFlags
	Planter   planterName `arg:"" help:"The planter, as planter list names it."`
	Fixture   fixtureName `placeholder:"FIXTURE" help:"The fixture that takes the readings, as fixture list names it; a window fixture with common figures otherwise."`
	WorkOrder string      `placeholder:"NUMBER" help:"The shop's work order."`
	Hectares  *float64    `placeholder:"N" xor:"area" help:"Hectares that the planter has planted in all by now: what wear is told against."`
	Acres     *float64    `placeholder:"N" xor:"area" help:"The same in acres."`
	Unit      unitFlag    `placeholder:"in|mm" help:"The unit that its words say lengths in, the planter's otherwise; set ROWDATUM_UNIT once."`
	Verify    string      `enum:"moved,when-needed" default:"moved" help:"Which rows are read again after a move: moved (every one) or when-needed (those not foretold even)."`
	Person    string      `placeholder:"NAME" help:"Who opens it; set ROWDATUM_PERSON once."`
	ID        string      `name:"id" placeholder:"ID" help:"Its id: lower-case letters, digits and hyphens. The service chooses one otherwise."`
}

// Run opens a job and prints its name.
func (c *jobOpen) Run(ctx context.Context, a *app) error {
	verify := rowdatumv1.Job_MOVED
	if c.Verify == "when-needed" {
		verify = rowdatumv1.Job_WHEN_NEEDED
	}
	_, flagOf := c.aimFlags.fields()
	words := map[string]string{"jobId": "--id", "job.fixture": "--fixture", "job.workOrder": "--work-order", "job.hectares": "--hectares", "job.plantedArea": "--acres", "person": "--person"}
	for field, flag := range flagOf {
		words["job."+field] = flag
	}
	return a.kept(func(client *api.Client) error {
		asked := &rowdatumv1.Job{Fixture: string(c.Fixture), WorkOrder: c.WorkOrder, Aim: c.over(nil), Verify: verify, Hectares: c.Hectares, LengthUnit: c.Unit.spoken()}
		if c.Acres != nil {
			asked.PlantedArea, asked.AreaUnit = c.Acres, rowdatumv1.AreaUnit_ACRE
		}
		job, answer, err := client.CreateJob(ctx, string(c.Planter), c.ID, c.Person, asked)
		if err != nil {
			return refusedIn("the job", err, nowhere, words)
		}
		return a.print(answer, job.GetName()+"\n")
	})
}

type jobList struct {
	Planter planterName `arg:"" optional:"" help:"Only jobs of this planter."`
	Open    bool        `help:"Only jobs that are open."`
}

// Run lists jobs.
func (c *jobList) Run(ctx context.Context, a *app) error {
	planter, filter := c.Planter, ""
	if planter == "" {
		planter = "planters/-"
	}
	if c.Open {
		filter = "stage=OPEN"
	}
	return a.kept(func(client *api.Client) error {
		jobs, err := client.Jobs(ctx, string(planter), filter)
		if err != nil {
			return err
		}
		if a.flags.JSON {
			return a.printMessage(&rowdatumv1.ListJobsResponse{Jobs: jobs})
		}
		return a.print(nil, draw.Jobs(jobs))
	})
}

type jobShow struct {
	jobArg
	From fromFlag `placeholder:"left|right" help:"From which end the rows are listed (left)."`
}

// fromFlag is an end of the planter; the zero value is the left.
type fromFlag struct{ right bool }

// UnmarshalText reads left or right.
func (f *fromFlag) UnmarshalText(text []byte) error {
	f.right = string(text) == "right"
	if !f.right && string(text) != "left" {
		return fmt.Errorf("%q is not an end of the planter; write left or right, as seen from behind", text)
	}
	return nil
}

// Run shows a job.
func (c *jobShow) Run(ctx context.Context, a *app) error {
	return a.kept(func(client *api.Client) error {
		v, answer, err := c.visit(ctx, client)
		if err != nil {
			return err
		}
		v.Left = !c.From.right
		return a.print(answer, draw.Job(v))
	})
}

type jobMarks struct{ jobArg }

// Run prints the card of marks.
func (c *jobMarks) Run(ctx context.Context, a *app) error {
	return a.kept(func(client *api.Client) error {
		v, _, err := c.visit(ctx, client)
		if err != nil {
			return err
		}
		if a.flags.JSON {
			return a.printMessage(&rowdatumv1.JobState{Marks: v.Job.GetState().GetMarks()})
		}
		return a.print(nil, draw.Marks(v))
	})
}

type jobEvents struct{ jobArg }

// Run lists a job's events.
func (c *jobEvents) Run(ctx context.Context, a *app) error {
	return a.kept(func(client *api.Client) error {
		v, _, err := c.visit(ctx, client)
		if err != nil {
			return err
		}
		events, err := client.Events(ctx, string(c.Job))
		if err != nil {
			return err
		}
		if a.flags.JSON {
			return a.printMessage(&rowdatumv1.ListJobEventsResponse{Events: events})
		}
		return a.print(nil, draw.Events(v, events))
	})
}

type jobWatch struct {
	jobArg
	After int32 `placeholder:"REVISION" help:"Begin behind this event; with the first one otherwise."`
}

// Run prints a job's events as they come; with --json one message a line.
func (c *jobWatch) Run(ctx context.Context, a *app) error {
	return a.kept(func(client *api.Client) error {
		v, _, err := c.visit(ctx, client)
		if err != nil || v.Job.GetStage() != rowdatumv1.Job_OPEN && v.Job.GetRevision() <= c.After {
			return err
		}
		watcher := api.Watcher{Client: client, Job: string(c.Job), After: c.After,
			News: func(m *rowdatumv1.WatchJobResponse, raw []byte) error {
				if a.flags.JSON {
					_, err := fmt.Fprintf(a.stdout, "%s\n", raw)
					return err
				}
				v.Job = m.GetJob()
				_, err := fmt.Fprint(a.stdout, draw.Events(v, m.GetEvents()))
				return err
			},
			Lost: func(error) { fmt.Fprintln(a.stderr, "The connection broke; connecting again.") },
		}
		return watcher.Run(ctx)
	})
}

// typed reads what a person typed of a row: left or right before the number names the side. bare is the
// unit of a bare number.
func typed(row *rowdatumv1.RowState, text string, bare length.Unit) (*rowdatumv1.Reading, error) {
	reading := &rowdatumv1.Reading{Row: row.GetRow(), AfterMove: row.GetLastMove()}
	number := strings.TrimSpace(text)
	if word, rest, ok := strings.Cut(number, " "); ok {
		switch strings.ToLower(word) {
		case "l", "left":
			reading.Side, number = rowdatumv1.Side_LEFT, rest
		case "r", "right":
			reading.Side, number = rowdatumv1.Side_RIGHT, rest
		}
	}
	r := length.Reading{Bare: bare}
	value, unit, err := r.Typed(number)
	if err != nil {
		return nil, notReading(number, err, r)
	}
	reading.Value, reading.Unit = new(length.Float(value)), rowdatumv1.LengthUnit_MM
	switch unit {
	case length.Inch:
		reading.Unit = rowdatumv1.LengthUnit_IN
	case length.Centimeter: // the log knows mm and inches
		mm, err := r.Mm(number)
		if err != nil {
			return nil, err
		}
		reading.Value = new(length.Float(mm))
	}
	return reading, nil
}
