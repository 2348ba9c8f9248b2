package gateway

import (
	"context"
	"errors"
	"fmt"
	"net"
	"net/http"
	"net/netip"
	"time"

	"github.com/grpc-ecosystem/grpc-gateway/v2/runtime"
	"go.uber.org/zap"
	"google.golang.org/grpc"
	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/health/grpc_health_v1"

	pb "rowdatum/proto/gen/rowdatum/v1"
	"rowdatum/proto/httprules"
)

// Options of a gateway. Only Conn is required.
type Options struct {
	Conn           grpc.ClientConnInterface // leads to the service
	Log            *zap.Logger              // one line a request; nil is silent
	AllowedOrigins []string                 // other sites whose pages may call the API: "https://shop.example"
	Timeout        time.Duration            // of one call, of receiving its body, of writing one message of a watch; 0 is 15 s
	Heartbeat      time.Duration            // the longest silence of a watch by server-sent events; 0 is 15 s
	MaxBodyBytes   int64                    // 0 is 1 MiB

	// TrustedProxies are the networks of proxies in front. The last hop of their X-Forwarded-For, which they add themselves,
	// is where a request comes from; whatever anybody else sends under that name is dropped.
	TrustedProxies []netip.Prefix

	KeysOnly bool                        // every call needs a key, whatever name the caller used
	Seen     func(context.Context, Seen) // hears of every request that was answered; nil: nobody does
	Metrics  http.Handler                // served at /metrics, for who may; nil: there are none
}

// Seen is one request, answered. Route and Method have only values that the gateway knows.
type Seen struct {
	RequestID     string
	Route, Method string
	Status        int
	Stream        bool
	Took          time.Duration
}

const (
	usualTimeout      = 15 * time.Second
	usualHeartbeat    = 15 * time.Second
	usualMaxBodyBytes = 1 << 20
	// writeGrace is what an answer may take on its way after the call itself has ended.
	writeGrace = 15 * time.Second
)

type gateway struct {
	Options
	origins origins
	sites   *http.CrossOriginProtection
	api     *runtime.ServeMux
	rules   map[string]*httprules.Rule // by verb and path template
	pages   map[string]http.Handler    // by exact path
	styles  pb.StyleServiceClient
	jobs    pb.JobServiceClient
	access  pb.AccessServiceClient
	health  grpc_health_v1.HealthClient
}

// New returns the handler that serves the API of o.Conn.
func New(o Options) (http.Handler, error) {
	if o.Conn == nil {
		return nil, errors.New("gateway: no connection given")
	}
	if o.Log == nil {
		o.Log = zap.NewNop()
	}
	if o.Timeout == 0 {
		o.Timeout = usualTimeout
	}
	if o.Heartbeat == 0 {
		o.Heartbeat = usualHeartbeat
	}
	if o.MaxBodyBytes == 0 {
		o.MaxBodyBytes = usualMaxBodyBytes
	}
	origins, err := parseOrigins(o.AllowedOrigins)
	if err != nil {
		return nil, err
	}
	g := &gateway{Options: o, origins: origins, sites: http.NewCrossOriginProtection(), rules: contractRules(),
		styles: pb.NewStyleServiceClient(o.Conn), jobs: pb.NewJobServiceClient(o.Conn),
		access: pb.NewAccessServiceClient(o.Conn), health: grpc_health_v1.NewHealthClient(o.Conn)}
	for origin := range origins {
		if err := g.sites.AddTrustedOrigin(origin); err != nil {
			return nil, fmt.Errorf("gateway: %w", err)
		}
	}
	if err := g.registerAPI(); err != nil {
		return nil, fmt.Errorf("gateway: %w", err)
	}
	if g.pages, err = g.allPages(); err != nil {
		return nil, fmt.Errorf("gateway: %w", err)
	}
	return g, nil
}

// registerAPI connects every service of the API. A new service is one line here.
func (g *gateway) registerAPI() error {
	g.api = runtime.NewServeMux(
		runtime.WithMarshalerOption(runtime.MIMEWildcard, &runtime.HTTPBodyMarshaler{Marshaler: newMarshaler()}),
		runtime.WithForwardResponseOption(ownHeaders),
		runtime.WithMiddlewares(g.guard),
		runtime.WithForwardResponseOption(keepKeyInCookie),
		runtime.WithErrorHandler(g.serviceError),
		runtime.WithRoutingErrorHandler(routingError),
		runtime.WithIncomingHeaderMatcher(forwardedHeader),
		runtime.WithOutgoingHeaderMatcher(noHeader),
		runtime.WithOutgoingTrailerMatcher(noHeader),
		runtime.WithDisablePathLengthFallback(),
		runtime.WithDisableHTTPMethodOverride(),
	)
	ctx := context.Background() // the registration keeps it for nothing
	return errors.Join(
		pb.RegisterPlanServiceHandlerClient(ctx, g.api, pb.NewPlanServiceClient(g.Conn)),
		pb.RegisterStyleServiceHandlerClient(ctx, g.api, g.styles),
		pb.RegisterPlanterServiceHandlerClient(ctx, g.api, pb.NewPlanterServiceClient(g.Conn)),
		pb.RegisterFixtureServiceHandlerClient(ctx, g.api, pb.NewFixtureServiceClient(g.Conn)),
		pb.RegisterJobServiceHandlerClient(ctx, g.api, g.jobs),
		pb.RegisterFieldServiceHandlerClient(ctx, g.api, pb.NewFieldServiceClient(g.Conn)),
		pb.RegisterDigServiceHandlerClient(ctx, g.api, pb.NewDigServiceClient(g.Conn)),
		pb.RegisterWearServiceHandlerClient(ctx, g.api, pb.NewWearServiceClient(g.Conn)),
		pb.RegisterHookServiceHandlerClient(ctx, g.api, pb.NewHookServiceClient(g.Conn)),
		pb.RegisterChangeServiceHandlerClient(ctx, g.api, pb.NewChangeServiceClient(g.Conn)),
		pb.RegisterAccessServiceHandlerClient(ctx, g.api, g.access),
	)
}

// ServeHTTP is the edge that every request passes.
func (g *gateway) ServeHTTP(w http.ResponseWriter, r *http.Request) {
	c := &call{route: noRoute, id: requestID(r.Header.Get(requestIDHeader)), start: time.Now(), scheme: scheme(r)}
	answer := &recorder{ResponseWriter: w}
	r = r.WithContext(withCall(r.Context(), c))
	r.RemoteAddr = g.callerAt(r)
	r.Body = http.MaxBytesReader(w, r.Body, g.MaxBodyBytes)
	defer g.finish(answer, r, c)

	// The server's own WriteTimeout would cut streams, so each answer gets its own deadline; what serves
	// a stream lifts it. A test's recorder has none. A body has one too, whoever reads it: what no route
	// reads the server itself does, to find the next request behind it.
	deadlines := http.NewResponseController(w)
	_ = deadlines.SetWriteDeadline(c.start.Add(g.Timeout + writeGrace))
	if r.ContentLength != 0 {
		_ = deadlines.SetReadDeadline(c.start.Add(g.Timeout))
	}
	answer.Header().Set(requestIDHeader, c.id)
	secureHeaders(answer.Header())
	if g.origins.answer(answer, r) {
		c.route = "preflight"
		return
	}
	if err := g.sites.Check(r); err != nil {
		c.cause = err
		writeFault(answer, newFault(http.StatusForbidden, codes.PermissionDenied, "OTHER_SITE",
			"This was asked by a page of another site; nothing was changed."))
		return
	}
	if page, ok := g.pages[r.URL.Path]; ok {
		c.route, c.quiet = r.URL.Path, r.Method != http.MethodPost
		page.ServeHTTP(answer, r)
		return
	}
	g.api.ServeHTTP(answer, trimmed(r, c))
}

// trimmed is r with only the headers that the API may see, so that nothing a caller sends can pass for
// something that the gateway says.
func trimmed(r *http.Request, c *call) *http.Request {
	out, address := *r, *r.URL
	out.URL = &address // its query may be written again
	out.Header = http.Header{}
	for _, name := range []string{"Content-Type", "Content-Encoding", "Accept", lastEventHeader} {
		if v := r.Header.Get(name); v != "" {
			out.Header.Set(name, v)
		}
	}
	if list := languages(r); list != "" {
		out.Header.Set(languageHeader, list)
	}
	if key := authorization(r); key != "" {
		out.Header.Set("Authorization", key)
	}
	out.Header.Set(requestIDHeader, c.id)
	out.Header.Set(schemeHeader, c.scheme)
	if !isOwnName(r.Host) {
		out.Header.Set(keysOnlyHeader, "1")
	}
	return &out
}

// NewServer returns an HTTP server for h with the time limits that suit it: short for a request's
// head, none for the whole answer, which h limits call by call. Shutdown ends its watches first.
func NewServer(h http.Handler, log *zap.Logger) *http.Server {
	if log == nil {
		log = zap.NewNop()
	}
	open, stop := context.WithCancel(context.Background())
	s := &http.Server{Handler: h, ErrorLog: zap.NewStdLog(log),
		BaseContext:       func(net.Listener) context.Context { return context.WithValue(context.Background(), openKey{}, open) },
		ReadHeaderTimeout: 5 * time.Second, IdleTimeout: 2 * time.Minute, MaxHeaderBytes: 32 << 10}
	s.RegisterOnShutdown(stop)
	return s
}

// openKey holds a context that ends when the server is asked to stop, while calls may still finish.
type openKey struct{}

// stopping is closed when the server that r came by is asked to stop; nil where nobody says so.
func stopping(r *http.Request) <-chan struct{} {
	if open, ok := r.Context().Value(openKey{}).(context.Context); ok {
		return open.Done()
	}
	return nil
}
