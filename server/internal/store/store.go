// Package store keeps what a shop must not lose. For now it only proves that its place can be written;
// the job log comes with it.
package store

import (
	"fmt"
	"os"
	"path/filepath"
	"strings"
)

// Place is where a store is kept: a file's path. A postgres:// URL is recognised and refused with words.
type Place string

// Probe returns nil if the place can be written right now, making its folder where there is none.
func (p Place) Probe() error {
	if strings.HasPrefix(string(p), "postgres://") || strings.HasPrefix(string(p), "postgresql://") {
		return fmt.Errorf("this version keeps nothing in PostgreSQL yet; name a file")
	}
	dir := filepath.Dir(string(p))
	if err := os.MkdirAll(dir, 0o750); err != nil {
		return fmt.Errorf("making the store's folder: %w", err)
	}
	file, err := os.CreateTemp(dir, ".probe-*")
	if err != nil {
		return fmt.Errorf("writing into the store's folder: %w", err)
	}
	defer os.Remove(file.Name())
	if _, err := file.WriteString("rowdatum"); err != nil {
		file.Close()
		return fmt.Errorf("writing into the store's folder: %w", err)
	}
	if err := file.Close(); err != nil {
		return fmt.Errorf("writing into the store's folder: %w", err)
	}
	return nil
}
