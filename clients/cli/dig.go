package main

import (
	"context"
	"fmt"
	"strings"
	"time"

	"google.golang.org/protobuf/types/known/timestamppb"

	"rowdatum/clients/cli/api"
	"rowdatum/clients/cli/draw"
	"rowdatum/clients/cli/sheet"
	rowdatumv1 "rowdatum/proto/gen/rowdatum/v1"
)

// digCommands are rowdatum dig ….
type digCommands struct {
	Add  digAdd  `cmd:"" help:"Keep the depths of dug seeds and print the dig's name."`
	List digList `cmd:"" help:"List the digs of a planter."`
	Show digShow `cmd:"" help:"What a dig says: which rows differ, which differences are noise, what to correct."`
}

// digName is planters/P/digs/D, or P/D.
type digName string

// UnmarshalText reads a dig's name.
func (n *digName) UnmarshalText(text []byte) error {
	name, ok := ofPlanter(string(text), "digs")
	if !ok {
		return fmt.Errorf("%q is not the name of a dig; write it as rowdatum dig list does, or short like creek-six/north-field", text)
	}
	*n = digName(name)
	return nil
}

type digAdd struct {
	Planter planterName `arg:"" help:"The planter, as planter list names it."`
	File    string      `arg:"" help:"The seeds, a line a row: the row's number, then the depth of each seed; - reads standard input."`
	Unit    unitFlag    `placeholder:"in|mm" help:"The unit of bare numbers, where the file's heading says none; set ROWDATUM_UNIT once."`
	Target  lengthFlag  `placeholder:"LENGTH" help:"The wanted planting depth, like 2in or 50mm."`
	Title   string      `placeholder:"WORDS" help:"The field and the place in it."`
	Comment string      `placeholder:"WORDS" help:"Soil, speed, down force."`
	Date    time.Time   `format:"2006-01-02" placeholder:"YYYY-MM-DD" help:"The day; not said otherwise."`
	Person  string      `placeholder:"NAME" help:"Who dug; set ROWDATUM_PERSON once."`
	ID      string      `name:"id" placeholder:"ID" help:"Its id: lower-case letters, digits and hyphens. The service chooses one otherwise."`
}

// Run keeps a dig and prints its name.
func (c *digAdd) Run(ctx context.Context, a *app) error {
	file, err := a.read(c.File)
	if err != nil {
		return err
	}
	seeds, err := sheet.ParseSeeds(file, c.Unit.Unit)
	if err != nil {
		return mistakesIn(c.File, err)
	}
	dig := &rowdatumv1.Dig{Title: c.Title, Person: c.Person, Comment: c.Comment, TargetMm: c.Target.mm, Rows: seeds.Rows}
	if !c.Date.IsZero() {
		dig.DigTime = timestamppb.New(c.Date)
	}
	words := map[string]string{"digId": "--id", "dig.title": "--title", "dig.comment": "--comment", "dig.person": "--person", "dig.targetMm": "--target", "dig.digTime": "--date"}
	return a.kept(func(client *api.Client) error {
		kept, answer, err := client.CreateDig(ctx, string(c.Planter), c.ID, dig)
		if err != nil {
			return refusedIn(c.File, err, within("dig.", seeds.Locate), words)
		}
		return a.print(answer, kept.GetName()+"\n")
	})
}

type digList struct {
	Planter planterName `arg:"" help:"The planter, as planter list names it."`
}

// Run lists digs.
func (c *digList) Run(ctx context.Context, a *app) error {
	return a.kept(func(client *api.Client) error {
		digs, err := client.Digs(ctx, string(c.Planter))
		if err != nil {
			return err
		}
		if a.flags.JSON {
			return a.printMessage(&rowdatumv1.ListDigsResponse{Digs: digs})
		}
		return a.print(nil, draw.Digs(digs))
	})
}

type digShow struct {
	Dig        digName    `arg:"" help:"The dig, as dig list names it, or short like creek-six/north-field."`
	Unit       unitFlag   `placeholder:"in|mm" help:"The unit to show lengths in, the planter's otherwise; set ROWDATUM_UNIT once."`
	Tolerance  lengthFlag `placeholder:"LENGTH" help:"Half of the allowed band around the rows' mean; 1/8in otherwise."`
	Confidence numberFlag `placeholder:"SHARE" help:"How sure a verdict must be; 0.9 otherwise."`
	Within     lengthFlag `placeholder:"LENGTH" help:"How far from the target a seed still counts as placed well; 1/4in otherwise."`
	DegreeDays numberFlag `placeholder:"N" help:"Degree days (°C, base 10) that a day brings here now; days are then told too."`
}

// Run prints what a dig says.
func (c *digShow) Run(ctx context.Context, a *app) error {
	aim := &rowdatumv1.DigAim{ToleranceMm: c.Tolerance.mm, Confidence: c.Confidence.x, WithinMm: c.Within.mm, DailyDegreeDays: c.DegreeDays.x}
	words := map[string]string{"aim.toleranceMm": "--tolerance", "aim.confidence": "--confidence", "aim.withinMm": "--within", "aim.dailyDegreeDays": "--degree-days"}
	return a.kept(func(client *api.Client) error {
		dig, err := client.Dig(ctx, string(c.Dig))
		if err != nil {
			return err
		}
		analysis, answer, err := client.AnalyzeDig(ctx, string(c.Dig), aim)
		if err != nil {
			return refusedIn("the question", err, nowhere, words)
		}
		return a.print(answer, draw.Dig(dig, analysis, c.Unit.Unit))
	})
}

// within locates what stands below a part of the request.
func within(part string, locate func(string) (sheet.Place, bool)) func(string) (sheet.Place, bool) {
	return func(path string) (sheet.Place, bool) { return locate(strings.TrimPrefix(path, part)) }
}
