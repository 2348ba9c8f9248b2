package adjusters

import (
	"time"

	"rowdatum/server/leveling"
)

// Meter hears of every question that a program was asked: what was not remembered. Its methods return at
// once.
type Meter interface {
	Asked(program, question string, ok bool, took time.Duration)
}

type noMeter struct{}

func (noMeter) Asked(string, string, bool, time.Duration) {}

// Program is what is known of one program of the folder now.
type Program struct {
	Name      string // of its file
	State     leveling.StyleState
	Restarts  uint64
	Bytes     int64 // of memory, with all that it has started; 0 where nothing is known
	Processes int
}

// Programs tells of every program that serves from the folder, or should.
func (h *Host) Programs() []Program {
	h.mu.Lock()
	defer h.mu.Unlock()
	all := make([]Program, 0, len(h.seats))
	for _, s := range h.seats {
		now, _ := s.now.present()
		p := Program{Name: s.name, State: now.state, Restarts: s.now.restarts.Load()}
		if h.conflict(s, s.now.id()) != "" {
			p.State = leveling.Quarantined // as it is listed
		}
		if now.process != nil {
			used := h.meter.of(now.process.cmd.Process.Pid)
			p.Bytes, p.Processes = used.bytes, used.processes
		}
		all = append(all, p)
	}
	return all
}

// Remembered tells how often an answer was remembered when it was asked for, and how often not.
func (h *Host) Remembered() (hits, misses uint64) {
	h.cache.mu.Lock()
	defer h.cache.mu.Unlock()
	return h.cache.hits, h.cache.misses
}
