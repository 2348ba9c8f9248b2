package adjusters

import (
	"crypto/sha256"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
)

// file is a program's file as the folder shows it; nothing of it has been read.
type file struct {
	name    string // file name without .exe: what the program is called until it has said its style
	path    string // absolute
	info    fs.FileInfo
	refused string // why it may not be run, for a person; empty where it may
}

// maxPrograms is far above any shop's styles and far below a folder of programs that are no adjusters.
const maxPrograms = 100

// look lists the programs of a folder by name, and the lock where there is one. Files that are hidden or
// not executable are none.
func look(dir string) (programs []file, lock *file, err error) {
	dir, err = filepath.Abs(dir)
	if err != nil {
		return nil, nil, fmt.Errorf("the adjusters' folder %s: %w", dir, err)
	}
	entries, err := os.ReadDir(dir)
	if err != nil {
		return nil, nil, fmt.Errorf("the adjusters' folder cannot be read: %w", err)
	}
	folder, err := os.Stat(dir)
	if err != nil {
		return nil, nil, fmt.Errorf("the adjusters' folder cannot be read: %w", err)
	}
	for _, entry := range entries {
		path := filepath.Join(dir, entry.Name())
		info, err := os.Stat(path)
		if err != nil || !info.Mode().IsRegular() {
			continue
		}
		f := file{name: strings.TrimSuffix(entry.Name(), ".exe"), path: path, info: info, refused: refusal(folder, entry, path, info)}
		switch {
		case entry.Name() == LockName:
			lock = &f
		case !strings.HasPrefix(entry.Name(), ".") && executable(info):
			programs = append(programs, f)
		}
	}
	if len(programs) > maxPrograms {
		return nil, nil, fmt.Errorf("the folder %s holds %d programs, at most %d are taken: is it the adjusters' folder?", dir, len(programs), maxPrograms)
	}
	return programs, lock, nil
}

// refusal says why a file may not be trusted. A new file in the folder is a new style, so whoever can
// write there runs code as the service.
func refusal(folder fs.FileInfo, entry fs.DirEntry, path string, info fs.FileInfo) string {
	switch {
	case writableByOthers(folder):
		return "The adjusters' folder can be written by others than the service's user; take that right away."
	case writableByOthers(info):
		return "This file can be written by others than the service's user; take that right away."
	case entry.Type()&fs.ModeSymlink != 0 && pointsToOpenFolder(path):
		return "This file lies in a folder that can be written by others than the service's user; take that right away."
	}
	return ""
}

// pointsToOpenFolder says whether others could put another file in the place that a link points to.
func pointsToOpenFolder(link string) bool {
	target, err := filepath.EvalSymlinks(link)
	if err != nil {
		return true
	}
	folder, err := os.Stat(filepath.Dir(target))
	return err != nil || writableByOthers(folder)
}

// same says whether nothing can be seen to have happened to a file.
func (f file) same(g file) bool {
	return f.path == g.path && f.refused == g.refused && os.SameFile(f.info, g.info) &&
		f.info.Size() == g.info.Size() && f.info.Mode() == g.info.Mode() && f.info.ModTime().Equal(g.info.ModTime())
}

// program is one program as it was taken from the folder. What is run is a copy that nobody else can
// write: what was checked is what runs, the file may be overwritten while it does, and the program can
// be started again when its file has already been replaced by a worse one.
type program struct {
	name    string
	path    string            // where its file lies
	copy    string            // what is run; empty where it is refused
	sum     [sha256.Size]byte // of the copy
	refused string
}

// take copies a file for a program of its own into a new folder below copies, and checks it against the
// lock.
func take(f file, l *lock, copies string) program {
	p := program{name: f.name, path: f.path, refused: f.refused}
	if p.refused != "" {
		return p
	}
	if err := p.takeCopy(copies); err != nil {
		p.refused = "This program cannot be copied by the service: " + cause(err) + "."
	} else {
		p.refused = l.refusal(p)
	}
	if p.refused != "" {
		p.discard()
	}
	return p
}

// cause is an error without the names of files, for a person.
func cause(err error) string {
	if e, ok := err.(*fs.PathError); ok {
		return e.Err.Error()
	}
	return err.Error()
}

func (p *program) takeCopy(copies string) (err error) {
	from, err := os.Open(p.path)
	if err != nil {
		return err
	}
	defer from.Close()
	if err := os.MkdirAll(copies, 0o700); err != nil {
		return err
	}
	dir, err := os.MkdirTemp(copies, "")
	if err != nil {
		return err
	}
	p.copy = filepath.Join(dir, filepath.Base(p.path))
	to, err := os.OpenFile(p.copy, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o700)
	if err != nil {
		return err
	}
	sum := sha256.New()
	if _, err = io.Copy(io.MultiWriter(to, sum), from); err != nil {
		_ = to.Close()
		return err
	}
	p.sum = [sha256.Size]byte(sum.Sum(nil))
	return to.Close()
}

// discard removes the copy. It has ended or was never run.
func (p program) discard() {
	if p.copy != "" {
		_ = os.RemoveAll(filepath.Dir(p.copy)) // the run folder is emptied at the end, and by the next run
	}
}
