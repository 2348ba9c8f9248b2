package faults

import (
	"context"
	"errors"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"sync"
	"time"

	"rowdatum/clients/prove/internal/proof"
	pb "rowdatum/proto/gen/rowdatum/v1"
)

// database is a PostgreSQL server of the proof's own, which may be restarted. One fault at a time has it.
type database struct {
	script string
	folder string

	mu     sync.Mutex
	url    string // empty before it is started
	absent bool   // PostgreSQL is not installed
}

// notInstalled is how the script ends where there is no PostgreSQL.
const notInstalled = 3

func newDatabase(repository, folder string) *database {
	return &database{script: filepath.Join(repository, ".ci", "postgres"), folder: filepath.Join(folder, "postgres")}
}

// onPostgres runs do with the server. Where PostgreSQL is not installed, that is said loudly; CI demands it.
func (p *prover) onPostgres(ctx context.Context, o *outcome, do func(*database) error) error {
	d := p.database
	d.mu.Lock()
	defer d.mu.Unlock()
	if err := d.start(ctx); err != nil {
		return err
	}
	if !d.absent {
		return do(d)
	}
	o.without = "PostgreSQL is not installed here."
	loudly := exec.CommandContext(ctx, filepath.Join(p.Repository, ".ci", "absent"), "PostgreSQL: "+o.fault+" was not tried")
	loudly.Stderr = os.Stderr
	return loudly.Run()
}

// start starts it if nobody has.
func (d *database) start(ctx context.Context) (err error) {
	if d.url != "" || d.absent {
		return nil
	}
	d.url, err = d.control(ctx, "start")
	if ended, ok := errors.AsType[*exec.ExitError](err); ok && ended.ExitCode() == notInstalled {
		d.absent, err = true, nil
	}
	return err
}

func (d *database) stop() error {
	d.mu.Lock()
	defer d.mu.Unlock()
	if d.url == "" {
		return nil
	}
	_, err := d.control(context.Background(), "stop")
	return err
}

// control runs the script that keeps servers for tests.
func (d *database) control(ctx context.Context, verb string, more ...string) (string, error) {
	command := exec.CommandContext(ctx, d.script, append([]string{verb, d.folder}, more...)...)
	said := &strings.Builder{}
	command.Stderr = said
	out, err := command.Output()
	if err != nil {
		return "", fmt.Errorf("PostgreSQL, %s: %w\n%s", verb, err, said)
	}
	return strings.TrimSpace(string(out)), nil
}

// restarted restarts the database in one of PostgreSQL's ways of stopping. The service stays as it is.
func restarted(how string) func(context.Context, *prover, *outcome) error {
	return func(ctx context.Context, p *prover, o *outcome) error {
		return p.onPostgres(ctx, o, func(d *database) error {
			s, err := p.scene(ctx, p.adjusters(), "--store", d.url)
			if err != nil {
				return err
			}
			defer s.end()
			plans := &caller{must: "plans that need no store go on", ask: s.plan(handle)}
			end := beside(ctx, plans)
			err = s.rounds(ctx, o, func(ctx context.Context, _ *load) (time.Time, error) {
				struck := time.Now()
				_, err := d.control(ctx, "restart", how)
				return struck, err
			})
			end()
			o.keep(plans)
			return err
		})
	}
}

// plan asks for a plan of one style, each time with figures that nobody has asked for before, so that its adjuster is asked.
func (s *scene) plan(style string) func(context.Context, int64) error {
	plans := pb.NewPlanServiceClient(s.conn)
	return func(ctx context.Context, n int64) error {
		_, err := plans.ComputePlan(ctx, planOf(style, n))
		return err
	}
}

// planOf is a plan of two rows.
func planOf(style string, n int64) *pb.ComputePlanRequest {
	new := 4 + float64(n)/1e6
	figures, at := map[string]any{"mmPerTurn": new, "smallestTurn": 0.25, "totalTurns": 16.0}, map[string]any{"turns": 8.0}
	switch style {
	case stop:
		figures, at = map[string]any{"mmPerNotch": new, "notches": 20.0}, map[string]any{"notch": 9.0}
	case rod:
		figures, at = map[string]any{"mmPerHole": new, "holes": 8.0}, map[string]any{"hole": 4.0}
	}
	return &pb.ComputePlanRequest{
		Mechanisms: []*pb.Mechanism{{Id: "m", Style: style, Figures: proof.Object(figures)}},
		Rows: []*pb.RowReadings{{Row: 1, Mechanism: "m", Setting: proof.Object(at), ReadingsMm: []float64{50}},
			{Row: 2, Mechanism: "m", Setting: proof.Object(at), ReadingsMm: []float64{42}}},
	}
}
