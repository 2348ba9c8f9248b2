package main

import (
	"cmp"
	"context"
	_ "embed"
	"fmt"
	"strings"
	"time"
)

// demoPlanter is the invented sixteen-row planter of the scenario; a test keeps it equal to that.
//
//go:embed demo.csv
var demoPlanter []byte

// demoCommand is rowdatum demo.
type demoCommand struct {
	Wait time.Duration `default:"10s" help:"How long to wait for the service to answer (${default})."`
}

// defaultService is where rowdatumd listens unless told otherwise.
const defaultService = "http://127.0.0.1:7480"

// Run plans the invented planter on a running service, and keeps it there with a history.
func (c *demoCommand) Run(ctx context.Context, a *app) error {
	client := a.client(strings.TrimSuffix(cmp.Or(a.flags.Service, defaultService), "/"))
	styles, err := client.WaitReady(ctx, c.Wait)
	if err != nil {
		return err
	}
	if err := a.plan(ctx, client, styles, "the invented planter", demoPlanter, aimFlags{}); err != nil {
		return err
	}
	kept, err := fillHistory(ctx, client, styles)
	if err != nil {
		return err
	}
	_, err = fmt.Fprintf(a.stderr, "\n%s\nThe planter and its people are invented. The service that planned it is at %s;\nopen %s/docs to read what it can do.\n", kept, client.Base, client.Base)
	return err
}
