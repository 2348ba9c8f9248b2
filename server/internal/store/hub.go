package store

import (
	"fmt"
	"net/url"
	"strconv"
	"strings"
	"sync"

	"rowdatum/server/internal/flow"
)

// hub tells those who watch a job that it has a new revision. The zero value works.
type hub struct {
	mu   sync.Mutex
	jobs map[flow.JobKey]*watchedJob
}

type watchedJob struct {
	revision int // the last one told
	ears     map[chan int]bool
}

func (h *hub) subscribe(key flow.JobKey) (<-chan int, func()) {
	ear := make(chan int, 1)
	h.mu.Lock()
	defer h.mu.Unlock()
	if h.jobs == nil {
		h.jobs = map[flow.JobKey]*watchedJob{}
	}
	if h.jobs[key] == nil {
		h.jobs[key] = &watchedJob{ears: map[chan int]bool{}}
	}
	h.jobs[key].ears[ear] = true
	return ear, func() { h.leave(key, ear) }
}

func (h *hub) leave(key flow.JobKey, ear chan int) {
	h.mu.Lock()
	defer h.mu.Unlock()
	if job := h.jobs[key]; job != nil && job.ears[ear] {
		delete(job.ears, ear)
		if len(job.ears) == 0 {
			delete(h.jobs, key)
		}
	}
}

// tell wakes those who watch key, unless they know of the revision: the same one comes by several ways.
func (h *hub) tell(key flow.JobKey, revision int) {
	h.mu.Lock()
	defer h.mu.Unlock()
	job := h.jobs[key]
	if job == nil || job.revision >= revision {
		return
	}
	job.revision = revision
	for ear := range job.ears {
		select {
		case <-ear: // it has not looked since it was last told
		default:
		}
		ear <- revision // there is room: nobody else sends
	}
}

func (h *hub) watched() []flow.JobKey {
	h.mu.Lock()
	defer h.mu.Unlock()
	keys := make([]flow.JobKey, 0, len(h.jobs))
	for key := range h.jobs {
		keys = append(keys, key)
	}
	return keys
}

// words is how a new revision is said to other processes; tellWords understands it.
func words(key flow.JobKey, revision int) string {
	return fmt.Sprintf("%s/%s/%s,%d", url.PathEscape(key.Shop), url.PathEscape(key.Planter), url.PathEscape(key.Job), revision)
}

// tellWords tells of what another process said. Words that are not words' are somebody else's: no matter.
func (h *hub) tellWords(said string) {
	name, number, _ := strings.Cut(said, ",")
	revision, err := strconv.Atoi(number)
	parts := strings.Split(name, "/")
	if err != nil || len(parts) != 3 {
		return
	}
	for i := range parts {
		if parts[i], err = url.PathUnescape(parts[i]); err != nil {
			return
		}
	}
	h.tell(flow.JobKey{Shop: parts[0], Planter: parts[1], Job: parts[2]}, revision)
}
