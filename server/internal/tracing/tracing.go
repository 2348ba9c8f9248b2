package tracing

import (
	"context"
	"errors"
	"fmt"
	"net/http"
	"net/url"
	"os"
	"strings"

	"go.opentelemetry.io/contrib/instrumentation/google.golang.org/grpc/otelgrpc"
	"go.opentelemetry.io/contrib/instrumentation/net/http/otelhttp"
	"go.opentelemetry.io/otel/attribute"
	"go.opentelemetry.io/otel/exporters/otlp/otlptrace/otlptracehttp"
	"go.opentelemetry.io/otel/propagation"
	"go.opentelemetry.io/otel/sdk/resource"
	sdk "go.opentelemetry.io/otel/sdk/trace"
	"go.opentelemetry.io/otel/trace"
	"google.golang.org/grpc"
	"google.golang.org/grpc/metadata"
	"google.golang.org/grpc/stats"
)

// Tracing makes spans and sends them.
type Tracing struct {
	provider *sdk.TracerProvider
	carrier  propagation.TraceContext
}

// usualName is what the traces call this program where OTEL_SERVICE_NAME says nothing else.
const usualName = "rowdatum"

// Start returns a Tracing that sends to a collector, such as http://127.0.0.1:4318; nil where endpoint is
// empty. The other variables of OpenTelemetry (OTEL_EXPORTER_OTLP_HEADERS, OTEL_TRACES_SAMPLER,
// OTEL_SERVICE_NAME, …) are heard. The caller owes Close.
func Start(ctx context.Context, endpoint string) (*Tracing, error) {
	if endpoint == "" {
		return nil, nil
	}
	if protocol := os.Getenv("OTEL_EXPORTER_OTLP_PROTOCOL"); protocol != "" && protocol != "http/protobuf" {
		return nil, fmt.Errorf("OTEL_EXPORTER_OTLP_PROTOCOL is %q; traces are sent as http/protobuf only, which a collector usually takes on port 4318", protocol)
	}
	base, err := url.Parse(endpoint)
	if err != nil || base.Host == "" || base.Scheme != "http" && base.Scheme != "https" {
		return nil, errors.New("the collector for traces must be named as http://HOST:PORT or https://HOST:PORT")
	}
	exporter, err := otlptracehttp.New(ctx, otlptracehttp.WithEndpointURL(base.JoinPath("v1", "traces").String()))
	if err != nil {
		return nil, fmt.Errorf("preparing to send traces: %w", err)
	}
	who, err := resource.New(ctx, resource.WithAttributes(attribute.String("service.name", usualName)), resource.WithTelemetrySDK(), resource.WithFromEnv())
	if err != nil {
		return nil, fmt.Errorf("reading OTEL_RESOURCE_ATTRIBUTES: %w", err)
	}
	return &Tracing{provider: sdk.NewTracerProvider(sdk.WithBatcher(exporter), sdk.WithResource(who))}, nil
}

// Close sends what is still to be sent, for as long as ctx lasts.
func (t *Tracing) Close(ctx context.Context) error {
	if t == nil {
		return nil
	}
	if err := t.provider.Shutdown(ctx); err != nil {
		return fmt.Errorf("sending the last traces: %w", err)
	}
	return nil
}

// Edge begins a trace for every call of the API that comes by HTTP, or goes on with the caller's. With
// public set, callers are strangers: theirs is linked to, and decides nothing here.
func (t *Tracing) Edge(next http.Handler, public bool) http.Handler {
	if t == nil {
		return next
	}
	return otelhttp.NewHandler(next, "http", otelhttp.WithTracerProvider(t.provider), otelhttp.WithPropagators(t.carrier),
		otelhttp.WithPublicEndpointFn(func(*http.Request) bool { return public }),
		otelhttp.WithFilter(func(r *http.Request) bool { return strings.HasPrefix(r.URL.Path, "/v1/") }))
}

// Name names the span of a request once its route is known, and notes its id in the log.
func (t *Tracing) Name(ctx context.Context, method, route, requestID string) {
	if t == nil {
		return
	}
	span := trace.SpanFromContext(ctx)
	span.SetName(method + " " + route)
	span.SetAttributes(attribute.String("http.route", route), attribute.String("rowdatum.request_id", requestID))
}

// Server has a gRPC server make a span of every call of the API.
func (t *Tracing) Server() []grpc.ServerOption {
	if t == nil {
		return nil
	}
	return []grpc.ServerOption{grpc.StatsHandler(otelgrpc.NewServerHandler(t.options(apiPrefix)...))}
}

// Client has a connection make a span of every call of the API or to an adjuster.
func (t *Tracing) Client() []grpc.DialOption {
	if t == nil {
		return nil
	}
	return []grpc.DialOption{grpc.WithStatsHandler(otelgrpc.NewClientHandler(t.options(apiPrefix, adjusterPrefix)...))}
}

// What is traced; signs of life are not.
const (
	apiPrefix      = "/rowdatum.v1."
	adjusterPrefix = "/rowdatum.adjuster.v1."
)

func (t *Tracing) options(prefixes ...string) []otelgrpc.Option {
	return []otelgrpc.Option{otelgrpc.WithTracerProvider(t.provider), otelgrpc.WithPropagators(t.carrier),
		otelgrpc.WithFilter(func(call *stats.RPCTagInfo) bool {
			for _, p := range prefixes {
				if strings.HasPrefix(call.FullMethodName, p) {
					return true
				}
			}
			return false
		})}
}

// Inside has a connection within the process hand on the trace without a span of its own, which would only
// repeat the server's.
func (t *Tracing) Inside() []grpc.DialOption {
	if t == nil {
		return nil
	}
	return []grpc.DialOption{
		grpc.WithChainUnaryInterceptor(func(ctx context.Context, method string, req, reply any, conn *grpc.ClientConn, call grpc.UnaryInvoker, options ...grpc.CallOption) error {
			return call(t.handOn(ctx), method, req, reply, conn, options...)
		}),
		grpc.WithChainStreamInterceptor(func(ctx context.Context, desc *grpc.StreamDesc, conn *grpc.ClientConn, method string, begin grpc.Streamer, options ...grpc.CallOption) (grpc.ClientStream, error) {
			return begin(t.handOn(ctx), desc, conn, method, options...)
		}),
	}
}

func (t *Tracing) handOn(ctx context.Context) context.Context {
	words := propagation.MapCarrier{}
	t.carrier.Inject(ctx, words)
	for name, value := range words {
		ctx = metadata.AppendToOutgoingContext(ctx, name, value)
	}
	return ctx
}
