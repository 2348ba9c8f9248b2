package sqlite

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"os"
	"path/filepath"
)

// Backup writes a copy of one state to a file, whole or not at all: under another name first, flushed, then
// renamed.
func (e *Engine) Backup(ctx context.Context, file string) error {
	file, err := filepath.Abs(file)
	if err != nil {
		return err
	}
	if err := e.notItself(file); err != nil {
		return err
	}
	part, err := os.CreateTemp(filepath.Dir(file), filepath.Base(file)+".part-*")
	if err != nil {
		return fmt.Errorf("making the backup's file: %w", err)
	}
	defer os.Remove(part.Name())
	if err := errors.Join(e.copyTo(ctx, part.Name()), part.Close()); err != nil {
		return fmt.Errorf("writing the backup: %w", err)
	}
	if err := syncFile(part.Name()); err != nil {
		return fmt.Errorf("writing the backup to disk: %w", err)
	}
	if err := os.Rename(part.Name(), file); err != nil {
		return fmt.Errorf("naming the backup: %w", err)
	}
	return errors.Join(syncDir(filepath.Dir(file)), e.note(file))
}

// notItself refuses the store's own files.
func (e *Engine) notItself(file string) error {
	there, err := os.Stat(file)
	if errors.Is(err, os.ErrNotExist) {
		return nil
	} else if err != nil {
		return err
	}
	for _, own := range []string{e.path, e.path + "-wal", e.path + "-shm", e.path + ".lock", notePath(e.path)} {
		if info, err := os.Stat(own); err == nil && os.SameFile(info, there) {
			return fmt.Errorf("%s is the store itself", file)
		}
	}
	return nil
}

// copyTo copies into an empty file, on a connection of its own: a long copy keeps no reader waiting.
func (e *Engine) copyTo(ctx context.Context, file string) error {
	db, err := sql.Open("sqlite", uri(e.path, "ro", "_pragma", "busy_timeout(5000)"))
	if err != nil {
		return err
	}
	_, err = db.ExecContext(ctx, "VACUUM INTO $1", file)
	return errors.Join(err, db.Close())
}

func syncFile(name string) error {
	file, err := os.OpenFile(name, os.O_RDWR, 0)
	if err != nil {
		return err
	}
	return errors.Join(file.Sync(), file.Close())
}
