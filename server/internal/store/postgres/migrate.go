package postgres

import (
	"context"
	"embed"
	"errors"
	"fmt"
	"io/fs"

	"github.com/pressly/goose/v3"
	"github.com/pressly/goose/v3/lock"
)

//go:embed migrations/*.sql
var migrations embed.FS

// Waiting for another process that brings the tables to its version: each second, for two minutes.
const lockEverySeconds, lockTries = 1, 120

// bring brings the tables to this version, one process at a time.
func (e *Engine) bring(ctx context.Context) error {
	folder, err := fs.Sub(migrations, "migrations")
	if err != nil {
		return err
	}
	locker, err := lock.NewPostgresSessionLocker(lock.WithLockTimeout(lockEverySeconds, lockTries))
	if err != nil {
		return err
	}
	// A pool of its own: the limits on a statement are for serving, not for this.
	config := e.config.Copy()
	config.RuntimeParams["statement_timeout"] = "0"
	config.RuntimeParams["idle_in_transaction_session_timeout"] = "0"
	db := pool(*config, 2)
	provider, err := goose.NewProvider(goose.DialectPostgres, db, folder, goose.WithTableName("schema_version"),
		goose.WithSessionLocker(locker), goose.WithDisableGlobalRegistry(true))
	if err != nil {
		return errors.Join(fmt.Errorf("reading the store's migrations: %w", err), db.Close())
	}
	return errors.Join(up(ctx, provider), db.Close())
}

func up(ctx context.Context, provider *goose.Provider) error {
	if _, err := provider.Up(ctx); err != nil {
		return fmt.Errorf("bringing the store's tables to this version: %w", err)
	}
	current, target, err := provider.GetVersions(ctx)
	if err != nil {
		return fmt.Errorf("reading the version of the store's tables: %w", err)
	}
	if current > target {
		return fmt.Errorf("the store was written by a newer version (its tables are of version %d, this program knows %d): use the newer program", current, target)
	}
	return nil
}
