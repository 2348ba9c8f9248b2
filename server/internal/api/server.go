package api

import (
	"context"
	"fmt"
	"runtime/debug"
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
)

// Options of a server.
type Options struct {
	Flow         *flow.Flow
	Health       grpc_health_v1.HealthServer
	Log          *zap.Logger
	NoReflection bool
	Deadline     time.Duration // of one unary call; 0 is 15 s
}

// Limits that every server keeps.
const (
	usualDeadline   = 15 * time.Second
	maxRequestBytes = 1 << 20
	maxStreams      = 128
)

// NewServer returns a gRPC server with every service registered, limits, deadlines, recovery and a log
// line a call.
func NewServer(o Options) *grpc.Server {
	if o.Deadline == 0 {
		o.Deadline = usualDeadline
	}
	s := grpc.NewServer(
		grpc.MaxRecvMsgSize(maxRequestBytes),
		grpc.MaxConcurrentStreams(maxStreams),
		// Phones in a steel shed come and go: allow frequent pings, notice who has left.
		grpc.KeepaliveEnforcementPolicy(keepalive.EnforcementPolicy{MinTime: 20 * time.Second, PermitWithoutStream: true}),
		grpc.KeepaliveParams(keepalive.ServerParameters{Time: time.Minute, Timeout: 20 * time.Second}),
		grpc.UnaryInterceptor(unary(o.Log, o.Deadline)),
		grpc.StreamInterceptor(stream(o.Log)),
	)
	pb.RegisterPlanServiceServer(s, &Plans{Flow: o.Flow})
	pb.RegisterStyleServiceServer(s, &Styles{Flow: o.Flow})
	grpc_health_v1.RegisterHealthServer(s, o.Health)
	if !o.NoReflection {
		reflection.Register(s)
	}
	return s
}

// unary wraps every unary call: a deadline, no panic gets out, one shape of error, one log line.
func unary(log *zap.Logger, deadline time.Duration) grpc.UnaryServerInterceptor {
	return func(ctx context.Context, req any, info *grpc.UnaryServerInfo, handle grpc.UnaryHandler) (answer any, err error) {
		ctx, cancel := context.WithTimeout(ctx, deadline)
		defer cancel()
		err = watched(ctx, log, info.FullMethod, func() error {
			answer, err = handle(ctx, req)
			return err
		})
		return answer, err
	}
}

// stream wraps every streaming call likewise, without a deadline.
func stream(log *zap.Logger) grpc.StreamServerInterceptor {
	return func(srv any, s grpc.ServerStream, info *grpc.StreamServerInfo, handle grpc.StreamHandler) error {
		return watched(s.Context(), log, info.FullMethod, func() error { return handle(srv, s) })
	}
}

// watched runs one call and returns its error as a status.
func watched(ctx context.Context, log *zap.Logger, method string, call func() error) error {
	start := time.Now()
	err := recovered(call)
	out := err
	if err != nil {
		if _, isStatus := status.FromError(err); !isStatus {
			out = statusError(err)
		}
	}
	fields := []zap.Field{zap.String("method", method), zap.String("requestId", requestID(ctx)),
		zap.Duration("took", time.Since(start)), zap.Stringer("code", status.Code(out))}
	switch status.Code(out) {
	case codes.OK:
		log.Debug("call", fields...)
	case codes.Internal, codes.Unknown, codes.Unavailable, codes.DeadlineExceeded:
		log.Error("call failed", append(fields, zap.Error(err))...)
	default:
		log.Info("call refused", append(fields, zap.String("why", status.Convert(out).Message()))...)
	}
	return out
}

func recovered(call func() error) (err error) {
	defer func() {
		if p := recover(); p != nil {
			err = fmt.Errorf("panic: %v\n%s", p, debug.Stack())
		}
	}()
	return call()
}

// requestID is what the caller calls this request; the gateway always gives one.
func requestID(ctx context.Context) string {
	if ids := metadata.ValueFromIncomingContext(ctx, "x-request-id"); len(ids) > 0 && len(ids[0]) <= 128 {
		return ids[0]
	}
	return ""
}
