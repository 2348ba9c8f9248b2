package adjusters

import (
	"context"
	"fmt"
	"sync/atomic"
	"time"
)

// meter knows what every group of processes uses: an adjuster and all that it has started are one.
type meter struct {
	groups atomic.Pointer[map[int]usage] // by the group's leader
}

// usage is what one group uses.
type usage struct {
	bytes     int64 // resident; what processes share counts for each
	processes int
}

// meterEvery is often enough to catch a leak, and seldom enough to cost nothing that shows: a look is
// about 10 µs for every process of the machine.
const meterEvery = time.Second

// run takes samples until life ends.
func (m *meter) run(life context.Context) {
	tick := time.NewTicker(meterEvery)
	defer tick.Stop()
	for {
		groups := sample()
		m.groups.Store(&groups)
		select {
		case <-life.Done():
			return
		case <-tick.C:
		}
	}
}

// of is what a group uses; zero where nothing is known.
func (m *meter) of(leader int) usage {
	groups := m.groups.Load()
	if groups == nil {
		return usage{}
	}
	return (*groups)[leader]
}

// excess says what a group uses more of than it may; empty where nothing is known against it.
func (m *meter) excess(leader int, o Options) string {
	const mebi = 1 << 20
	switch u := m.of(leader); {
	case u.bytes > o.MemoryBytes:
		return fmt.Sprintf("The adjuster used %d MiB of memory, at most %d are allowed.", u.bytes/mebi, o.MemoryBytes/mebi)
	case u.processes > o.MaxProcesses:
		return fmt.Sprintf("The adjuster ran %d processes, at most %d are allowed.", u.processes, o.MaxProcesses)
	}
	return ""
}
