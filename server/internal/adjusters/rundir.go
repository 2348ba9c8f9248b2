package adjusters

import (
	"cmp"
	"fmt"
	"os"
	"path/filepath"
	"runtime"
	"strings"
)

// runDir is the host's folder for sockets and for its copies of the programs.
type runDir struct {
	path  string
	own   bool     // made by this host, which removes it
	inUse *os.File // locked while this host lives; nil with a given folder
}

const (
	// maxRunDir leaves room for the socket's own name: a socket's whole path has about 100 bytes.
	maxRunDir    = 60
	runDirPrefix = "rowdatum-run-"
	inUseName    = "in-use"
	copiesName   = "programs"
)

// newRunDir makes the folder, empty of what a run that was killed has left. No dir means a fresh one.
func newRunDir(dir string) (r runDir, err error) {
	if dir == "" {
		return makeRunDir(shortTempDir())
	}
	if r.path, err = filepath.Abs(dir); err != nil {
		return r, err
	}
	if len(r.path) > maxRunDir {
		return r, fmt.Errorf("the run folder %s is too long for a socket's path, at most %d bytes are possible", r.path, maxRunDir)
	}
	if err := os.MkdirAll(r.path, 0o700); err != nil {
		return r, fmt.Errorf("the run folder: %w", err)
	}
	return r, r.empty()
}

// makeRunDir makes a fresh folder that is marked as in use, and removes those of runs that were killed.
func makeRunDir(base string) (r runDir, err error) {
	left, err := filepath.Glob(filepath.Join(base, runDirPrefix+"*"))
	if err != nil {
		return r, err
	}
	for _, dir := range left {
		if abandoned(dir, inUseName) {
			_ = os.RemoveAll(dir) // the next start tries again
		}
	}
	r.own = true
	if r.path, err = os.MkdirTemp(base, runDirPrefix); err != nil {
		return r, err
	}
	if r.inUse, err = os.Create(filepath.Join(r.path, inUseName)); err != nil {
		return r, err
	}
	claim(r.inUse)
	return r, nil
}

// shortTempDir is the folder for temporary files, or /tmp where that one's own path is so long that no
// socket fits below it. Windows has no such sockets.
func shortTempDir() string {
	const ownName = len("/" + runDirPrefix + "1234567890")
	if dir := os.TempDir(); len(dir)+ownName <= maxRunDir || runtime.GOOS == "windows" {
		return dir
	}
	return "/tmp"
}

// copies is where the programs' copies lie.
func (r runDir) copies() string { return filepath.Join(r.path, copiesName) }

// remove removes what this host has made.
func (r runDir) remove() error {
	if r.own {
		return cmp.Or(r.inUse.Close(), os.RemoveAll(r.path))
	}
	return r.empty()
}

// empty removes copies and socket folders; the plugin library gives those their names.
func (r runDir) empty() error {
	left, err := os.ReadDir(r.path)
	for _, entry := range left {
		if entry.Name() == copiesName || strings.HasPrefix(entry.Name(), "plugin-dir") {
			err = cmp.Or(err, os.RemoveAll(filepath.Join(r.path, entry.Name())))
		}
	}
	return err
}
