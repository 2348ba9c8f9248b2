package store

import (
	"os"
	"path/filepath"
	"testing"
)

func TestProbe(t *testing.T) {
	dir := t.TempDir()
	file := filepath.Join(dir, "file")
	if err := os.WriteFile(file, nil, 0o600); err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		name  string
		place Place
		ok    bool
	}{
		{"a folder that is there", Place(filepath.Join(dir, "rowdatum.db")), true},
		{"a folder to be made", Place(filepath.Join(dir, "new", "deeper", "rowdatum.db")), true},
		{"a file where a folder should be", Place(filepath.Join(file, "rowdatum.db")), false},
		{"postgres", "postgres://somewhere/rowdatum", false},
	} {
		t.Run(c.name, func(t *testing.T) {
			if err := c.place.Probe(); (err == nil) != c.ok {
				t.Errorf("Probe() = %v, want ok %t", err, c.ok)
			}
		})
	}
	left, err := filepath.Glob(filepath.Join(dir, ".probe-*"))
	if err != nil || len(left) > 0 {
		t.Errorf("probing left %v behind (%v)", left, err)
	}
}
