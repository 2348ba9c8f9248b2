package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"

	"rowdatum/server/internal/flow"
	"rowdatum/server/internal/store"
)

// backupCommand copies the store while it is in use.
type backupCommand struct {
	storeFlag
	File string `arg:"" help:"Where the copy goes. A file that is there is replaced once the copy is whole."`
}

// Run makes the copy.
func (c *backupCommand) Run() error {
	if err := c.there(); err != nil {
		return err
	}
	ctx := context.Background()
	return c.beside(ctx, func(opened *store.Store) error { return opened.Backup(ctx, c.File) })
}

type shopFlag struct {
	storeFlag
	Shop string `default:"${local}" placeholder:"SHOP" help:"Whose (${default}: that of callers without a key)."`
	File string `arg:"" default:"-" help:"The file; - is standard input or output."`
}

// keep opens the store for as long as the work takes.
func (c *shopFlag) keep(do func(context.Context, *flow.Flow) error) error {
	ctx := context.Background()
	return c.beside(ctx, func(opened *store.Store) error { return do(ctx, &flow.Flow{Store: opened, Now: now}) })
}

// exportCommand writes everything that a shop owns.
type exportCommand struct{ shopFlag }

// Run writes the export, whole or not at all. What is left out as damaged is named, the file is then called FILE.incomplete,
// and the command fails.
func (c *exportCommand) Run() error {
	if err := c.there(); err != nil {
		return err
	}
	return c.keep(func(ctx context.Context, core *flow.Flow) error {
		lost := 0
		export := func(w io.Writer) error {
			return core.Export(ctx, c.Shop, w, func(job string, why error) {
				lost++
				fmt.Fprintf(os.Stderr, "left out: %s: %v\n", job, why)
			})
		}
		if c.File == "-" {
			return errors.Join(export(os.Stdout), incomplete(lost, "standard output"))
		}
		const mark = ".incomplete"
		if err := writeWhole(c.File+mark, export); err != nil {
			return err
		}
		if lost > 0 {
			return incomplete(lost, c.File+mark)
		}
		return os.Rename(c.File+mark, c.File)
	})
}

func incomplete(lost int, file string) error {
	if lost == 0 {
		return nil
	}
	return fmt.Errorf("%d jobs are not what was written and were left out; everything else is in %s", lost, file)
}

// importCommand brings in what was exported.
type importCommand struct{ shopFlag }

// Run brings it in, all or nothing.
func (c *importCommand) Run() error {
	return c.keep(func(ctx context.Context, core *flow.Flow) (err error) {
		in := os.Stdin
		if c.File != "-" {
			if in, err = os.Open(c.File); err != nil {
				return err
			}
			defer in.Close()
		}
		lines, err := core.Import(ctx, c.Shop, in)
		if err != nil {
			return err
		}
		fmt.Printf("%d lines brought into shop %s\n", lines, c.Shop)
		return nil
	})
}
