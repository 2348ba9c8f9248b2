package flow

import (
	"sync"

	"rowdatum/server/leveling/job"
)

// foldedJobs is how many jobs are kept folded: more than a group of shops has open at once.
const foldedJobs = 512

// folded remembers what committed events of jobs come to, so that an append costs one event and not the
// whole log. A state is immutable, and only committed ones are put here. The zero value works.
type folded struct {
	mu     sync.Mutex
	states map[JobKey]*job.State
}

func (f *folded) get(key JobKey) *job.State {
	f.mu.Lock()
	defer f.mu.Unlock()
	return f.states[key]
}

// put keeps the state unless a later one is there. Where there are too many, some other goes: which one
// does not matter, it is only folded again.
func (f *folded) put(key JobKey, s *job.State) {
	f.mu.Lock()
	defer f.mu.Unlock()
	if f.states == nil {
		f.states = map[JobKey]*job.State{}
	}
	if old := f.states[key]; old != nil && old.Revision >= s.Revision {
		return
	}
	for other := range f.states {
		if len(f.states) < foldedJobs {
			break
		}
		delete(f.states, other)
	}
	f.states[key] = s
}

// state folds a job up to a revision; 0 is its last. In a transaction it sees what that has written.
func (f *folded) state(view View, key JobKey, revision int) (*job.State, JobHead, error) {
	head, err := view.Job(key)
	if err != nil {
		return nil, JobHead{}, err
	}
	if revision == 0 {
		revision = head.Revision
	}
	known := f.get(key)
	if known != nil && known.Revision == revision {
		return known, head, nil
	}
	if known == nil || known.Revision > revision {
		events, err := view.Events(key, 0, revision)
		if err != nil {
			return nil, JobHead{}, err
		}
		s, err := job.Fold(events)
		return s, head, err
	}
	events, err := view.Events(key, known.Revision, revision-known.Revision)
	if err != nil {
		return nil, JobHead{}, err
	}
	s, err := known.Apply(events...)
	return s, head, err
}
