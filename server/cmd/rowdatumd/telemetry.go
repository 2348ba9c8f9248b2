package main

import (
	"context"
	"net/http"
	"time"

	"go.uber.org/zap"

	"rowdatum/gateway"
	"rowdatum/server/internal/adjusters"
	"rowdatum/server/internal/metrics"
	"rowdatum/server/internal/tracing"
	"rowdatum/server/leveling"
)

// telemetry is what tells whoever runs the process how it does.
type telemetry struct {
	metrics *metrics.Metrics
	traces  *tracing.Tracing // nil: nothing is traced
}

func startTelemetry(ctx context.Context, f *flags) (t telemetry, err error) {
	t.metrics = metrics.New()
	t.traces, err = tracing.Start(ctx, f.OTLP)
	return t, err
}

// tracesEnd is how long the last traces may take on their way.
const tracesEnd = 5 * time.Second

func (t telemetry) close(log *zap.Logger) {
	ctx, cancel := context.WithTimeout(context.Background(), tracesEnd)
	defer cancel()
	if err := t.traces.Close(ctx); err != nil {
		log.Warn("traces are lost", zap.Error(err))
	}
}

// seen hears of every request of the gateway.
func (t telemetry) seen(ctx context.Context, s gateway.Seen) {
	t.metrics.Request(s.Route, s.Method, s.Status, s.Stream, s.Took)
	t.traces.Name(ctx, s.Method, s.Route, s.RequestID)
}

// server serves the metrics and nothing else.
func (t telemetry) server(log *zap.Logger) *http.Server {
	mux := http.NewServeMux()
	mux.Handle("GET /metrics", t.metrics.Handler())
	web := gateway.NewServer(mux, log.Named("metrics"))
	web.ReadTimeout, web.WriteTimeout = pageWrites, pageWrites
	return web
}

var stateWords = map[leveling.StyleState]string{leveling.Starting: "starting", leveling.Serving: "serving",
	leveling.Restarting: "restarting", leveling.Quarantined: "quarantined"}

// figures are what a service tells when it is asked for its metrics.
func figures(s *service) metrics.ServiceState {
	out := metrics.ServiceState{
		Programs: func() (all []metrics.Program) {
			for _, p := range s.host.Programs() {
				all = append(all, figuresOf(p))
			}
			return all
		},
		Answers: func() metrics.Remembered { return remembered(s.host.Remembered()) },
		Jobs:    func() metrics.Remembered { return remembered(s.core.FoldedJobs()) },
		Waiting: s.waiting,
	}
	for state := leveling.Starting; state <= leveling.Quarantined; state++ {
		out.States = append(out.States, stateWords[state])
	}
	return out
}

// waitingLook is how long the store may take to tell what waits, below the 10 s that Prometheus usually gives.
const waitingLook = 5 * time.Second

// waiting is how long the oldest event has waited to be delivered.
func (s *service) waiting() (age time.Duration, ok bool) {
	ctx, cancel := context.WithTimeout(context.Background(), waitingLook)
	defer cancel()
	age, err := s.core.OldestWaiting(ctx)
	return age, err == nil
}

func figuresOf(p adjusters.Program) metrics.Program {
	return metrics.Program{Name: p.Name, State: stateWords[p.State], Restarts: p.Restarts, Memory: p.Bytes, Processes: p.Processes}
}

func remembered(hits, misses uint64) metrics.Remembered {
	return metrics.Remembered{Hits: hits, Misses: misses}
}
