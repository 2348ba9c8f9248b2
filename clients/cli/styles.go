package main

import (
	"context"
	"fmt"

	"rowdatum/clients/cli/api"
	"rowdatum/clients/cli/draw"
	rowdatumv1 "rowdatum/proto/gen/rowdatum/v1"
)

// stylesCommand is rowdatum styles.
type stylesCommand struct{}

// Run prints the styles.
func (c *stylesCommand) Run(ctx context.Context, a *app) error {
	return a.withService(ctx, func(_ *api.Client, styles []*rowdatumv1.Style) error {
		if a.flags.JSON {
			return a.printMessage(&rowdatumv1.ListStylesResponse{Styles: styles})
		}
		_, err := fmt.Fprint(a.stdout, draw.Styles(styles))
		return err
	})
}
