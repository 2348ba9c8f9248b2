package proof

import (
	"context"
	"path/filepath"

	rowdatum "rowdatum/clients/go"
	"rowdatum/clients/internal/service"
)

// Running is a service of a part's own, with all its adjusters served, and a client of it.
type Running struct {
	*service.Service
	Client *rowdatum.Client
}

// Start runs a service; the caller ends it.
func (s Setting) Start(ctx context.Context) (*Running, error) { return s.StartIn(ctx, "", "") }

// Program is the service's program.
func (s Setting) Program() string { return filepath.Join(s.Programs, "rowdatumd") }

// StartIn runs a service on the store of a folder, a new one where it is empty, and speaks to it with a key.
func (s Setting) StartIn(ctx context.Context, folder, key string) (*Running, error) {
	running, err := service.Start(ctx, service.Options{Program: s.Program(), Folder: folder})
	if err != nil {
		return nil, err
	}
	if err := running.Serving(ctx); err != nil {
		running.End()
		return nil, err
	}
	client, err := rowdatum.Dial(running.GRPC, rowdatum.Options{Key: key})
	if err != nil {
		running.End()
		return nil, err
	}
	return &Running{running, client}, nil
}

// End closes the client and stops the service.
func (r *Running) End() {
	r.Client.Close() // what still runs over it is of no use to anybody
	r.Service.End()
}
