package main

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"strings"

	"google.golang.org/protobuf/encoding/protojson"

	"rowdatum/clients/cli/api"
	"rowdatum/clients/cli/draw"
	"rowdatum/clients/cli/sheet"
	rowdatumv1 "rowdatum/proto/gen/rowdatum/v1"
	"rowdatum/proto/length"
)

// planterCommands are rowdatum planter ….
type planterCommands struct {
	Add  planterAdd  `cmd:"" help:"Keep the planter that a file describes: the file that plan reads; its readings are not needed."`
	List planterList `cmd:"" help:"List the planters."`
	Show planterShow `cmd:"" help:"Show a planter: its mechanisms, its rows and where they stand."`
}

// planterName is planters/ID, or the ID alone.
type planterName string

// UnmarshalText reads a planter's name.
func (n *planterName) UnmarshalText(text []byte) error {
	id := strings.TrimPrefix(string(text), "planters/")
	if !isID(id) {
		return fmt.Errorf("%q is not the name of a planter; write it as rowdatum planter list does", text)
	}
	*n = planterName("planters/" + id)
	return nil
}

// isID reports whether text can stand in an address: the service says the rest.
func isID(text string) bool {
	return text != "" && strings.Trim(text, "abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789-_.") == ""
}

// unitFlag is a unit on the command line; the zero value says none.
type unitFlag struct{ length.Unit }

// UnmarshalText reads a unit.
func (f *unitFlag) UnmarshalText(text []byte) error {
	unit, ok := length.ParseUnit(string(text))
	if !ok || unit == length.Centimeter {
		return fmt.Errorf("%q is not a unit; write in or mm", text)
	}
	f.Unit = unit
	return nil
}

// spoken is the unit as the service names it.
func (f unitFlag) spoken() rowdatumv1.LengthUnit { return draw.Spoken(f.Unit) }

type planterAdd struct {
	File string `arg:"" help:"The planter's file: a spreadsheet saved as CSV, or a planter as JSON; - reads standard input."`
	ID   string `name:"id" placeholder:"ID" help:"Its id: lower-case letters, digits and hyphens. The service chooses one otherwise."`
}

// Run adds a planter and prints its name.
func (c *planterAdd) Run(ctx context.Context, a *app) error {
	file, err := a.read(c.File)
	if err != nil {
		return err
	}
	return a.kept(func(client *api.Client) error {
		planter, locate, err := a.readPlanter(ctx, client, c.File, file)
		if err != nil {
			return err
		}
		made, answer, err := client.CreatePlanter(ctx, c.ID, planter)
		if err != nil {
			return refusedIn(c.File, err, locate, map[string]string{"planterId": "--id"})
		}
		return a.print(answer, made.GetName()+"\n")
	})
}

// readPlanter makes the JSON of a planter of a file: of JSON as it stands, else of a sheet.
func (a *app) readPlanter(ctx context.Context, client *api.Client, name string, file []byte) (planter []byte, locate func(string) (sheet.Place, bool), err error) {
	if text := bytes.TrimPrefix(file, []byte("\uFEFF")); bytes.HasPrefix(bytes.TrimSpace(text), []byte("{")) {
		return text, nowhere, nil
	}
	styles, err := client.Styles(ctx)
	if err != nil {
		return nil, nil, err
	}
	s, err := sheet.ParsePlanter(file, styles, a.beside(name))
	if err != nil {
		return nil, nil, mistakesIn(name, err)
	}
	if out := s.LeftOut(); len(out) > 0 {
		fmt.Fprintf(a.stderr, "Not kept, for a planter has none: %s. See fixture add, job open and job read.\n", strings.Join(out, ", "))
	}
	planter, err = protojson.Marshal(s.AsPlanter())
	return planter, within("planter.", s.Locate), err
}

// nowhere locates nothing.
func nowhere(string) (sheet.Place, bool) { return sheet.Place{}, false }

// print prints an answer: as JSON where that is asked for, else as text.
func (a *app) print(answer []byte, text string) error {
	if a.flags.JSON {
		return a.printJSON(answer)
	}
	_, err := fmt.Fprint(a.stdout, text)
	return err
}

type planterList struct{}

// Run lists planters.
func (c *planterList) Run(ctx context.Context, a *app) error {
	return a.kept(func(client *api.Client) error {
		planters, err := client.Planters(ctx)
		if err != nil {
			return err
		}
		if a.flags.JSON {
			return a.printMessage(&rowdatumv1.ListPlantersResponse{Planters: planters})
		}
		return a.print(nil, draw.Planters(planters))
	})
}

type planterShow struct {
	Planter planterName `arg:"" help:"The planter, as planter list names it."`
	Unit    unitFlag    `placeholder:"in|mm" help:"The unit to show lengths in, the planter's otherwise."`
}

// Run shows a planter.
func (c *planterShow) Run(ctx context.Context, a *app) error {
	return a.kept(func(client *api.Client) error {
		planter, answer, err := client.Planter(ctx, string(c.Planter))
		if err != nil {
			return err
		}
		return a.print(answer, draw.Planter(planter, c.Unit.Unit))
	})
}

// fixtureCommands are rowdatum fixture ….
type fixtureCommands struct {
	Add   fixtureAdd   `cmd:"" help:"Keep a fixture and print its name."`
	List  fixtureList  `cmd:"" help:"List the fixtures."`
	Study fixtureStudy `cmd:"" help:"What repeated readings say of a fixture: how well it repeats, and what it can prove."`
}

type fixtureAdd struct {
	Name    string     `arg:"" help:"What people call it."`
	Kind    string     `required:"" enum:"window,blocks,pointer-plate" placeholder:"KIND" help:"How its number becomes a depth: window (a tape reads the depth), blocks (the gap below the opener is read) or pointer-plate."`
	ID      string     `name:"id" placeholder:"ID" help:"Its id: lower-case letters, digits and hyphens. The service chooses one otherwise."`
	Ruling  lengthFlag `placeholder:"LENGTH" help:"Spacing of its ruling, like 1/16in or 1mm; 1/16in otherwise."`
	Repeats lengthFlag `placeholder:"LENGTH" help:"Standard deviation of repeated readings; 0.5mm otherwise, 0.8mm for blocks."`
	Floor   lengthFlag `placeholder:"LENGTH" help:"How uneven the floor is, as a standard deviation; nothing otherwise, 1mm for blocks."`
	Zero    lengthFlag `placeholder:"LENGTH" help:"Height of the blocks; of another kind, what is added to its number."`
}

// Run adds a fixture and prints its name.
func (c *fixtureAdd) Run(ctx context.Context, a *app) error {
	kind := rowdatumv1.Fixture_Kind_value[strings.ToUpper(strings.ReplaceAll(c.Kind, "-", "_"))]
	fixture := &rowdatumv1.Fixture{DisplayName: c.Name, Kind: rowdatumv1.Fixture_Kind(kind),
		ResolutionMm: c.Ruling.mm, RepeatabilityMm: c.Repeats.mm, FloorMm: c.Floor.mm, ZeroMm: c.Zero.mm}
	return a.kept(func(client *api.Client) error {
		made, answer, err := client.CreateFixture(ctx, c.ID, fixture)
		if err != nil {
			return refusedIn("the fixture", err, nowhere, map[string]string{"fixtureId": "--id", "fixture.displayName": "NAME", "fixture.resolutionMm": "--ruling",
				"fixture.repeatabilityMm": "--repeats", "fixture.floorMm": "--floor", "fixture.zeroMm": "--zero"})
		}
		return a.print(answer, made.GetName()+"\n")
	})
}

type fixtureList struct{}

// Run lists fixtures.
func (c *fixtureList) Run(ctx context.Context, a *app) error {
	return a.kept(func(client *api.Client) error {
		fixtures, err := client.Fixtures(ctx)
		if err != nil {
			return err
		}
		if a.flags.JSON {
			return a.printMessage(&rowdatumv1.ListFixturesResponse{Fixtures: fixtures})
		}
		return a.print(nil, draw.Fixtures(fixtures))
	})
}

// fixtureName is fixtures/ID, or the ID alone; empty names none.
type fixtureName string

// UnmarshalText reads a fixture's name.
func (n *fixtureName) UnmarshalText(text []byte) error {
	id := strings.TrimPrefix(string(text), "fixtures/")
	if !isID(id) {
		return errors.New("that is not the name of a fixture; write it as rowdatum fixture list does")
	}
	*n = fixtureName("fixtures/" + id)
	return nil
}
