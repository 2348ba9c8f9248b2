package main

import (
	"context"
	"errors"
	"fmt"

	"rowdatum/clients/cli/api"
	"rowdatum/clients/cli/draw"
	"rowdatum/clients/cli/sheet"
	rowdatumv1 "rowdatum/proto/gen/rowdatum/v1"
	"rowdatum/proto/length"
)

// fieldCommands are rowdatum field ….
type fieldCommands struct {
	Move fieldMove `cmd:"" help:"What to do to every row to plant deeper or shallower; changes nothing."`
	Card fieldCard `cmd:"" help:"The planter at a glance: how it was signed, its marks, field moves for common changes."`
}

type fieldMove struct {
	Planter planterName `arg:"" help:"The planter, as planter list names it."`
	Change  string      `arg:"" help:"How much deeper, like +1/4in, or shallower, like -6mm."`
	Unit    unitFlag    `placeholder:"in|mm" help:"The unit of a bare number, and the one to show lengths in; that of CHANGE otherwise."`
}

// Run prints a field move.
func (c *fieldMove) Run(ctx context.Context, a *app) error {
	r := length.Reading{Bare: c.Unit.Unit}
	deltaMm, err := r.Mm(c.Change)
	if err != nil {
		return errors.New(sheet.NotLength(c.Change, err, r, "or say the unit with --unit"))
	}
	_, unit, err := r.Typed(c.Change)
	if err != nil {
		return err
	}
	if c.Unit.Unit != length.NoUnit {
		unit = c.Unit.Unit
	}
	return a.kept(func(client *api.Client) error {
		planter, _, err := client.Planter(ctx, string(c.Planter))
		if err != nil {
			return err
		}
		move, answer, err := client.FieldMove(ctx, string(c.Planter), length.Float(deltaMm))
		if err != nil {
			return refusedIn("the field move", err, nowhere, map[string]string{"deltaMm": c.Change})
		}
		return a.print(answer, draw.FieldMove(planter, move, unit))
	})
}

type fieldCard struct {
	Planter planterName `arg:"" help:"The planter, as planter list names it."`
	Unit    unitFlag    `placeholder:"in|mm" help:"The unit to show lengths in, the planter's otherwise; set ROWDATUM_UNIT once."`
}

// Run prints a planter's index card.
func (c *fieldCard) Run(ctx context.Context, a *app) error {
	return a.kept(func(client *api.Client) error {
		planter, _, err := client.Planter(ctx, string(c.Planter))
		if err != nil {
			return err
		}
		card, answer, err := client.IndexCard(ctx, string(c.Planter))
		if err != nil {
			return err
		}
		styles, err := optionalStyles(ctx, client)
		if err != nil {
			return err
		}
		return a.print(answer, draw.IndexCard(draw.Card{Planter: planter, Card: card, Styles: styles, Unit: c.Unit.Unit}))
	})
}

// optionalStyles are the styles, none where the key may not list them, as that of a share: counts then lack
// their word.
func optionalStyles(ctx context.Context, client *api.Client) ([]*rowdatumv1.Style, error) {
	styles, err := client.Styles(ctx)
	var refused *api.RefusedError
	if errors.As(err, &refused) {
		err = nil
	}
	return styles, err
}

// wearCommand is rowdatum wear.
type wearCommand struct {
	Planter    planterName `arg:"" help:"The planter, as planter list names it."`
	Confidence numberFlag  `placeholder:"SHARE" help:"How sure the intervals are, 0.5 or more and below 1; 0.9 otherwise."`
}

// Run prints what the seasons did to a planter.
func (c *wearCommand) Run(ctx context.Context, a *app) error {
	return a.kept(func(client *api.Client) error {
		planter, _, err := client.Planter(ctx, string(c.Planter))
		if err != nil {
			return err
		}
		wear, answer, err := client.Wear(ctx, string(c.Planter), c.Confidence.x)
		if err != nil {
			return refusedIn("the question", err, nowhere, map[string]string{"confidence": "--confidence"})
		}
		return a.print(answer, draw.Wear(planter, wear))
	})
}

type fixtureStudy struct {
	Fixture    fixtureName `arg:"" help:"The fixture, as fixture list names it."`
	File       string      `arg:"" help:"The readings, a line each: row, person, what the fixture said; - reads standard input. Everybody reads every row equally often, at least twice."`
	Unit       unitFlag    `placeholder:"in|mm" help:"The unit of bare numbers, where the file's heading says none; set ROWDATUM_UNIT once."`
	Tolerance  lengthFlag  `placeholder:"LENGTH" help:"What it should be good for, like 1/8in or 3mm; 1/8in otherwise."`
	Confidence numberFlag  `placeholder:"SHARE" help:"How sure a verdict must be; 0.9 otherwise."`
	Apply      bool        `help:"Keep what was found as the fixture's own."`
}

// Run prints what repeated readings say of a fixture.
func (c *fixtureStudy) Run(ctx context.Context, a *app) error {
	file, err := a.read(c.File)
	if err != nil {
		return err
	}
	readings, err := sheet.ParseStudy(file, c.Unit.Unit)
	if err != nil {
		return mistakesIn(c.File, err)
	}
	return a.kept(func(client *api.Client) error {
		fixture, err := client.Fixture(ctx, string(c.Fixture))
		if err != nil {
			return err
		}
		request := &rowdatumv1.StudyFixtureRequest{LengthUnit: c.Unit.spoken(), Name: string(c.Fixture), Readings: readings.Readings, ToleranceMm: c.Tolerance.mm, Confidence: c.Confidence.x}
		if c.Apply {
			request.Apply, request.Etag = true, fixture.GetEtag()
		}
		study, answer, err := client.StudyFixture(ctx, request)
		if err != nil {
			return refusedIn(c.File, err, readings.Locate, map[string]string{"toleranceMm": "--tolerance", "confidence": "--confidence",
				"readings": fmt.Sprintf("the file's %d readings", len(readings.Readings))})
		}
		return a.print(answer, draw.FixtureStudy(fixture, study, c.Unit.Unit))
	})
}
