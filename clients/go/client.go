package rowdatum

import (
	"context"
	"crypto/tls"
	"crypto/x509"
	"errors"
	"fmt"
	"net"
	"time"

	"google.golang.org/grpc"
	"google.golang.org/grpc/backoff"
	"google.golang.org/grpc/credentials"
	"google.golang.org/grpc/credentials/insecure"
	"google.golang.org/grpc/keepalive"
	"google.golang.org/grpc/metadata"

	rowdatumv1 "rowdatum/proto/gen/rowdatum/v1"
)

// Options of a client. The zero value is right for a service on the same machine.
type Options struct {
	Key       string // a bearer key of the service; empty: none
	Language  string // what people are told in, "en" or "es"; empty: English
	Authority []byte // PEM of the shop's own certificate authority; empty: those that the system trusts
	// Plain speaks without TLS, so that whoever is on the network reads every reading and the key. A service at a loopback
	// address is spoken to without TLS anyway, unless Authority is given.
	Plain    bool
	Patience time.Duration // how long a call without a deadline is tried; 0: 30 s
	Pause    time.Duration // before the second attempt; each further pause is twice as long, up to 8 s; 0: 250 ms
}

// Client speaks to one service. Its fields are the services of the contract, in full. It may be used by many at once.
type Client struct {
	Planters rowdatumv1.PlanterServiceClient
	Fixtures rowdatumv1.FixtureServiceClient
	Jobs     rowdatumv1.JobServiceClient
	Digs     rowdatumv1.DigServiceClient
	Field    rowdatumv1.FieldServiceClient
	Wear     rowdatumv1.WearServiceClient
	Plans    rowdatumv1.PlanServiceClient
	Styles   rowdatumv1.StyleServiceClient
	Access   rowdatumv1.AccessServiceClient
	Hooks    rowdatumv1.HookServiceClient
	Changes  rowdatumv1.ChangeServiceClient

	conn *grpc.ClientConn
	options
}

// maxAnswer is the largest answer that is taken; a job of 120 rows is far below it.
const maxAnswer = 16 << 20

// Dial makes a client of the service whose gRPC address is HOST:PORT. It connects when the first call is made.
func Dial(address string, o Options) (*Client, error) {
	host, _, err := net.SplitHostPort(address)
	if err != nil {
		return nil, fmt.Errorf("%q is not HOST:PORT of a service, like 127.0.0.1:7401", address)
	}
	transport, err := o.transport(host)
	if err != nil {
		return nil, err
	}
	opts := o.filled()
	conn, err := grpc.NewClient("dns:///"+address,
		grpc.WithTransportCredentials(transport),
		grpc.WithChainUnaryInterceptor(opts.unary),
		grpc.WithChainStreamInterceptor(opts.stream),
		grpc.WithDefaultCallOptions(grpc.MaxCallRecvMsgSize(maxAnswer)),
		grpc.WithConnectParams(grpc.ConnectParams{
			Backoff:           backoff.Config{BaseDelay: opts.pause, Multiplier: 2, Jitter: 0.2, MaxDelay: maxPause},
			MinConnectTimeout: 5 * time.Second,
		}),
		// The service lets a client ask every 20 s whether it is still there.
		grpc.WithKeepaliveParams(keepalive.ClientParameters{Time: 30 * time.Second, Timeout: 15 * time.Second}),
	)
	if err != nil {
		return nil, fmt.Errorf("the service at %s cannot be dialed: %w", address, err)
	}
	return &Client{
		Planters: rowdatumv1.NewPlanterServiceClient(conn),
		Fixtures: rowdatumv1.NewFixtureServiceClient(conn),
		Jobs:     rowdatumv1.NewJobServiceClient(conn),
		Digs:     rowdatumv1.NewDigServiceClient(conn),
		Field:    rowdatumv1.NewFieldServiceClient(conn),
		Wear:     rowdatumv1.NewWearServiceClient(conn),
		Plans:    rowdatumv1.NewPlanServiceClient(conn),
		Styles:   rowdatumv1.NewStyleServiceClient(conn),
		Access:   rowdatumv1.NewAccessServiceClient(conn),
		Hooks:    rowdatumv1.NewHookServiceClient(conn),
		Changes:  rowdatumv1.NewChangeServiceClient(conn),
		conn:     conn,
		options:  opts,
	}, nil
}

// Close ends the connection and all that still runs over it.
func (c *Client) Close() error { return c.conn.Close() }

func (o Options) transport(host string) (credentials.TransportCredentials, error) {
	switch {
	case o.Plain && len(o.Authority) > 0:
		return nil, errors.New("an authority is given, and TLS is turned off: leave out one of them")
	case o.Plain, len(o.Authority) == 0 && loopback(host):
		return insecure.NewCredentials(), nil
	case len(o.Authority) == 0:
		return credentials.NewTLS(&tls.Config{MinVersion: tls.VersionTLS12}), nil
	}
	trusted := x509.NewCertPool()
	if !trusted.AppendCertsFromPEM(o.Authority) {
		return nil, errors.New("the authority holds no certificate in PEM")
	}
	return credentials.NewTLS(&tls.Config{MinVersion: tls.VersionTLS12, RootCAs: trusted}), nil
}

func loopback(host string) bool {
	return host == "localhost" || net.ParseIP(host).IsLoopback()
}

// options are Options with every default filled in.
type options struct {
	key, language   string
	patience, pause time.Duration
}

func (o Options) filled() options {
	out := options{o.Key, o.Language, o.Patience, o.Pause}
	if out.patience <= 0 {
		out.patience = 30 * time.Second
	}
	if out.pause <= 0 {
		out.pause = 250 * time.Millisecond
	}
	return out
}

// introduced says with a call who makes it and in what language.
func (o options) introduced(ctx context.Context) context.Context {
	if o.key != "" {
		ctx = metadata.AppendToOutgoingContext(ctx, "authorization", "Bearer "+o.key)
	}
	if o.language != "" {
		ctx = metadata.AppendToOutgoingContext(ctx, "accept-language", o.language)
	}
	return ctx
}
