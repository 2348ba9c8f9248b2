package faults

import (
	"context"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"time"

	"google.golang.org/genproto/googleapis/rpc/errdetails"
	"google.golang.org/grpc/status"

	pb "rowdatum/proto/gen/rowdatum/v1"
)

// rod is the style of the program that can lie. healsMost is how long its plans may
// fail or wait.
const (
	rod       = "pinned-rod"
	healsMost = 20 * time.Second
)

// lies are what the program for examining the exam can tell that no service may believe. A lie that could be true, like a wrong
// effect, is found by the exam of adjusters, not by a service.
var lies = []string{"not-finite", "not-a-number", "unordered", "no-rows", "two-leaves", "no-leave", "moving-leave", "no-travel"}

// needing asks for plans that need the adjuster of one style, and counts the failures that do not name it.
func (s *scene) needing(style string, anonymous *int) *caller {
	ask := s.plan(style)
	return &caller{ask: func(ctx context.Context, n int64) error {
		err := ask(ctx, n)
		if err != nil && detail[*errdetails.ErrorInfo](status.Convert(err)).GetMetadata()["style"] != style {
			*anonymous++
		}
		return err
	}}
}

// struckPlugin strikes the adjuster of one style, round for round, while plans of it and of another are asked for.
func (s *scene) struckPlugin(ctx context.Context, o *outcome, style string, strike func(context.Context) error) error {
	others := &caller{must: "plans of another style go on", ask: s.plan(stop)}
	anonymous, healed, longest := 0, 0, time.Duration(0)
	needs := s.needing(style, &anonymous)
	end := beside(ctx, others, needs)
	err := s.rounds(ctx, o, func(ctx context.Context, _ *load) (time.Time, error) {
		needs.seen.strike()
		if err := strike(ctx); err != nil {
			return time.Time{}, err
		}
		struck := time.Now()
		if took, ok := needs.heals(ctx, struck); ok {
			healed++
			longest = max(longest, took)
		}
		return struck, ctx.Err()
	})
	end()
	o.keep(others)
	if failed := needs.seen.errors(); failed > 0 {
		o.kept = append(o.kept, kept{must: "a failed plan names the struck style", asked: failed, good: failed - anonymous, comment: needs.seen.String()})
	}
	o.kept = append(o.kept, kept{must: "plans of the struck style are answered again", asked: o.times, good: healed,
		comment: fmt.Sprintf("within %s; longest wait for one %s; %d of %d answered in all", short(longest), short(time.Duration(needs.longest.Load())), needs.good.Load(), needs.asked.Load())})
	return err
}

// heals waits until calls are answered again, some in a row, and tells how long after a moment the first of them was.
func (c *caller) heals(ctx context.Context, struck time.Time) (time.Duration, bool) {
	const row = 5
	for end := time.Now().Add(healsMost); time.Now().Before(end) && ctx.Err() == nil; sleep(ctx, 5*time.Millisecond) {
		from := struck
		if failed := c.seen.lastError(); failed.After(from) {
			from = failed
		}
		if c.answered.after(from, row).After(struck) {
			return c.answered.after(from, 1).Sub(struck), true
		}
	}
	return 0, false
}

// lying puts an adjuster that lies into the folder, and then an honest one in its place.
func lying(ctx context.Context, p *prover, o *outcome) error {
	program, err := p.liar(ctx)
	if err != nil {
		return err
	}
	adjusters, err := p.copied()
	if err != nil {
		return err
	}
	file := filepath.Join(adjusters, "rod")
	if err := told(file, program, "honest"); err != nil {
		return err
	}
	s, err := p.scene(ctx, adjusters)
	if err != nil {
		return err
	}
	defer s.end()
	round := 0
	return s.struckPlugin(ctx, o, rod, func(ctx context.Context) error {
		lie := lies[round%len(lies)]
		round++
		if err := told(file, program, lie); err != nil {
			return err
		}
		if err := s.caught(ctx); err != nil {
			return fmt.Errorf("%s: %w", lie, err)
		}
		return told(file, program, "honest")
	})
}

// liar builds the program.
func (p *prover) liar(ctx context.Context) (string, error) {
	program := filepath.Join(p.folder, "liar")
	build := exec.CommandContext(ctx, "go", "build", "-o", program, "rowdatum/adjusters/adjustertest/testdata/broken")
	build.Dir = p.Repository
	if said, err := build.CombinedOutput(); err != nil {
		return "", fmt.Errorf("building an adjuster that lies: %w\n%s", err, said)
	}
	return program, nil
}

// copied is a folder of adjusters that may be changed.
func (p *prover) copied() (string, error) {
	folder := filepath.Join(p.folder, "adjusters")
	if err := os.Mkdir(folder, 0o755); err != nil {
		return "", err
	}
	if err := os.CopyFS(folder, os.DirFS(p.adjusters())); err != nil {
		return "", err
	}
	files, err := os.ReadDir(folder)
	for _, file := range files {
		if err == nil {
			err = os.Chmod(filepath.Join(folder, file.Name()), 0o755)
		}
	}
	return folder, err
}

// told puts a program into the folder that tells the truth, or a certain lie.
func told(file, program, what string) error {
	part := filepath.Join(filepath.Dir(filepath.Dir(file)), "part")
	script := fmt.Sprintf("#!/bin/sh\nexec %s %s\n", program, what)
	if err := os.WriteFile(part, []byte(script), 0o755); err != nil {
		return err
	}
	return os.Rename(part, file)
}

// caught waits until the service has told somebody that the adjuster lies.
func (s *scene) caught(ctx context.Context) error {
	plans := pb.NewPlanServiceClient(s.conn)
	var last error
	for n, end := int64(0), time.Now().Add(healsMost); time.Now().Before(end) && ctx.Err() == nil; n++ {
		_, last = plans.ComputePlan(ctx, planOf(rod, 1_000_000+n))
		if name, _ := named(last); last != nil && strings.Contains(name, "ADJUSTER_WRONG") {
			return nil
		}
		sleep(ctx, 10*time.Millisecond)
	}
	return fmt.Errorf("it was believed for %v: %v", healsMost, last)
}
