package main

import (
	"context"
	"errors"
	"flag"
	"fmt"
	"io"
	"os"
	"os/signal"
	"slices"
	"sync"
	"time"

	"rowdatum/clients/prove/internal/benches"
	"rowdatum/clients/prove/internal/coverage"
	"rowdatum/clients/prove/internal/faults"
	"rowdatum/clients/prove/internal/load"
	"rowdatum/clients/prove/internal/optimum"
	"rowdatum/clients/prove/internal/proof"
	"rowdatum/clients/prove/internal/shop"
)

// part is something that can be proven.
type part struct {
	name  string
	alone bool // what it says depends on having the machine for itself
	run   proof.Part
}

// parts are in the order in which they are told.
var parts = []part{
	{"shop", false, shop.Run},
	{"rulings", false, shop.Rulings},
	{"planters", false, shop.Whole},
	{"optimum", false, optimum.Run},
	{"coverage", false, coverage.Run},
	{"speed", true, load.Speeds},
	{"memory", false, load.Memory},
	{"bounds", false, load.Bounds},
	{"faults", false, faults.Run},
}

func main() {
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt)
	defer stop()
	if load.Asked() {
		if err := load.Echo(os.Stdin, os.Stdout); err != nil {
			fmt.Fprintln(os.Stderr, "prove:", err)
			os.Exit(1)
		}
		return
	}
	if err := run(ctx, os.Args[1:], os.Stdin, os.Stdout); err != nil && !errors.Is(err, flag.ErrHelp) {
		fmt.Fprintln(os.Stderr, "prove:", err)
		os.Exit(1)
	}
}

func run(ctx context.Context, args []string, in io.Reader, out io.Writer) error {
	flags := flag.NewFlagSet("prove", flag.ContinueOnError)
	setting := proof.Setting{Say: say}
	flags.StringVar(&setting.Programs, "programs", "bin", "folder with rowdatumd and its adjusters")
	flags.BoolVar(&setting.Quick, "quick", false, "fewer tries: shows that it runs, not what comes out")
	pictures := flags.String("pictures", "", "folder for the pictures; empty: none are drawn")
	if err := flags.Parse(args); err != nil {
		return err
	}
	w := &writer{out: out, pictures: *pictures}
	if flags.Arg(0) == "bench" {
		tables, err := benches.Read(in)
		return errors.Join(w.open("Benchmarks", "make bench"), w.write(tables), err, w.close())
	}
	chosen, err := choose(flags.Args())
	if err != nil {
		return err
	}
	return errors.Join(prove(ctx, chosen, setting, w), w.close())
}

// choose returns the named parts, all of them where none is named.
func choose(names []string) (chosen []part, err error) {
	if len(names) == 0 {
		return parts, nil
	}
	known := map[string]part{}
	for _, p := range parts {
		known[p.name] = p
	}
	for _, name := range names {
		p, ok := known[name]
		if !ok {
			return nil, fmt.Errorf("%q is nothing that is proven here", name)
		}
		chosen = append(chosen, p)
	}
	return chosen, nil
}

// prove runs the parts that want the machine alone one after the other, then the others side by side, and writes what they
// say in the order of parts.
func prove(ctx context.Context, chosen []part, setting proof.Setting, w *writer) error {
	if err := w.open("Proof", "make prove"); err != nil {
		return err
	}
	said := make([][]proof.Table, len(chosen))
	failed := make([]error, len(chosen))
	prove := func(i int) {
		begun := time.Now()
		if said[i], failed[i] = chosen[i].run(ctx, setting); failed[i] != nil {
			failed[i] = fmt.Errorf("%s: %w", chosen[i].name, failed[i])
		}
		say("%s took %v", chosen[i].name, time.Since(begun).Round(time.Second))
	}
	for i, part := range chosen {
		if part.alone {
			prove(i)
		}
	}
	var beside sync.WaitGroup
	for i, part := range chosen {
		if !part.alone {
			beside.Go(func() { prove(i) })
		}
	}
	beside.Wait()
	return errors.Join(errors.Join(failed...), w.write(slices.Concat(said...)))
}

func say(format string, args ...any) {
	fmt.Fprintf(os.Stderr, time.Now().Format("15:04:05 ")+format+"\n", args...)
}
