package faults

import (
	"context"
	"time"
)

func killedOnSQLite(ctx context.Context, p *prover, o *outcome) error {
	return p.killed(ctx, o)
}

func killedOnPostgres(ctx context.Context, p *prover, o *outcome) error {
	return p.onPostgres(ctx, o, func(database *database) error {
		return p.killed(ctx, o, "--store", database.url)
	})
}

// killed ends the service as a power cut would, and starts it again at once.
func (p *prover) killed(ctx context.Context, o *outcome, flags ...string) error {
	s, err := p.scene(ctx, p.adjusters(), flags...)
	if err != nil {
		return err
	}
	defer s.end()
	return s.rounds(ctx, o, func(ctx context.Context, _ *load) (time.Time, error) {
		struck := time.Now()
		s.Kill()
		return struck, s.Start(ctx)
	})
}
