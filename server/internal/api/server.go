package api

import (
	"cmp"
	"context"
	"crypto/rand"
	"errors"
	"fmt"
	"net/netip"
	"runtime/debug"
	"strings"
	"time"

	"go.uber.org/zap"
	"google.golang.org/grpc"
	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/health/grpc_health_v1"
	"google.golang.org/grpc/keepalive"
	"google.golang.org/grpc/metadata"
	"google.golang.org/grpc/reflection"
	"google.golang.org/grpc/status"

	pb "rowdatum/proto/gen/rowdatum/v1"
	"rowdatum/server/internal/flow"
	"rowdatum/server/leveling"
)

// Options of a server.
type Options struct {
	Flow         *flow.Flow
	Health       grpc_health_v1.HealthServer
	Log          *zap.Logger
	NoReflection bool
	Deadline     time.Duration // of one unary call; 0 is 15 s

	// Hold prepares the context of one unary call, which ends with it; nil changes nothing.
	Hold func(context.Context) context.Context

	Meter    Meter               // nil hears nothing
	GRPC     []grpc.ServerOption // beside the server's own
	Stopping <-chan struct{}     // closed when the service begins to stop: watchers are let go
	Watch    WatchTimes

	RequireKey     bool    // otherwise a call without a key is the local owner's
	CallsPerSecond float64 // of one key, in the long run; 0 is 50
	CallBurst      int     // of one key, at once; 0 is 200

	TrustedProxies []netip.Prefix // the last hop of their X-Forwarded-For is where a call comes from
}

// Meter hears of calls. Its methods return at once.
type Meter interface {
	Call(method, code string, stream bool, took time.Duration)
	Stream(more int) // 1 when a stream begins, -1 when it ends
}

type noMeter struct{}

func (noMeter) Call(string, string, bool, time.Duration) {}
func (noMeter) Stream(int)                               {}

// Limits that every server keeps.
const (
	usualDeadline   = 15 * time.Second
	maxRequestBytes = 1 << 20
	maxHeaderBytes  = 64 << 10         // of a call's metadata: more than the headers that the gateway takes
	beginsWithin    = 10 * time.Second // a connection; one that says nothing is closed
	// maxStreams is of one connection: a gateway brings all its callers over one. It is above mostWatchers,
	// so that watchers leave room for calls.
	maxStreams = 4096
)

// NewServer returns a gRPC server with every service registered, limits, deadlines, recovery and a log
// line a call.
func NewServer(o Options) *grpc.Server {
	if o.Deadline == 0 {
		o.Deadline = usualDeadline
	}
	if o.Meter == nil {
		o.Meter = noMeter{}
	}
	g := newGate(o)
	s := grpc.NewServer(append([]grpc.ServerOption{
		grpc.MaxRecvMsgSize(maxRequestBytes),
		grpc.MaxHeaderListSize(maxHeaderBytes),
		grpc.ConnectionTimeout(beginsWithin),
		grpc.ForceServerCodecV2(newTolerant()),
		grpc.MaxConcurrentStreams(maxStreams),
		// Phones in a steel shed come and go: allow frequent pings, notice who has left.
		grpc.KeepaliveEnforcementPolicy(keepalive.EnforcementPolicy{MinTime: 20 * time.Second, PermitWithoutStream: true}),
		grpc.KeepaliveParams(keepalive.ServerParameters{Time: time.Minute, Timeout: 20 * time.Second}),
		grpc.UnaryInterceptor(unary(g, o)),
		grpc.StreamInterceptor(stream(g, o)),
	}, o.GRPC...)...)
	pb.RegisterPlanServiceServer(s, &Plans{Flow: o.Flow})
	pb.RegisterStyleServiceServer(s, &Styles{Flow: o.Flow})
	pb.RegisterPlanterServiceServer(s, &Planters{Flow: o.Flow})
	pb.RegisterFixtureServiceServer(s, &Fixtures{Flow: o.Flow})
	pb.RegisterJobServiceServer(s, &Jobs{Flow: o.Flow, Stopping: o.Stopping, Watch: o.Watch, said: newSaid(), sheets: make(chan struct{}, sheetsAtOnce)})
	pb.RegisterFieldServiceServer(s, &Field{Flow: o.Flow})
	pb.RegisterDigServiceServer(s, &Digs{Flow: o.Flow})
	pb.RegisterWearServiceServer(s, &Wear{Flow: o.Flow})
	pb.RegisterHookServiceServer(s, &Hooks{Flow: o.Flow})
	pb.RegisterChangeServiceServer(s, &Changes{Flow: o.Flow})
	pb.RegisterAccessServiceServer(s, &Access{Flow: o.Flow})
	grpc_health_v1.RegisterHealthServer(s, o.Health)
	if !o.NoReflection {
		reflection.Register(s)
	}
	return s
}

// unary wraps every unary call: a deadline, the gate, no panic gets out, one shape of error, one log line.
func unary(g *gate, o Options) grpc.UnaryServerInterceptor {
	return func(ctx context.Context, req any, info *grpc.UnaryServerInfo, handle grpc.UnaryHandler) (answer any, err error) {
		ctx, cancel := context.WithTimeout(withRequestID(ctx), o.Deadline)
		defer cancel()
		c := &call{method: info.FullMethod}
		err = c.watched(ctx, o, func() (key flow.Key, err error) {
			if key, err = g.admit(ctx, info.FullMethod); err != nil {
				return key, err
			}
			if err := cmp.Or(readable(req), ownJob(key, req), printable(req)); err != nil {
				return key, err
			}
			if o.Hold != nil {
				ctx = o.Hold(ctx)
			}
			if answer, err = handle(withKey(ctx, key), req); err != nil && len(leveling.AsError(err).Violations) > 0 {
				c.reader = g.refusalVoice(ctx, key, req)
			}
			c.resource = resourceOf(answer, req)
			return key, err
		})
		return answer, err
	}
}

// stream wraps every streaming call likewise: without a deadline, and no longer than its key is good.
func stream(g *gate, o Options) grpc.StreamServerInterceptor {
	return func(srv any, s grpc.ServerStream, info *grpc.StreamServerInfo, handle grpc.StreamHandler) error {
		ctx := withRequestID(s.Context())
		c := &call{method: info.FullMethod, stream: true}
		return c.watched(ctx, o, func() (key flow.Key, err error) {
			if key, err = g.admit(ctx, info.FullMethod); err != nil {
				return key, err
			}
			leave, err := g.watchers.enter(key)
			if err != nil {
				return key, err
			}
			defer leave()
			o.Meter.Stream(1)
			defer o.Meter.Stream(-1)
			ctx, end := g.whileGood(ctx, key)
			defer end()
			err = handle(srv, &admitted{ServerStream: s, ctx: ctx})
			if why := context.Cause(ctx); isWrongKey(why) {
				err = why
			}
			return key, err
		})
	}
}

// call is one call on its way.
type call struct {
	method   string
	stream   bool
	resource string         // what it is about, once that is known
	reader   leveling.Voice // of what is wrong with the request, once that is known
}

// watched runs the call and returns its error as a status. do tells which key it carried. What was written
// is a line at Info, so that the log alone tells who wrote what.
func (c *call) watched(ctx context.Context, o Options, do func() (flow.Key, error)) error {
	start := time.Now()
	key, err := recovered(do)
	out := err
	if err != nil {
		// An error of ours may have a status of somebody else's as its cause: an adjuster's.
		_, ours := errors.AsType[*leveling.Error](err)
		if _, isStatus := status.FromError(err); ours || !isStatus {
			c.reader.Language = languageOf(ctx)
			out = statusError(err, c.reader)
		}
	}
	took := time.Since(start)
	o.Meter.Call(c.method, status.Code(out).String(), c.stream, took)
	log := o.Log
	fields := []zap.Field{zap.String("method", c.method), zap.String("requestId", requestID(ctx)),
		zap.Duration("took", took), zap.Stringer("code", status.Code(out))}
	if key.Shop != "" {
		fields = append(fields, zap.String("shop", key.Shop), zap.String("key", key.Label))
	}
	switch status.Code(out) {
	case codes.OK:
		if writes(c.method) {
			log.Info("written", append(fields, zap.String("resource", c.resource))...)
		} else {
			log.Debug("call", fields...)
		}
	case codes.Internal, codes.Unknown, codes.DataLoss:
		log.Error("call failed", append(fields, zap.Error(err))...)
	case codes.Unavailable, codes.DeadlineExceeded:
		log.Warn("call not served", append(fields, zap.Error(err))...)
	default:
		log.Info("call refused", append(fields, zap.String("why", status.Convert(out).Message()))...)
	}
	return out
}

func recovered(call func() (flow.Key, error)) (key flow.Key, err error) {
	defer func() {
		if p := recover(); p != nil {
			err = fmt.Errorf("panic: %v\n%s", p, debug.Stack())
		}
	}()
	return call()
}

// resourceOf names what a call is about: what its answer names, else its request.
func resourceOf(answer, req any) string {
	if named, ok := answer.(interface{ GetName() string }); ok && named.GetName() != "" {
		return named.GetName()
	}
	return requestedName(req)
}

// requestedName is the name of what a request is about, or of what it is to make something in.
func requestedName(req any) string {
	switch r := req.(type) {
	case interface{ GetName() string }:
		return r.GetName()
	case interface{ GetParent() string }:
		return r.GetParent()
	case interface{ GetPlanter() *pb.Planter }:
		return r.GetPlanter().GetName()
	}
	return ""
}

const requestIDHeader = "x-request-id"

// withRequestID gives a call an id that came without one, so that log and trail can be laid side by side.
func withRequestID(ctx context.Context) context.Context {
	if requestID(ctx) != "" {
		return ctx
	}
	with, ok := metadata.FromIncomingContext(ctx) // a copy
	if !ok {
		with = metadata.MD{}
	}
	with.Set(requestIDHeader, strings.ToLower(rand.Text()))
	return metadata.NewIncomingContext(ctx, with)
}

// requestID is what the caller calls this request; the gateway always gives one.
func requestID(ctx context.Context) string {
	if ids := metadata.ValueFromIncomingContext(ctx, requestIDHeader); len(ids) > 0 && ids[0] != "" && len(ids[0]) <= 128 {
		return ids[0]
	}
	return ""
}
