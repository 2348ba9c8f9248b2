package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"

	"rowdatum/server/internal/flow"
	"rowdatum/server/internal/store"
	"rowdatum/server/internal/store/engine"
)

// checkCommand looks whether a store is still what was written.
type checkCommand struct {
	File string `arg:"" help:"The store's file, a backup of it, or a postgres:// address. A service may have it open."`
}

// Run looks, and fails where anything is wrong.
func (c *checkCommand) Run() error {
	ctx := context.Background()
	opened, err := store.Look(ctx, c.File)
	if err != nil {
		return err
	}
	wrong, err := check(ctx, opened, c.File, os.Stdout)
	if err := errors.Join(err, opened.Close()); err != nil {
		return err
	}
	if wrong > 0 {
		return fmt.Errorf("%s is damaged, or was changed: keep it as it is, and bring back a backup that is good", c.File)
	}
	return nil
}

// check prints what is found, a line for each thing that is looked at and below it what is wrong there.
func check(ctx context.Context, s *store.Store, name string, out io.Writer) (wrong int, err error) {
	fmt.Fprintln(out, name)
	said := func(what, found string, problems []string) {
		wrong += len(problems)
		fmt.Fprintf(out, "  %-10s %s\n", what, found)
		for _, p := range problems {
			fmt.Fprintf(out, "             %s\n", p)
		}
	}
	switch problems, err := s.Structure(ctx); {
	case errors.Is(err, engine.ErrNotChecked):
		said("structure", "not looked at: that is for PostgreSQL's own pg_amcheck", nil)
	case err != nil:
		said("structure", "DAMAGED", []string{err.Error()})
	case len(problems) > 0:
		said("structure", "DAMAGED", problems)
	default:
		said("structure", "good", nil)
	}
	var bad []string
	found, err := (&flow.Flow{Store: s, Now: now}).Check(ctx, func(shop, thing string, why error) {
		bad = append(bad, fmt.Sprintf("shop %s, %s: %v", shop, thing, why))
	})
	if err != nil {
		bad = append(bad, fmt.Sprintf("it cannot be read on: %v", err))
	}
	said("records", fmt.Sprintf("%d shops, %d planters, %d jobs", found.Shops, found.Planters, found.Jobs), nil)
	said("seals", fmt.Sprintf("%d of %d signed jobs hold", found.Signed-found.BadSeals, found.Signed), bad)
	return wrong, nil
}
