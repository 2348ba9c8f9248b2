package main

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
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
	"rowdatum/server/internal/store"
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
}

// run serves until ctx ends or a listener fails, then stops in order: new calls, running calls, the
// adjusters.
func run(ctx context.Context, f *flags, log *zap.Logger) (err error) {
	ctx, cancel := context.WithCancelCause(ctx)
	defer cancel(nil)
	var at addresses
	var conn *grpc.ClientConn

	if f.GatewayOnly {
		conn, err = dial(f.Server, nil)
	} else {
		var s *service
		if s, err = startService(ctx, f, log); err != nil {
			return err
		}
		defer func() { err = errors.Join(err, s.stop(log)) }()
		s.serve(cancel)
		at.GRPC = s.listener.Addr().String()
		conn, err = dial("passthrough:///inside", s.inside)
	}
	if err != nil {
		return err
	}
	defer conn.Close()

	if !f.ServiceOnly {
		var web *http.Server
		if web, at.HTTP, err = startGateway(f, conn, log, cancel); err != nil {
			return err
		}
		defer stopGateway(web, log)
	}
	if err := writeAddresses(f.AddrFile, at); err != nil {
		return err
	}
	log.Info("ready", zap.String("grpc", at.GRPC), zap.String("http", at.HTTP))
	<-ctx.Done()
	log.Info("stopping")
	if cause := context.Cause(ctx); !errors.Is(cause, context.Canceled) {
		return cause
	}
	return nil
}

// service is the core with its adjusters, its gRPC server, and the two ways in: the network's and the
// gateway's of the same process.
type service struct {
	server   *grpc.Server
	health   *health.Server
	host     *adjusters.Host
	listener net.Listener
	inside   *bufconn.Listener
}

const insideBytes = 1 << 20

func startService(ctx context.Context, f *flags, log *zap.Logger) (*service, error) {
	listener, err := net.Listen("tcp", f.GRPC)
	if err != nil {
		return nil, fmt.Errorf("listening for gRPC: %w", err)
	}
	host, err := adjusters.Start(ctx, adjusters.Options{Dir: f.Adjusters, Log: log.Named("adjusters")})
	if err != nil {
		return nil, errors.Join(fmt.Errorf("starting the adjusters: %w", err), listener.Close())
	}
	s := &service{host: host, listener: listener, inside: bufconn.Listen(insideBytes), health: health.NewServer()}
	s.server = api.NewServer(api.Options{
		Flow:         &flow.Flow{Mechanisms: host},
		Health:       &api.Health{Server: s.health, Probe: probe(f.Store, log)},
		Log:          log.Named("api"),
		NoReflection: f.NoReflection,
	})
	return s, nil
}

// probe tries the store and logs why it cannot be written.
func probe(place string, log *zap.Logger) func() error {
	return func() error {
		err := store.Place(place).Probe()
		if err != nil {
			log.Warn("the store cannot be written", zap.String("store", place), zap.Error(err))
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
	ctx, cancel := context.WithTimeout(context.Background(), adjustersEnd)
	defer cancel()
	if err := s.host.Close(ctx); err != nil {
		return fmt.Errorf("stopping the adjusters: %w", err)
	}
	log.Info("stopped")
	return nil
}

// dial connects the gateway to a service: over the network, or inside the process.
func dial(target string, inside *bufconn.Listener) (*grpc.ClientConn, error) {
	options := []grpc.DialOption{grpc.WithTransportCredentials(insecure.NewCredentials())}
	if inside != nil {
		options = append(options, grpc.WithContextDialer(func(ctx context.Context, _ string) (net.Conn, error) {
			return inside.DialContext(ctx)
		}))
	}
	conn, err := grpc.NewClient(target, options...)
	if err != nil {
		return nil, fmt.Errorf("connecting the gateway: %w", err)
	}
	return conn, nil
}

func startGateway(f *flags, conn *grpc.ClientConn, log *zap.Logger, fail context.CancelCauseFunc) (*http.Server, string, error) {
	handler, err := gateway.New(gateway.Options{Conn: conn, Log: log.Named("gateway")})
	if err != nil {
		return nil, "", fmt.Errorf("building the gateway: %w", err)
	}
	listener, err := net.Listen("tcp", f.HTTP)
	if err != nil {
		return nil, "", fmt.Errorf("listening for HTTP: %w", err)
	}
	web := gateway.NewServer(handler, log.Named("http"))
	go func() {
		if err := web.Serve(listener); !errors.Is(err, http.ErrServerClosed) {
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

// loopback refuses an address that others can reach: there are no keys yet to keep them out.
func loopback(address string) error {
	host, _, err := net.SplitHostPort(address)
	if err != nil {
		return fmt.Errorf("%q is not HOST:PORT", address)
	}
	if ip := net.ParseIP(host); host == "localhost" || ip != nil && ip.IsLoopback() {
		return nil
	}
	return fmt.Errorf("%q can be reached by others, and this version has no keys yet to keep them out: listen on 127.0.0.1", address)
}

// writeAddresses writes the file whole or not at all, so that who waits for it never reads half.
func writeAddresses(file string, at addresses) error {
	if file == "" {
		return nil
	}
	text, err := json.Marshal(at)
	if err != nil {
		return err
	}
	part, err := os.CreateTemp(filepath.Dir(file), ".addr-*")
	if err != nil {
		return fmt.Errorf("writing the addresses: %w", err)
	}
	defer os.Remove(part.Name())
	_, err = part.Write(append(text, '\n'))
	if err := errors.Join(err, part.Close()); err != nil {
		return fmt.Errorf("writing the addresses: %w", err)
	}
	if err := os.Rename(part.Name(), file); err != nil {
		return fmt.Errorf("writing the addresses: %w", err)
	}
	return nil
}
