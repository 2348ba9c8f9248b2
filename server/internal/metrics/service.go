package metrics

import (
	"time"

	"github.com/prometheus/client_golang/prometheus"
)

// Program is an adjuster as it stands now.
type Program struct {
	Name      string // of its file
	State     string // one of ServiceState.States
	Restarts  uint64
	Memory    int64 // bytes, with all that it has started; 0 where the system does not tell
	Processes int
}

// Remembered is how often an answer was remembered.
type Remembered struct{ Hits, Misses uint64 }

// ServiceState is what a service tells when it is asked for its metrics.
type ServiceState struct {
	States   []string // that a program may be in
	Programs func() []Program
	Answers  func() Remembered // of adjusters
	Jobs     func() Remembered // folded
	// Waiting is how long the oldest event has waited to be delivered, 0 where none waits; ok is false where nobody
	// knows.
	Waiting func() (age time.Duration, ok bool)
}

// Service has the metrics speak of a service.
func (m *Metrics) Service(s ServiceState) {
	m.registry.MustRegister(m.calls, m.called, m.streams, m.writes, m.writeErrors, m.groups, m.committed, m.asked, m.delivered, m.givenUp, m.triesFailed,
		&programs{ServiceState: s}, waiting{s.Waiting})
	for _, r := range []struct {
		name, what string
		now        func() Remembered
	}{
		{"adjuster_answers", "Questions to adjusters", s.Answers},
		{"folded_jobs", "Looks at the state of a job", s.Jobs},
	} {
		count := func(name, help string, value func() uint64) {
			m.registry.MustRegister(prometheus.NewCounterFunc(prometheus.CounterOpts{Namespace: namespace, Name: name, Help: help},
				func() float64 { return float64(value()) }))
		}
		count(r.name+"_remembered_total", r.what+" that found it remembered.", func() uint64 { return r.now().Hits })
		count(r.name+"_not_remembered_total", r.what+" that did not find it remembered.", func() uint64 { return r.now().Misses })
	}
}

// waiting looks at each collection how long the oldest event has waited; where nobody knows, nothing is told.
type waiting struct {
	now func() (time.Duration, bool)
}

var oldestWaiting = prometheus.NewDesc(prometheus.BuildFQName(namespace, "hook", "oldest_waiting_seconds"),
	"Age of the oldest event that waits to be delivered, paused hooks aside; 0 where none waits.", nil, nil)

// Describe implements prometheus.Collector.
func (w waiting) Describe(out chan<- *prometheus.Desc) { out <- oldestWaiting }

// Collect implements prometheus.Collector.
func (w waiting) Collect(out chan<- prometheus.Metric) {
	if age, ok := w.now(); ok {
		out <- prometheus.MustNewConstMetric(oldestWaiting, prometheus.GaugeValue, age.Seconds())
	}
}

// programs asks for the adjusters at each collection, so that one that is gone leaves nothing behind.
type programs struct{ ServiceState }

func programDesc(name, help string, labels ...string) *prometheus.Desc {
	return prometheus.NewDesc(prometheus.BuildFQName(namespace, "adjuster", name), help, append([]string{"program"}, labels...), nil)
}

var (
	programState     = programDesc("state", "1 for the state that the adjuster is in.", "state")
	programRestarts  = programDesc("restarts_total", "How often the adjuster was started again.")
	programMemory    = programDesc("memory_bytes", "What the adjuster uses, with all that it has started.")
	programProcesses = programDesc("processes", "How many processes the adjuster runs.")
)

// Describe implements prometheus.Collector.
func (p *programs) Describe(out chan<- *prometheus.Desc) {
	for _, d := range []*prometheus.Desc{programState, programRestarts, programMemory, programProcesses} {
		out <- d
	}
}

// Collect implements prometheus.Collector.
func (p *programs) Collect(out chan<- prometheus.Metric) {
	for _, one := range p.Programs() {
		gauge := func(d *prometheus.Desc, value float64, labels ...string) {
			out <- prometheus.MustNewConstMetric(d, prometheus.GaugeValue, value, append([]string{one.Name}, labels...)...)
		}
		for _, state := range p.States {
			is := 0.0
			if state == one.State {
				is = 1
			}
			gauge(programState, is, state)
		}
		out <- prometheus.MustNewConstMetric(programRestarts, prometheus.CounterValue, float64(one.Restarts), one.Name)
		if one.Memory > 0 {
			gauge(programMemory, float64(one.Memory))
			gauge(programProcesses, float64(one.Processes))
		}
	}
}
