package adjusters

import (
	"bufio"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"
)

// LockName is the file that locks a folder of adjusters: where it lies in the folder, only what it names
// with the right checksum is run.
const LockName = "adjusters.lock"

// lock is what a lock file allows. The nil lock, of a folder without one, allows everything.
type lock struct {
	sums  map[string][sha256.Size]byte // by file name
	unfit string                       // why it allows nothing new, for a person
}

// maxLockBytes is many times what a full folder's lock has.
const maxLockBytes = 1 << 20

// readLock reads the lock that look has found.
func readLock(f *file) *lock {
	if f == nil {
		return nil
	}
	if f.refused != "" {
		return &lock{unfit: LockName + " does not count: " + f.refused}
	}
	in, err := os.Open(f.path)
	if err != nil {
		return &lock{unfit: LockName + " cannot be read: " + cause(err) + "."}
	}
	defer in.Close()
	sums, err := parseLock(io.LimitReader(in, maxLockBytes))
	if err != nil {
		return &lock{unfit: LockName + " cannot be read: " + err.Error() + "."}
	}
	return &lock{sums: sums}
}

// parseLock reads lines as sha256sum writes them: a checksum, two spaces, a file's name.
func parseLock(in io.Reader) (map[string][sha256.Size]byte, error) {
	sums := map[string][sha256.Size]byte{}
	lines := bufio.NewScanner(in)
	for n := 1; lines.Scan(); n++ {
		line := strings.TrimRight(lines.Text(), "\r")
		if line == "" {
			continue
		}
		sum, name, _ := strings.Cut(line, " ")
		raw, err := hex.DecodeString(sum)
		if err != nil || len(raw) != sha256.Size || len(name) < 2 || name[0] != ' ' && name[0] != '*' {
			return nil, fmt.Errorf("line %d is not a SHA-256 checksum and a file's name", n)
		}
		if _, twice := sums[name[1:]]; twice {
			return nil, fmt.Errorf("line %d names %q again", n, clip(name[1:]))
		}
		sums[name[1:]] = [sha256.Size]byte(raw)
	}
	return sums, lines.Err()
}

// refusal says why the lock does not let a program run; empty where it does.
func (l *lock) refusal(p program) string {
	if l == nil {
		return ""
	}
	if l.unfit != "" {
		return l.unfit
	}
	sum, named := l.sums[filepath.Base(p.path)]
	switch {
	case !named:
		return `This program is not in ` + LockName + `. If it belongs here, write the lock again with "rowdatumd adjuster lock".`
	case sum != p.sum:
		return `This program is not the one in ` + LockName + `: its checksum differs. If it belongs here, write the lock again with "rowdatumd adjuster lock".`
	}
	return ""
}

// forbids says whether a program that runs must end. A lock that cannot be read lets nothing in, but ends
// nothing either: what runs was let in by the one before it.
func (l *lock) forbids(p program) bool { return l != nil && l.unfit == "" && l.refusal(p) != "" }

// Locked is one line of a lock.
type Locked struct {
	File string
	Sum  [sha256.Size]byte
}

// Lock writes the lock of a folder, with every program that lies there now, and returns its lines. It
// refuses a folder with a file that others could write: their next version would be as unknown as this.
func Lock(dir string) ([]Locked, error) {
	files, _, err := look(dir)
	if err != nil {
		return nil, err
	}
	var lines []Locked
	var wrong []error
	for _, f := range files {
		line := Locked{File: filepath.Base(f.path)}
		if f.refused != "" {
			err = errors.New(f.refused)
		} else {
			line.Sum, err = checksum(f.path)
		}
		if err != nil {
			wrong = append(wrong, fmt.Errorf("%s: %w", line.File, err))
		}
		lines = append(lines, line)
	}
	if err := errors.Join(wrong...); err != nil {
		return nil, fmt.Errorf("nothing was locked:\n%w", err)
	}
	return lines, writeLock(dir, lines)
}

// writeLock writes whole or not at all: a service may be reading.
func writeLock(dir string, lines []Locked) error {
	var text strings.Builder
	for _, l := range lines {
		fmt.Fprintf(&text, "%x  %s\n", l.Sum, l.File)
	}
	part, err := os.CreateTemp(dir, "."+LockName+"-*")
	if err != nil {
		return fmt.Errorf("writing the lock: %w", err)
	}
	defer os.Remove(part.Name())
	_, err = part.WriteString(text.String())
	if err := errors.Join(err, part.Chmod(0o644), part.Close()); err != nil {
		return fmt.Errorf("writing the lock: %w", err)
	}
	return os.Rename(part.Name(), filepath.Join(dir, LockName))
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
