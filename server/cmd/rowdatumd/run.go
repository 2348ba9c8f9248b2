package main

import (
	"context"
	"crypto/tls"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"net"
	"net/http"
	"os"
	"path/filepath"
	"time"

	"go.uber.org/zap"
	"google.golang.org/grpc"
	"google.golang.org/grpc/credentials/insecure"
	"google.golang.org/grpc/health"
	"google.golang.org/grpc/test/bufconn"

	"rowdatum/gateway"
	"rowdatum/server/internal/adjusters"
	"rowdatum/server/internal/api"
	"rowdatum/server/internal/flow"
	"rowdatum/server/internal/hooks"
	"rowdatum/server/internal/store"
	"rowdatum/server/internal/tlsfiles"
	"rowdatum/server/internal/tracing"
	"rowdatum/server/leveling"
)

// How long each step of stopping may take.
const (
	callsEnd     = 10 * time.Second
	adjustersEnd = 5 * time.Second
)

// addresses are what --addr-file tells; empty for the half that is not served.
type addresses struct {
	GRPC string `json:"grpc"`
	HTTP string `json:"http"`
	CA   string `json:"caHttp,omitempty"`

	Metrics string `json:"metricsHttp,omitempty"`
}

// run serves until ctx ends or a listener fails, then stops in order: new calls, running calls, the
// adjusters, the store. ready is called once all is served.
func run(ctx context.Context, f *flags, log *zap.Logger, ready func()) (err error) {
	ctx, cancel := context.WithCancelCause(ctx)
	defer cancel(nil)
	stopping, letGo := context.WithCancel(context.Background())
	defer letGo()
	var at addresses
	var conn *grpc.ClientConn
	files, err := f.files()
	if err != nil {
		return err
	}
	defer reloading(files, log)()
	f.warn(log)
	t, err := startTelemetry(ctx, f)
	if err != nil {
		return err
	}
	defer t.close(log)

	if f.GatewayOnly {
		conn, err = f.dialService(t.traces)
	} else {
		var s *service
		if s, err = startService(ctx, f, t, files, stopping.Done(), log); err != nil {
			return err
		}
		defer func() { err = errors.Join(err, s.stop(log)) }()
		s.serve(cancel)
		defer s.keepTidy(log)()
		at.GRPC = s.listener.Addr().String()
		conn, err = dialInside(s.inside, t.traces)
	}
	if err != nil {
		return err
	}
	defer conn.Close()

	if !f.ServiceOnly {
		var web *http.Server
		if web, at.HTTP, err = startGateway(f, t, files, conn, log, cancel); err != nil {
			return err
		}
		defer stopGateway(web, log)
	}
	if f.CAHTTP != "" {
		var page *http.Server
		if page, at.CA, err = startPage(f.CAHTTP, files, at.HTTP, log, cancel); err != nil {
			return err
		}
		defer stopGateway(page, log)
	}
	if f.MetricsHTTP != "" {
		var page *http.Server
		if page, at.Metrics, err = startWeb(f.MetricsHTTP, nil, t.server(log), cancel); err != nil {
			return err
		}
		defer stopGateway(page, log)
	}
	if err := writeAddresses(f.AddrFile, at); err != nil {
		return err
	}
	ready()
	log.Info("ready", zap.String("grpc", at.GRPC), zap.String("http", at.HTTP))
	<-ctx.Done()
	log.Info("stopping")
	letGo() // watchers first: nothing else waits for ever
	if cause := context.Cause(ctx); !errors.Is(cause, context.Canceled) {
		return cause
	}
	return nil
}

// service is the core with its store and adjusters, its gRPC server, and the two ways in: the network's
// and the gateway's of the same process.
type service struct {
	server   *grpc.Server
	store    *store.Store
	core     *flow.Flow
	hooks    *hooks.Deliverer
	health   *health.Server
	host     *adjusters.Host
	listener net.Listener
	inside   *bufconn.Listener
	now      func() leveling.Micros // the clock
}

const insideBytes = 1 << 20

func startService(ctx context.Context, f *flags, t telemetry, files *tlsfiles.Files, stopping <-chan struct{}, log *zap.Logger) (*service, error) {
	s := &service{inside: bufconn.Listen(insideBytes), health: health.NewServer(), now: now}
	if err := s.open(ctx, f, t, files, stopping, log); err != nil {
		return nil, errors.Join(err, s.close())
	}
	return s, nil
}

func (s *service) open(ctx context.Context, f *flags, t telemetry, files *tlsfiles.Files, stopping <-chan struct{}, log *zap.Logger) (err error) {
	if s.listener, err = net.Listen("tcp", f.GRPC); err != nil {
		return fmt.Errorf("listening for gRPC: %w", err)
	}
	if files != nil {
		s.listener = tls.NewListener(s.listener, files.Config("h2"))
	}
	if s.store, err = store.OpenMetered(ctx, f.Store, log.Named("store"), t.metrics); err != nil {
		return err
	}
	core := &flow.Flow{Store: s.store, Now: s.now, HooksToPrivate: f.HooksToPrivate}
	s.core = core
	if err := f.mustBeGuarded(ctx, core); err != nil {
		return err
	}
	if s.host, err = adjusters.Start(ctx, f.adjusterOptions(t, log.Named("adjusters"))); err != nil {
		return fmt.Errorf("starting the adjusters: %w", err)
	}
	core.Mechanisms = s.host
	t.metrics.Service(figures(s))
	s.server = api.NewServer(api.Options{
		Flow:           core,
		Health:         &api.Health{Server: s.health, Probe: probe(s.store, log), Damage: s.store.Damage},
		Log:            log.Named("api"),
		Hold:           s.host.Hold,
		Meter:          t.metrics,
		GRPC:           t.traces.Server(),
		NoReflection:   f.NoReflection,
		Stopping:       stopping,
		RequireKey:     f.keysOnly(),
		CallsPerSecond: f.CallsPerSecond,
		CallBurst:      f.CallBurst,
		TrustedProxies: f.TrustedProxy,
	})
	s.hooks = hooks.Start(hooks.Options{Store: s.store, Now: s.now, Log: log.Named("hooks"), Meter: t.metrics, ToPrivate: f.HooksToPrivate, Timeout: f.HookTimeout})
	return nil
}

func now() leveling.Micros { return leveling.Micros(time.Now().UnixMicro()) }

// probe tries the store and logs why it cannot be written.
func probe(s *store.Store, log *zap.Logger) func(context.Context) error {
	return func(ctx context.Context) error {
		err := s.Probe(ctx)
		if err != nil {
			log.Warn("the store cannot be written", zap.Error(err))
		}
		return err
	}
}

// serve answers on both ways in; fail hears of a listener that breaks. The goroutines end with stop.
func (s *service) serve(fail context.CancelCauseFunc) {
	for _, listener := range []net.Listener{s.listener, s.inside} {
		go func() {
			if err := s.server.Serve(listener); err != nil {
				fail(fmt.Errorf("serving gRPC: %w", err))
			}
		}()
	}
}

func (s *service) stop(log *zap.Logger) error {
	s.health.Shutdown()
	late := time.AfterFunc(callsEnd, s.server.Stop)
	s.server.GracefulStop()
	late.Stop()
	err := s.close()
	log.Info("stopped")
	return err
}

// close closes what has been opened. The server has closed its listeners by then, where it has served.
func (s *service) close() (err error) {
	if s.listener != nil {
		if e := s.listener.Close(); !errors.Is(e, net.ErrClosed) {
			err = e
		}
	}
	if s.hooks != nil {
		s.hooks.Close()
	}
	if s.host != nil {
		ctx, cancel := context.WithTimeout(context.Background(), adjustersEnd)
		defer cancel()
		if e := s.host.Close(ctx); e != nil {
			err = errors.Join(err, fmt.Errorf("stopping the adjusters: %w", e))
		}
	}
	if s.store != nil {
		if e := s.store.Close(); e != nil {
			err = errors.Join(err, fmt.Errorf("closing the store: %w", e))
		}
	}
	return err
}

// dialInside connects the gateway to the service of the same process.
func dialInside(inside *bufconn.Listener, traces *tracing.Tracing) (*grpc.ClientConn, error) {
	return dial("passthrough:///inside", append(traces.Inside(), grpc.WithTransportCredentials(insecure.NewCredentials()),
		grpc.WithContextDialer(func(ctx context.Context, _ string) (net.Conn, error) { return inside.DialContext(ctx) }))...)
}

// maxAnswer is the largest answer that the gateway takes from the service: a sheet of the fullest job, whose every character
// HTML writes as an entity.
const maxAnswer = 64 << 20

func dial(target string, options ...grpc.DialOption) (*grpc.ClientConn, error) {
	options = append(options, grpc.WithDefaultCallOptions(grpc.MaxCallRecvMsgSize(maxAnswer)))
	conn, err := grpc.NewClient(target, options...)
	if err != nil {
		return nil, fmt.Errorf("connecting the gateway: %w", err)
	}
	return conn, nil
}

func startGateway(f *flags, t telemetry, files *tlsfiles.Files, conn *grpc.ClientConn, log *zap.Logger, fail context.CancelCauseFunc) (*http.Server, string, error) {
	t.metrics.Gateway()
	handler, err := gateway.New(gateway.Options{Conn: conn, Log: log.Named("gateway"), KeysOnly: f.keysOnly(), TrustedProxies: f.TrustedProxy, Seen: t.seen, Metrics: t.metrics.Handler()})
	if err != nil {
		return nil, "", fmt.Errorf("building the gateway: %w", err)
	}
	return startWeb(f.HTTP, files, gateway.NewServer(t.traces.Edge(handler, f.keysOnly()), log.Named("http")), fail)
}

// startWeb serves over TLS where there are files.
func startWeb(address string, files *tlsfiles.Files, web *http.Server, fail context.CancelCauseFunc) (*http.Server, string, error) {
	listener, err := net.Listen("tcp", address)
	if err != nil {
		return nil, "", fmt.Errorf("listening for HTTP: %w", err)
	}
	serve := web.Serve
	if files != nil {
		web.TLSConfig = files.Config("h2", "http/1.1")
		serve = func(l net.Listener) error { return web.ServeTLS(l, "", "") }
	}
	go func() {
		if err := serve(listener); !errors.Is(err, http.ErrServerClosed) {
			fail(fmt.Errorf("serving HTTP: %w", err))
		}
	}()
	return web, listener.Addr().String(), nil
}

func stopGateway(web *http.Server, log *zap.Logger) {
	ctx, cancel := context.WithTimeout(context.Background(), callsEnd)
	defer cancel()
	if err := web.Shutdown(ctx); err != nil {
		log.Warn("some requests were cut off", zap.Error(err))
		web.Close()
	}
}

// writeAddresses tells the addresses, so that who waits for the file never reads half.
func writeAddresses(file string, at addresses) error {
	if file == "" {
		return nil
	}
	return writeWhole(file, func(w io.Writer) error { return json.NewEncoder(w).Encode(at) })
}

// writeWhole writes a file whole or not at all.
func writeWhole(file string, write func(io.Writer) error) error {
	part, err := os.CreateTemp(filepath.Dir(file), ".part-*")
	if err != nil {
		return fmt.Errorf("writing %s: %w", file, err)
	}
	defer os.Remove(part.Name())
	err = write(part)
	if err := errors.Join(err, part.Close()); err != nil {
		return fmt.Errorf("writing %s: %w", file, err)
	}
	if err := os.Rename(part.Name(), file); err != nil {
		return fmt.Errorf("writing %s: %w", file, err)
	}
	return nil
}
