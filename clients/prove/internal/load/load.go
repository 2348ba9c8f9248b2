package load

import (
	"context"
	"fmt"

	"rowdatum/clients/prove/internal/proof"
)

// Speeds is all whose time counts: it wants the machine for itself.
func Speeds(ctx context.Context, s proof.Setting) ([]proof.Table, error) {
	running, err := s.Start(ctx)
	if err != nil {
		return nil, err
	}
	defer running.End()
	tables, err := plans(ctx, s, running.Service)
	if err != nil {
		return nil, fmt.Errorf("plans: %w", err)
	}
	conn, err := dial(running.GRPC)
	if err != nil {
		return nil, err
	}
	defer conn.Close()
	crowd, err := watchers(ctx, s, conn)
	if err != nil {
		return nil, fmt.Errorf("watchers: %w", err)
	}
	many, err := jobs(ctx, s, conn)
	if err != nil {
		return nil, fmt.Errorf("jobs: %w", err)
	}
	return append(tables, crowd, many), nil
}

// Memory is whether the service grows under load. Others may run beside it.
func Memory(ctx context.Context, s proof.Setting) ([]proof.Table, error) {
	flat, err := memory(ctx, s)
	if err != nil {
		return nil, err
	}
	return []proof.Table{flat}, nil
}
