package adjusters

import (
	"context"
	"slices"
	"strings"
	"time"

	"go.uber.org/zap"
)

// folder notices what happens to the files of the adjusters' folder. It looks again and again: that is
// plain, misses nothing, and works on network shares, where the system tells nobody of changes.
type folder struct {
	settle time.Duration
	seen   map[string]*sighting // by path
}

// sighting is what is known of one file.
type sighting struct {
	file  file
	since time.Time // it has looked like this
	told  bool
	gone  time.Time // since when it is missing; zero while it is there
}

// newFolder knows the files that are there at the start.
func newFolder(settle time.Duration, files []file) *folder {
	f := &folder{settle: settle, seen: map[string]*sighting{}}
	for _, file := range files {
		f.seen[file.path] = &sighting{file: file, told: true}
	}
	return f
}

// looked takes what is there now, and tells what has changed or gone and has stayed so for a while: a
// file that is still being copied is not ready, and one that is being replaced is not gone.
func (f *folder) looked(now time.Time, files []file) (changed, gone []file) {
	there := map[string]bool{}
	for _, file := range files {
		there[file.path] = true
		s := f.seen[file.path]
		if s == nil || !s.file.same(file) {
			f.seen[file.path] = &sighting{file: file, since: now}
			continue
		}
		s.gone = time.Time{}
		if !s.told && now.Sub(s.since) >= f.settle {
			s.told = true
			changed = append(changed, file)
		}
	}
	for path, s := range f.seen {
		switch {
		case there[path]:
		case s.gone.IsZero():
			s.gone = now
		case now.Sub(s.gone) >= f.settle:
			delete(f.seen, path)
			gone = append(gone, s.file)
		}
	}
	return changed, gone
}

// watch looks at the folder until life ends.
func (h *Host) watch(life context.Context, f *folder) {
	tick := time.NewTicker(h.options.LookEvery)
	defer tick.Stop()
	said := ""
	for {
		select {
		case <-life.Done():
			return
		case now := <-tick.C:
			programs, lock, err := look(h.options.Dir)
			if err != nil { // what runs goes on
				if said != err.Error() {
					said = err.Error()
					h.log.Error("the adjusters' folder is not looked at", zap.Error(err))
				}
				continue
			}
			said = ""
			h.notice(f, now, programs, lock)
		}
	}
}

// notice acts on what has changed. A lock that has changed puts every program to the test again; a file
// that has gone, those that were refused: it may have stood in their way.
func (h *Host) notice(f *folder, now time.Time, programs []file, lock *file) {
	all := programs
	if lock != nil {
		all = append(slices.Clip(programs), *lock)
	}
	isLock := func(file file) bool { return file.name == LockName }
	changed, gone := f.looked(now, all)
	again := map[string]bool{}
	for _, file := range gone {
		if !isLock(file) {
			h.remove(file.name)
			again = h.refusedFiles()
		}
	}
	locked := slices.ContainsFunc(append(changed, gone...), isLock)
	if locked {
		h.log.Info("the lock has changed: every adjuster is checked again")
		h.setLock(readLock(lock))
	}
	for _, file := range changed {
		again[file.name] = true
	}
	for _, file := range f.settled() {
		if !isLock(file) && (locked || again[file.name]) {
			h.offer(take(file, h.lock, h.dir.copies()))
		}
	}
}

func (h *Host) setLock(l *lock) {
	h.mu.Lock()
	defer h.mu.Unlock()
	h.lock = l
}

// settled lists the files that have been told and are there, by name.
func (f *folder) settled() (files []file) {
	for _, s := range f.seen {
		if s.told && s.gone.IsZero() {
			files = append(files, s.file)
		}
	}
	slices.SortFunc(files, func(a, b file) int { return strings.Compare(a.path, b.path) })
	return files
}
