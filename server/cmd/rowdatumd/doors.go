package main

import (
	"context"
	"errors"
	"fmt"
	"net"
	"net/http"
	"os"
	"os/signal"
	"sync"
	"syscall"
	"time"

	"go.uber.org/zap"
	"google.golang.org/grpc"
	"google.golang.org/grpc/credentials"
	"google.golang.org/grpc/credentials/insecure"
	"google.golang.org/grpc/metadata"

	"rowdatum/gateway"
	"rowdatum/server/internal/api"
	"rowdatum/server/internal/flow"
	"rowdatum/server/internal/tlsfiles"
	"rowdatum/server/internal/tracing"
)

// checkDoors refuses doors that others can come through unseen: on other than loopback only with TLS, or
// with the word of who runs it that he knows better. Keys are asked for there in any case.
func (f *flags) checkDoors() error {
	switch {
	case (f.TLSCert == "") != (f.TLSKey == ""):
		return errors.New("--tls-cert and --tls-key go together")
	case f.TLSCert != "" && f.LANPlainHTTP:
		return errors.New("--tls-cert and --lan-plain-http exclude each other")
	case f.CAHTTP != "" && (f.TLSCert == "" || f.ServiceOnly):
		return errors.New("--ca-http goes with --tls-cert, --tls-key and the gateway")
	case f.ServerCA != "" && !f.GatewayOnly:
		return errors.New("--server-ca goes with --gateway-only")
	case f.CallsPerSecond < 0 || f.CallBurst < 0:
		return errors.New("--calls-per-second and --call-burst must be above 0")
	}
	for _, network := range f.TrustedProxy {
		if network != network.Masked() || network.Bits() == 0 {
			return fmt.Errorf("--trusted-proxy %s is not the network of a proxy: write the address of one as 192.168.1.5/32, or its network as 10.0.0.0/24", network)
		}
	}
	if f.MetricsHTTP != "" {
		near, err := loopback(f.MetricsHTTP)
		if err != nil {
			return err
		}
		if !near {
			return fmt.Errorf("--metrics-http asks for no key, and %q can be reached by others: listen on 127.0.0.1, or read /metrics of the gateway with a key", f.MetricsHTTP)
		}
	}
	for _, address := range f.served() {
		near, err := loopback(address)
		if err != nil {
			return err
		}
		if !near && f.TLSCert == "" && !f.BehindTLSProxy && !f.LANPlainHTTP {
			return fmt.Errorf("%q can be reached by others. Serve them over TLS with --tls-cert and --tls-key (rowdatumd tls init makes both), "+
				"or say --behind-tls-proxy, or --lan-plain-http where everybody on the network may read everything; or listen on 127.0.0.1", address)
		}
	}
	if f.GatewayOnly && f.ServerCA == "" {
		near, err := loopback(f.Server)
		if err != nil {
			return err
		}
		if !near && !f.BehindTLSProxy && !f.LANPlainHTTP {
			return fmt.Errorf("keys would travel unprotected to %q: name the authority of the service with --server-ca", f.Server)
		}
	}
	return nil
}

// served are the addresses that this process answers calls on.
func (f *flags) served() []string {
	switch {
	case f.GatewayOnly:
		return []string{f.HTTP}
	case f.ServiceOnly:
		return []string{f.GRPC}
	}
	return []string{f.GRPC, f.HTTP}
}

// keysOnly says whether every call needs a key. A proxy makes callers from elsewhere look like neighbours.
func (f *flags) keysOnly() bool {
	if f.RequireKeys || f.BehindTLSProxy {
		return true
	}
	for _, address := range f.served() {
		if near, err := loopback(address); err != nil || !near {
			return true
		}
	}
	return false
}

// loopback says whether only this machine can reach an address.
func loopback(address string) (bool, error) {
	host, _, err := net.SplitHostPort(address)
	if err != nil {
		return false, fmt.Errorf("%q is not HOST:PORT", address)
	}
	ip := net.ParseIP(host)
	return host == "localhost" || ip != nil && ip.IsLoopback(), nil
}

// mustBeGuarded refuses to start where keys are asked for and nobody has one.
func (f *flags) mustBeGuarded(ctx context.Context, core *flow.Flow) error {
	if !f.keysOnly() {
		return nil
	}
	guarded, err := core.Guarded(ctx)
	if err == nil && !guarded {
		err = errors.New("every call needs a key here, and there is none yet: make the first with rowdatumd key add --shop SHOP --role owner, and the same --store")
	}
	return err
}

// warn says at every start what an operator must not forget.
func (f *flags) warn(log *zap.Logger) {
	if f.LANPlainHTTP {
		log.Warn("SERVING WITHOUT TLS (--lan-plain-http): whoever is on this network can read every reading and every key, and pass for this service")
	}
}

// files are the certificate and key to serve with; nil is plain.
func (f *flags) files() (*tlsfiles.Files, error) {
	if f.TLSCert == "" {
		return nil, nil
	}
	return tlsfiles.Load(f.TLSCert, f.TLSKey)
}

// reloading reads the files again at each SIGHUP, until end is called.
func reloading(files *tlsfiles.Files, log *zap.Logger) (end func()) {
	if files == nil {
		return func() {}
	}
	again, done := make(chan os.Signal, 1), make(chan struct{})
	signal.Notify(again, syscall.SIGHUP)
	var work sync.WaitGroup
	work.Go(func() {
		for {
			select {
			case <-done:
				return
			case <-again:
				if err := files.Reload(); err != nil {
					log.Error("the certificate was not read again; the one before is served on", zap.Error(err))
					continue
				}
				log.Info("the certificate was read again", zap.Time("until", files.Server().NotAfter))
			}
		}
	})
	return func() {
		signal.Stop(again)
		close(done)
		work.Wait()
	}
}

// dialService connects the gateway to a service elsewhere.
func (f *flags) dialService(traces *tracing.Tracing) (*grpc.ClientConn, error) {
	creds := insecure.NewCredentials()
	if f.ServerCA != "" {
		var err error
		if creds, err = credentials.NewClientTLSFromFile(f.ServerCA, ""); err != nil {
			return nil, fmt.Errorf("reading the authority of the service: %w", err)
		}
	}
	options := append(traces.Client(), grpc.WithTransportCredentials(creds))
	if f.keysOnly() {
		options = append(options, grpc.WithChainUnaryInterceptor(keysOnlyUnary), grpc.WithChainStreamInterceptor(keysOnlyStream))
	}
	return dial(f.Server, options...)
}

// asksForKeys marks a call as one from elsewhere: to the service, this gateway's calls look like a
// neighbour's.
func asksForKeys(ctx context.Context) context.Context {
	return metadata.AppendToOutgoingContext(ctx, api.KeysOnlyHeader, "1")
}

func keysOnlyUnary(ctx context.Context, method string, req, reply any, conn *grpc.ClientConn, call grpc.UnaryInvoker, options ...grpc.CallOption) error {
	return call(asksForKeys(ctx), method, req, reply, conn, options...)
}

func keysOnlyStream(ctx context.Context, desc *grpc.StreamDesc, conn *grpc.ClientConn, method string, begin grpc.Streamer, options ...grpc.CallOption) (grpc.ClientStream, error) {
	return begin(asksForKeys(ctx), desc, conn, method, options...)
}

// pageWrites is how long a phone may take to fetch what the authority's page serves.
const pageWrites = 15 * time.Second

// startPage serves the authority's certificate to phones that do not trust it yet.
func startPage(address string, files *tlsfiles.Files, gatewayAt string, log *zap.Logger, fail context.CancelCauseFunc) (*http.Server, string, error) {
	authority, err := files.Authority()
	if err != nil {
		return nil, "", fmt.Errorf("--ca-http: %w", err)
	}
	_, port, err := net.SplitHostPort(gatewayAt)
	if err != nil {
		return nil, "", err
	}
	page, err := tlsfiles.Page(authority, "https://"+net.JoinHostPort(tlsfiles.Host(files.Server()), port)+"/")
	if err != nil {
		return nil, "", err
	}
	web := gateway.NewServer(page, log.Named("ca"))
	web.ReadTimeout, web.WriteTimeout = pageWrites, pageWrites
	log.Info("phones find the authority's certificate at --ca-http", zap.String("fingerprint", tlsfiles.Fingerprint(authority)))
	return startWeb(address, nil, web, fail)
}
