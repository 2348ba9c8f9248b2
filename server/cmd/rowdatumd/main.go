// Command rowdatumd is the service and its JSON gateway: in one process, or either alone.
package main

import (
	"context"
	"fmt"
	"io"
	"os"
	"os/signal"
	"syscall"

	"github.com/alecthomas/kong"
	"go.uber.org/zap"
	"go.uber.org/zap/zapcore"
	"go.uber.org/zap/zapgrpc"
	"google.golang.org/grpc/grpclog"
)

// flags of the command; each has an environment variable ROWDATUM_….
type flags struct {
	GRPC             string        `name:"grpc" default:"127.0.0.1:7401" placeholder:"HOST:PORT" help:"Where the service listens (${default}); port 0 picks a free one."`
	HTTP             string        `name:"http" default:"127.0.0.1:7480" placeholder:"HOST:PORT" help:"Where the gateway listens (${default}); port 0 picks a free one."`
	Store            string        `default:"data/rowdatum.db" placeholder:"FILE" help:"Where the store is (${default})."`
	Adjusters        string        `default:"bin/adjusters" placeholder:"DIR" help:"The folder of adjuster programs (${default}). What lies there is run."`
	Log              zapcore.Level `default:"info" placeholder:"LEVEL" help:"debug, info, warn or error (${default})."`
	AddrFile         string        `placeholder:"FILE" help:"Write the chosen addresses there as JSON once all is ready."`
	GatewayOnly      bool          `help:"Only the gateway, for the service at --server."`
	Server           string        `placeholder:"HOST:PORT" help:"The service that --gateway-only speaks to."`
	ServiceOnly      bool          `help:"Only the service, no gateway."`
	NoReflection     bool          `help:"Do not tell gRPC tools what the service offers."`
	UntilStdinCloses bool          `help:"Stop when standard input ends: for a program that runs a service of its own."`
}

// Validate is called by the flag parser.
func (f *flags) Validate() error {
	if f.GatewayOnly && f.ServiceOnly {
		return fmt.Errorf("--gateway-only and --service-only exclude each other")
	}
	if f.GatewayOnly != (f.Server != "") {
		return fmt.Errorf("--gateway-only and --server go together")
	}
	for _, address := range []string{f.GRPC, f.HTTP} {
		if err := loopback(address); err != nil {
			return err
		}
	}
	return nil
}

func main() {
	var f flags
	kong.Parse(&f, kong.Name("rowdatumd"), kong.DefaultEnvars("ROWDATUM"),
		kong.Description("Brings every row unit of a row-crop planter to one depth: the service and its JSON gateway."))
	if err := serve(&f); err != nil {
		fmt.Fprintln(os.Stderr, "rowdatumd:", err)
		os.Exit(1)
	}
}

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
	grpclog.SetLoggerV2(zapgrpc.NewLogger(log.Named("grpc").WithOptions(zap.IncreaseLevel(zapcore.WarnLevel))))
	return run(ctx, f, log)
}

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
