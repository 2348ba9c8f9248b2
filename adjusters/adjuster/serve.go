package adjuster

import (
	"context"
	"fmt"
	"io"
	"os"
	"sync"
	"time"

	"github.com/hashicorp/go-hclog"
	"github.com/hashicorp/go-plugin"
	"google.golang.org/grpc"
	"google.golang.org/grpc/stats"

	adjusterv1 "rowdatum/proto/gen/rowdatum/adjuster/v1"
)

const (
	// firstConnection is how long a started adjuster waits for its host.
	firstConnection = 60 * time.Second
	// lastConnection is how long it outlives its host. A connection within one machine does not drop
	// by itself, and a living host that lost it dials again within about a second.
	lastConnection = 3 * time.Second
)

// Serve is an adjuster's whole main: it serves the mechanism until the host says so or is gone. Run by
// hand it explains itself. What the program writes to standard output or standard error goes to the
// service's log; nothing may be written to standard output before Serve.
func Serve[F, S any](style Style, m Mechanism[F, S]) {
	impl, err := New(style, m)
	if err != nil {
		fmt.Fprintln(os.Stderr, err)
		os.Exit(1)
	}
	if code, done := byHand(style, os.Args[1:], os.Getenv(Handshake.MagicCookieKey), os.Stdout, os.Stderr); done {
		os.Exit(code)
	}
	log := hclog.New(&hclog.LoggerOptions{Name: style.ID, Level: hclog.Info, Output: os.Stderr, JSONFormat: true})
	plugin.Serve(&plugin.ServeConfig{
		HandshakeConfig: Handshake,
		Plugins:         plugin.PluginSet{PluginName: &Plugin{Impl: impl}},
		GRPCServer: func(opts []grpc.ServerOption) *grpc.Server {
			life := &lifeline{}
			s := grpc.NewServer(append(opts,
				grpc.MaxRecvMsgSize(MaxMessageBytes), grpc.MaxSendMsgSize(MaxMessageBytes),
				grpc.StatsHandler(life), grpc.UnaryInterceptor(logged(log)))...)
			life.hold(s.Stop, firstConnection, lastConnection)
			return s
		},
		Logger: log,
	})
}

// byHand answers a person who runs the program; done says that there is nothing to serve.
func byHand(style Style, args []string, cookie string, stdout, stderr io.Writer) (code int, done bool) {
	if len(args) == 1 && args[0] == "--version" {
		fmt.Fprintln(stdout, style.ID, style.Version)
		return 0, true
	}
	asked := len(args) > 0
	if !asked && cookie == Handshake.MagicCookieValue {
		return 0, false
	}
	fmt.Fprintf(stderr, `%s %s: %s

This program is an adjuster of rowdatum. It is not run by hand: put it into the folder of adjusters
of the service (rowdatumd --adjusters FOLDER), which starts and stops it. The style is then there for
every planter. "rowdatum styles" lists what is installed.

  --version   print style and version
  --help      print this
`, style.ID, style.Version, style.English.Title)
	if asked && (args[0] == "--help" || args[0] == "-h") {
		return 0, true
	}
	return 2, true
}

// logged writes calls that failed to the log.
func logged(log hclog.Logger) grpc.UnaryServerInterceptor {
	return func(ctx context.Context, r any, info *grpc.UnaryServerInfo, next grpc.UnaryHandler) (any, error) {
		out, err := next(ctx, r)
		if err != nil && ctx.Err() == nil {
			log.Error("call failed", "method", info.FullMethod, "error", err)
		}
		return out, err
	}
}

// lifeline ends an adjuster whose host is gone, killed hard included. It watches connections rather
// than the parent process: that works on every system, and whoever the parent is.
type lifeline struct {
	mu    sync.Mutex
	open  int
	timer *time.Timer
	after time.Duration // to outlive the last connection
}

// hold starts waiting for the first connection.
func (l *lifeline) hold(stop func(), first, last time.Duration) {
	l.mu.Lock()
	defer l.mu.Unlock()
	l.after = last
	l.timer = time.AfterFunc(first, stop)
}

// HandleConn counts connections.
func (l *lifeline) HandleConn(_ context.Context, s stats.ConnStats) {
	l.mu.Lock()
	defer l.mu.Unlock()
	switch s.(type) {
	case *stats.ConnBegin:
		l.open++
		l.timer.Stop()
	case *stats.ConnEnd:
		l.open--
		if l.open == 0 {
			l.timer.Reset(l.after)
		}
	}
}

// TagConn does nothing.
func (*lifeline) TagConn(ctx context.Context, _ *stats.ConnTagInfo) context.Context { return ctx }

// TagRPC does nothing.
func (*lifeline) TagRPC(ctx context.Context, _ *stats.RPCTagInfo) context.Context { return ctx }

// HandleRPC does nothing.
func (*lifeline) HandleRPC(context.Context, stats.RPCStats) {}

// Plugin is the adjuster's service as the plugin library wants it, for both sides: dispensing
// PluginName gives a host an adjusterv1.AdjusterClient.
type Plugin struct {
	plugin.NetRPCUnsupportedPlugin
	Impl adjusterv1.AdjusterServer // nil at the host
}

// GRPCServer registers the service.
func (p *Plugin) GRPCServer(_ *plugin.GRPCBroker, s *grpc.Server) error {
	adjusterv1.RegisterAdjusterServer(s, p.Impl)
	return nil
}

// GRPCClient gives the host its client.
func (*Plugin) GRPCClient(_ context.Context, _ *plugin.GRPCBroker, c *grpc.ClientConn) (any, error) {
	return adjusterv1.NewAdjusterClient(c), nil
}
