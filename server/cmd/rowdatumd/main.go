// Command rowdatumd is the service and its JSON gateway: in one process, or either alone.
package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"net/netip"
	"os"
	"os/signal"
	"syscall"
	"time"

	"github.com/alecthomas/kong"
	"go.opentelemetry.io/otel"
	"go.uber.org/zap"
	"go.uber.org/zap/zapcore"
	"go.uber.org/zap/zapgrpc"
	"google.golang.org/grpc/grpclog"

	"rowdatum/server/internal/flow"
)

// flags of the command; each has an environment variable ROWDATUM_….
type flags struct {
	GRPC             string        `name:"grpc" default:"127.0.0.1:7401" placeholder:"HOST:PORT" help:"Where the service listens (${default}); port 0 picks a free one."`
	HTTP             string        `name:"http" default:"127.0.0.1:7480" placeholder:"HOST:PORT" help:"Where the gateway listens (${default}); port 0 picks a free one."`
	Store            string        `default:"data/rowdatum.db" placeholder:"FILE" help:"Where the store is: a file or a postgres:// address (${default})."`
	Adjusters        string        `default:"bin/adjusters" placeholder:"DIR" help:"The folder of adjuster programs (${default}). What lies there or is put there is run."`
	AdjusterMemory   int64         `default:"512" placeholder:"MIB" help:"An adjuster that uses more memory than this, with all it has started, is started again (${default} MiB; on Linux)."`
	Log              zapcore.Level `default:"info" placeholder:"LEVEL" help:"debug, info, warn or error (${default})."`
	AddrFile         string        `placeholder:"FILE" help:"Write the chosen addresses there as JSON once all is ready."`
	GatewayOnly      bool          `help:"Only the gateway, for the service at --server."`
	Server           string        `placeholder:"HOST:PORT" help:"The service that --gateway-only speaks to."`
	ServiceOnly      bool          `help:"Only the service, no gateway."`
	NoReflection     bool          `help:"Do not tell gRPC tools what the service offers."`
	UntilStdinCloses bool          `help:"Stop when standard input ends: for a program that runs a service of its own."`

	RequireKeys    bool    `help:"Refuse calls without a key from this machine too. Where others can reach the service, keys are always required."`
	CallsPerSecond float64 `default:"50" placeholder:"N" help:"How many calls a second one key may make in the long run (${default})."`
	CallBurst      int     `default:"200" placeholder:"N" help:"How many calls one key may make at once (${default})."`

	TLSCert        string         `name:"tls-cert" placeholder:"FILE" help:"Serve HTTPS and gRPC over TLS with this certificate (PEM, followed by those that vouch for it). Read again on SIGHUP."`
	TLSKey         string         `name:"tls-key" placeholder:"FILE" help:"The key of --tls-cert."`
	CAHTTP         string         `name:"ca-http" placeholder:"HOST:PORT" help:"Serve there, without protection, the certificate of the shop's own authority and the address of the service, for phones; nothing else."`
	BehindTLSProxy bool           `name:"behind-tls-proxy" help:"Others reach the service through a proxy of yours that speaks HTTPS. Keys are required."`
	TrustedProxy   []netip.Prefix `name:"trusted-proxy" placeholder:"CIDR" help:"Believe this proxy of yours, such as 127.0.0.1/32, about where its callers come from: the last address of its X-Forwarded-For. May be given more than once. Limits on wrong keys and codes then count each caller, not the proxy."`
	LANPlainHTTP   bool           `name:"lan-plain-http" help:"DANGEROUS: serve others without TLS. Whoever is on the network can read every reading and every key."`
	MetricsHTTP    string         `name:"metrics-http" placeholder:"HOST:PORT" help:"Serve the metrics there too, to this machine alone and without a key. The gateway has them at /metrics."`
	OTLP           string         `name:"otlp" env:"OTEL_EXPORTER_OTLP_ENDPOINT" placeholder:"URL" help:"Send traces to this collector, by OTLP over HTTP, such as http://127.0.0.1:4318. Nothing is traced without."`

	HooksToPrivate bool          `help:"Let hooks send to this machine and into private networks. Whoever holds an owner's key can then have the service call addresses that only it can reach."`
	HookTimeout    time.Duration `default:"10s" placeholder:"TIME" help:"How long the receiver of a hook may take (${default})."`

	ServerCA string `name:"server-ca" placeholder:"FILE" help:"The authority that vouches for the service at --server, which is then spoken to over TLS."`
}

// Validate is called by the flag parser.
func (f *flags) Validate() error {
	if f.GatewayOnly && f.ServiceOnly {
		return fmt.Errorf("--gateway-only and --service-only exclude each other")
	}
	if f.GatewayOnly != (f.Server != "") {
		return fmt.Errorf("--gateway-only and --server go together")
	}
	if f.AdjusterMemory <= 0 {
		return fmt.Errorf("--adjuster-memory is %d, must be above 0", f.AdjusterMemory)
	}
	if f.HookTimeout <= 0 {
		return fmt.Errorf("--hook-timeout is %v, must be above 0", f.HookTimeout)
	}
	return f.checkDoors()
}

// commandLine is the whole of it.
type commandLine struct {
	Config string `placeholder:"FILE" help:"Read settings from this file: lines such as ROWDATUM_STORE=data/rowdatum.db. A flag comes before the environment, that before the file, the file before what is usual."`

	Serve flags       `cmd:"" default:"withargs" help:"Serve: what is done where no command is named."`
	Key   keyCommands `cmd:"" help:"Add, list and revoke the keys of shops."`
	TLS   tlsCommands `cmd:"" name:"tls" help:"Make certificates of the shop's own."`

	Adjuster adjusterCommands `cmd:"" help:"Lock the folder of adjuster programs."`

	Settings settingsCommand `cmd:"" name:"config" help:"Print every setting in force and where it comes from; takes the flags of serve."`

	Backup backupCommand `cmd:"" help:"Copy a store file while it is in use."`
	Check  checkCommand  `cmd:"" help:"Look whether a store, or a backup of it, is still what was written: its structure, every job, every seal. Changes nothing."`
	Export exportCommand `cmd:"" help:"Write everything a shop owns as JSON lines."`
	Import importCommand `cmd:"" help:"Bring an export into a shop that has none of it."`
}

func main() {
	parser := newParser()
	from, err := loadConfig(parser.Model, os.Args[1:])
	parser.FatalIfErrorf(err)
	ctx, err := parser.Parse(os.Args[1:])
	parser.FatalIfErrorf(err)
	if err := ctx.Run(from); err != nil {
		fmt.Fprintln(os.Stderr, "rowdatumd:", err)
		os.Exit(1)
	}
}

func newParser() *kong.Kong {
	return kong.Must(&commandLine{}, kong.Name("rowdatumd"), kong.DefaultEnvars("ROWDATUM"), kong.Exit(exit), kong.Vars{"local": flow.LocalShop},
		kong.Description("Brings every row unit of a row-crop planter to one depth: the service and its JSON gateway."))
}

// exit ends the program with 2 for a wrong command line, as the trade of command lines has it; the parser
// has a number of its own.
func exit(code int) {
	const parserUsage = 80
	if code == parserUsage {
		code = 2
	}
	os.Exit(code)
}

// Run serves until a signal.
func (f *flags) Run() error { return serve(f) }

func serve(f *flags) error {
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM)
	defer stop()
	if f.UntilStdinCloses {
		ctx = untilEnd(ctx, os.Stdin)
	}
	log, err := logger(f.Log)
	if err != nil {
		return err
	}
	defer log.Sync()
	otel.SetErrorHandler(otel.ErrorHandlerFunc(func(err error) { log.Warn("traces are lost", zap.Error(err)) }))
	grpclog.SetLoggerV2(zapgrpc.NewLogger(log.Named("grpc").WithOptions(zap.IncreaseLevel(zapcore.ErrorLevel))))
	ready, ended := make(chan struct{}), make(chan error, 1)
	go func() { ended <- run(ctx, f, log, func() { close(ready) }) }()
	select {
	case err := <-ended:
		return err
	case <-ready:
		return <-ended
	case <-ctx.Done():
	}
	select {
	case err := <-ended:
		return err
	case <-time.After(startGivesUp):
		return errors.New("stopped while it was starting, which hung: a file or disk that it reads gives no answer")
	}
}

// startGivesUp is how long a start that is told to stop may take to end in order. A call of the system that hangs, such
// as opening a pipe or a file of a dead network share, hears of nothing; the adjusters end with the process.
const startGivesUp = 5 * time.Second

// untilEnd returns a context that ends with ctx or when in has no more to give. The reader ends with
// the process.
func untilEnd(ctx context.Context, in io.Reader) context.Context {
	ctx, cancel := context.WithCancel(ctx)
	go func() {
		defer cancel()
		_, _ = io.Copy(io.Discard, in)
	}()
	return ctx
}

func logger(level zapcore.Level) (*zap.Logger, error) {
	c := zap.NewProductionConfig()
	c.Level = zap.NewAtomicLevelAt(level)
	c.Sampling = nil
	c.DisableStacktrace = true
	c.EncoderConfig.TimeKey = "time"
	c.EncoderConfig.EncodeTime = zapcore.RFC3339NanoTimeEncoder
	return c.Build()
}
