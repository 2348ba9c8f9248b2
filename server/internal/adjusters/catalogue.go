package adjusters

import (
	"crypto/sha256"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"sync"
)

// program is one executable file of the folder.
type program struct {
	name    string            // file name without .exe: what it is called until it has said its style
	path    string            // absolute
	sum     [sha256.Size]byte // of the file as it was found; a changed file is not started
	refused string            // why it may not be run, for a person; empty where it may
}

// scan lists the programs of a folder by name. Files that are hidden or not executable are none.
func scan(dir string) ([]program, error) {
	dir, err := filepath.Abs(dir)
	if err != nil {
		return nil, fmt.Errorf("the adjusters' folder %s: %w", dir, err)
	}
	entries, err := os.ReadDir(dir)
	if err != nil {
		return nil, fmt.Errorf("the adjusters' folder cannot be read: %w", err)
	}
	folder, err := os.Stat(dir)
	if err != nil {
		return nil, fmt.Errorf("the adjusters' folder cannot be read: %w", err)
	}
	var found []program
	for _, entry := range entries {
		if strings.HasPrefix(entry.Name(), ".") {
			continue
		}
		path := filepath.Join(dir, entry.Name())
		info, err := os.Stat(path)
		if err != nil || !info.Mode().IsRegular() || !executable(info) {
			continue
		}
		found = append(found, program{
			name:    strings.TrimSuffix(entry.Name(), ".exe"),
			path:    path,
			refused: refusal(folder, info),
		})
	}
	sumAll(found)
	return found, nil
}

// refusal says why a program may not be run. A new file in the folder is a new style, so whoever can
// write there runs code as the service.
func refusal(folder, file fs.FileInfo) string {
	switch {
	case writableByOthers(folder):
		return "The adjusters' folder can be written by others than the service's user; take that right away, then restart the service."
	case writableByOthers(file):
		return "This program can be written by others than the service's user; take that right away, then restart the service."
	}
	return ""
}

// sumAll notes the checksum of every program that may be run, side by side.
func sumAll(programs []program) {
	var wg sync.WaitGroup
	for i := range programs {
		wg.Go(programs[i].checksum)
	}
	wg.Wait()
}

func (p *program) checksum() {
	if p.refused != "" {
		return
	}
	var err error
	if p.sum, err = checksum(p.path); err != nil {
		p.refused = "This program cannot be read by the service's user."
	}
}

func checksum(path string) (sum [sha256.Size]byte, err error) {
	f, err := os.Open(path)
	if err != nil {
		return sum, err
	}
	defer f.Close()
	h := sha256.New()
	if _, err := io.Copy(h, f); err != nil {
		return sum, err
	}
	return [sha256.Size]byte(h.Sum(nil)), nil
}
