package flow

import (
	"fmt"
	"sync"

	"rowdatum/server/leveling/job"
)

// foldedJobs is how many jobs are kept folded: more than a group of shops has open at once.
const foldedJobs = 512

// bounded is a map of what is only worked out again where it is gone. Its owner locks it.
type bounded[K comparable, V any] map[K]V

// put keeps a value. Where there would be more than most, some other goes, whichever.
func (b *bounded[K, V]) put(key K, value V, most int) {
	if *b == nil {
		*b = bounded[K, V]{}
	}
	_, known := (*b)[key]
	for other := range *b {
		if known || len(*b) < most {
			break
		}
		delete(*b, other)
	}
	(*b)[key] = value
}

// folded remembers what committed events of jobs come to, so that an append costs one event and not the
// whole log. A state is immutable, and only committed ones are put here. The zero value works.
type folded struct {
	mu   sync.Mutex
	jobs bounded[JobKey, JobView]

	hits, misses uint64 // of last

	seals seals
}

// FoldedJobs tells how often the state of a job was remembered when it was asked for, and how often not.
func (f *Flow) FoldedJobs() (hits, misses uint64) {
	f.folded.mu.Lock()
	defer f.folded.mu.Unlock()
	return f.folded.hits, f.folded.misses
}

// last is the job as it is remembered; it may have gone on since.
func (f *folded) last(key JobKey) (JobView, bool) {
	f.mu.Lock()
	defer f.mu.Unlock()
	view, known := f.jobs[key]
	if known {
		f.hits++
	} else {
		f.misses++
	}
	return view, known
}

// put keeps a job with its last state, unless a later one is there or the same.
func (f *folded) put(view JobView) {
	f.mu.Lock()
	defer f.mu.Unlock()
	key := view.Head.JobKey
	if old, known := f.jobs[key]; !known || old.State.Revision < view.State.Revision || old.log != view.log {
		f.jobs.put(key, view, foldedJobs)
	}
}

// forget has the next who asks read the job anew.
func (f *folded) forget(key JobKey) {
	f.mu.Lock()
	defer f.mu.Unlock()
	delete(f.jobs, key)
}

// job folds a job up to a revision; 0 is its last. In a transaction it sees what that has written. A job that was signed is held
// against its seal, from the bytes that are stored now; DataLoss where a job is not what was written.
func (f *folded) job(view View, key JobKey, revision int) (JobView, error) {
	head, err := view.Job(key)
	if err != nil {
		return JobView{}, err
	}
	if revision == 0 {
		revision = head.Revision
	}
	if head.Stage == job.StageSigned {
		return f.signed(view, head, revision)
	}
	known, _ := f.last(key)
	if known.State == nil || known.State.Revision > revision {
		known.State = &job.State{}
	}
	if known.State.Revision < revision {
		events, err := view.Events(key, known.State.Revision, revision-known.State.Revision)
		if err != nil {
			return JobView{}, err
		}
		if known.State, err = known.State.Apply(events...); err != nil {
			return JobView{}, changed(key, err)
		}
	}
	switch {
	case known.State.Revision != revision:
		return JobView{}, changed(key, fmt.Errorf("its log ends with event %d and not %d", known.State.Revision, revision))
	case known.State.Signature != nil: // the head says otherwise
		return f.signed(view, head, revision)
	}
	return JobView{Head: head, State: known.State}, nil
}

// signed is job for a job that was signed.
func (f *folded) signed(view View, head JobHead, revision int) (JobView, error) {
	log, d, err := f.seals.read(view, head)
	if err != nil {
		return JobView{}, err
	}
	if revision < len(log) {
		state, err := readLog(log[:revision])
		return JobView{Head: head, State: state}, err
	}
	if known, _ := f.last(head.JobKey); known.log == d {
		return JobView{Head: head, State: known.State, log: d}, nil
	}
	state, err := readLog(log)
	if err != nil {
		return JobView{}, changed(head.JobKey, err)
	}
	return JobView{Head: head, State: state, log: d}, nil
}
