//go:build unix

package adjusters

import (
	"errors"
	"os"
	"path/filepath"
	"syscall"
	"testing"
	"time"
)

// TestForeignMarksHoldNoStart: anybody may put anything into a folder for temporary files. What is not a plain file of this
// user's in a folder of this user's is neither waited for nor removed.
func TestForeignMarksHoldNoStart(t *testing.T) {
	base := t.TempDir()
	at := func(name string) string { return filepath.Join(base, runDirPrefix+name) }
	for _, name := range []string{"pipe", "link", "folder", "bare"} {
		if err := os.Mkdir(at(name), 0o700); err != nil {
			t.Fatal(err)
		}
	}
	elsewhere := filepath.Join(t.TempDir(), "kept")
	err := errors.Join(syscall.Mkfifo(filepath.Join(at("pipe"), inUseName), 0o666), os.WriteFile(elsewhere, nil, 0o600),
		os.Symlink(elsewhere, filepath.Join(at("link"), inUseName)), os.Mkdir(filepath.Join(at("folder"), inUseName), 0o700),
		syscall.Mkfifo(at("isapipe"), 0o666), os.WriteFile(at("isafile"), nil, 0o600), os.Symlink(filepath.Dir(elsewhere), at("islink")))
	if err != nil {
		t.Fatal(err)
	}
	made := make(chan error, 1)
	go func() {
		dir, err := makeRunDir(base)
		made <- errors.Join(err, dir.remove())
	}()
	select {
	case err := <-made:
		if err != nil {
			t.Fatal(err)
		}
	case <-time.After(10 * time.Second):
		t.Fatal("the start waits for a foreign file")
	}
	for _, name := range []string{"pipe", "link", "folder", "bare", "isapipe", "isafile", "islink"} {
		if _, err := os.Lstat(at(name)); err != nil {
			t.Errorf("%s was not ours to remove: %v", name, err)
		}
	}
	if _, err := os.Stat(elsewhere); err != nil {
		t.Error(err)
	}
}
