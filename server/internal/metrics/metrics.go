package metrics

import (
	"net/http"
	"runtime"
	"runtime/debug"
	"strconv"
	"time"

	"github.com/prometheus/client_golang/prometheus"
	"github.com/prometheus/client_golang/prometheus/collectors"
	"github.com/prometheus/client_golang/prometheus/promhttp"
)

const namespace = "rowdatum"

// Buckets reach from the fastest answer to the time limit of a call. Choices of ours.
var (
	callSeconds   = []float64{.001, .0025, .005, .01, .025, .05, .1, .25, .5, 1, 2.5, 5, 10, 15}
	commitSeconds = []float64{.0002, .0005, .001, .0025, .005, .01, .025, .05, .1, .25, .5, 1, 2.5, 5}
	groupWrites   = []float64{1, 2, 4, 8, 16, 32, 64, 128, 256}
)

// Metrics of one process. Its methods may be called side by side.
type Metrics struct {
	registry *prometheus.Registry

	calls   *prometheus.CounterVec
	called  *prometheus.HistogramVec
	streams prometheus.Gauge

	requests  *prometheus.CounterVec
	requested *prometheus.HistogramVec

	writes      prometheus.Counter
	writeErrors prometheus.Counter
	groups      prometheus.Histogram
	committed   prometheus.Histogram

	asked *prometheus.HistogramVec

	delivered   prometheus.Counter
	givenUp     prometheus.Counter
	triesFailed prometheus.Counter
}

// New returns metrics that know of the process and its program, and nothing yet of what it serves.
func New() *Metrics {
	counter := func(name, help string) prometheus.CounterOpts {
		return prometheus.CounterOpts{Namespace: namespace, Name: name, Help: help}
	}
	histogram := func(name, help string, buckets []float64) prometheus.HistogramOpts {
		return prometheus.HistogramOpts{Namespace: namespace, Name: name, Help: help, Buckets: buckets}
	}
	m := &Metrics{
		registry: prometheus.NewRegistry(),
		calls:    prometheus.NewCounterVec(counter("grpc_calls_total", "Calls answered by the service, by method and code."), []string{"method", "code"}),
		called:   prometheus.NewHistogramVec(histogram("grpc_call_seconds", "How long calls took, streams aside.", callSeconds), []string{"method"}),
		streams: prometheus.NewGauge(prometheus.GaugeOpts{Namespace: namespace, Name: "grpc_streams_open",
			Help: "Streams that are open now: who follows a job."}),
		requests:    prometheus.NewCounterVec(counter("http_requests_total", "Requests answered by the gateway, by route, method and status."), []string{"route", "method", "status"}),
		requested:   prometheus.NewHistogramVec(histogram("http_request_seconds", "How long requests took, watches aside.", callSeconds), []string{"route", "method"}),
		writes:      prometheus.NewCounter(counter("store_writes_total", "Writes that the store was asked for.")),
		writeErrors: prometheus.NewCounter(counter("store_write_errors_total", "Writes that failed because of the disk or the database; refused ones aside.")),
		groups:      prometheus.NewHistogram(histogram("store_group_writes", "How many writes shared one transaction.", groupWrites)),
		committed:   prometheus.NewHistogram(histogram("store_commit_seconds", "How long a transaction of writes took, its commit included.", commitSeconds)),
		asked: prometheus.NewHistogramVec(histogram("adjuster_question_seconds", "How long adjusters took over questions that were not remembered.", callSeconds),
			[]string{"program", "question", "outcome"}),
		delivered:   prometheus.NewCounter(counter("hook_deliveries_total", "Deliveries to hooks that their receivers took.")),
		givenUp:     prometheus.NewCounter(counter("hook_deliveries_given_up_total", "Deliveries to hooks that were given up: dead letters.")),
		triesFailed: prometheus.NewCounter(counter("hook_tries_failed_total", "Tries of deliveries to hooks that their receivers did not take.")),
	}
	m.registry.MustRegister(collectors.NewGoCollector(), collectors.NewProcessCollector(collectors.ProcessCollectorOpts{}), buildInfo())
	return m
}

// buildInfo says which program this is, as a gauge that is always 1.
func buildInfo() prometheus.Collector {
	version, revision := "unknown", "unknown"
	if info, ok := debug.ReadBuildInfo(); ok {
		version = info.Main.Version
		for _, s := range info.Settings {
			if s.Key == "vcs.revision" {
				revision = s.Value
			}
		}
	}
	info := prometheus.NewGauge(prometheus.GaugeOpts{Namespace: namespace, Name: "build_info", Help: "Which program this is.",
		ConstLabels: prometheus.Labels{"version": version, "revision": revision, "go": runtime.Version()}})
	info.Set(1)
	return info
}

// Handler serves the metrics as text.
func (m *Metrics) Handler() http.Handler {
	return promhttp.HandlerFor(m.registry, promhttp.HandlerOpts{})
}

// Gateway has the metrics speak of a gateway.
func (m *Metrics) Gateway() { m.registry.MustRegister(m.requests, m.requested) }

// Request counts one request of the gateway.
func (m *Metrics) Request(route, method string, status int, stream bool, took time.Duration) {
	m.requests.WithLabelValues(route, method, strconv.Itoa(status)).Inc()
	if !stream {
		m.requested.WithLabelValues(route, method).Observe(took.Seconds())
	}
}

// Call implements api.Meter.
func (m *Metrics) Call(method, code string, stream bool, took time.Duration) {
	m.calls.WithLabelValues(method, code).Inc()
	if !stream {
		m.called.WithLabelValues(method).Observe(took.Seconds())
	}
}

// Stream implements api.Meter.
func (m *Metrics) Stream(more int) { m.streams.Add(float64(more)) }

// Group implements store.Meter.
func (m *Metrics) Group(writes, failed int, took time.Duration) {
	m.writes.Add(float64(writes))
	m.writeErrors.Add(float64(failed))
	m.groups.Observe(float64(writes))
	m.committed.Observe(took.Seconds())
}

// Delivered implements hooks.Meter.
func (m *Metrics) Delivered() { m.delivered.Inc() }

// GivenUp implements hooks.Meter.
func (m *Metrics) GivenUp() { m.givenUp.Inc() }

// TryFailed implements hooks.Meter.
func (m *Metrics) TryFailed() { m.triesFailed.Inc() }

// Asked implements adjusters.Meter.
func (m *Metrics) Asked(program, question string, ok bool, took time.Duration) {
	outcome := "answered"
	if !ok {
		outcome = "failed"
	}
	m.asked.WithLabelValues(program, question, outcome).Observe(took.Seconds())
}
