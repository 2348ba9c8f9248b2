package main

import (
	"context"
	"fmt"

	"rowdatum/clients/cli/api"
	"rowdatum/clients/cli/draw"
	rowdatumv1 "rowdatum/proto/gen/rowdatum/v1"
)

// stylesCommand is rowdatum styles.
type stylesCommand struct {
	Unit unitFlag `placeholder:"in|mm" help:"The unit that their words say lengths in; set ROWDATUM_UNIT once."`
}

// Run prints the styles.
func (c *stylesCommand) Run(ctx context.Context, a *app) error {
	return a.withService(ctx, c.Unit, func(_ *api.Client, styles []*rowdatumv1.Style) error {
		if a.flags.JSON {
			return a.printMessage(&rowdatumv1.ListStylesResponse{Styles: styles})
		}
		_, err := fmt.Fprint(a.stdout, draw.Styles(styles))
		return err
	})
}
