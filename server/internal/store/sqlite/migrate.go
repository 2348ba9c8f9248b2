package sqlite

import (
	"context"
	"embed"
	"fmt"
	"io/fs"

	"github.com/pressly/goose/v3"
)

//go:embed migrations/*.sql
var migrations embed.FS

// bring brings the tables to this version. Only who owns the file may; a short command owns it for that
// moment where no service does.
func (e *Engine) bring(ctx context.Context, how How) error {
	folder, err := fs.Sub(migrations, "migrations")
	if err != nil {
		return err
	}
	provider, err := goose.NewProvider(goose.DialectSQLite3, e.writer, folder, goose.WithTableName("schema_version"), goose.WithDisableGlobalRegistry(true))
	if err != nil {
		return fmt.Errorf("reading the store's migrations: %w", err)
	}
	current, target, err := provider.GetVersions(ctx)
	if err != nil {
		return fmt.Errorf("reading the version of the store's tables: %w", err)
	}
	if current > target {
		return fmt.Errorf("the store was written by a newer version (its tables are of version %d, this program knows %d): use the newer program", current, target)
	}
	if current == target {
		return nil
	}
	if how == Beside {
		lock, err := own(ctx, e.path, 0)
		if err != nil {
			return fmt.Errorf("the store's tables are of version %d, this program wants %d: %w", current, target, err)
		}
		defer lock.Close()
	}
	if _, err := provider.Up(ctx); err != nil {
		return fmt.Errorf("bringing the store's tables to this version: %w", err)
	}
	return nil
}
