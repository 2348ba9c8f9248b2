package rowdatum

import (
	"context"
	"errors"
	mathrand "math/rand/v2"
	"time"

	"rowdatum/clients/internal/requestid"
	"rowdatum/proto/httprules"

	"google.golang.org/grpc"
	"google.golang.org/grpc/codes"
	"google.golang.org/protobuf/proto"
)

const maxPause = 8 * time.Second

// unary makes one call, as often as it takes and is safe.
func (o options) unary(ctx context.Context, method string, req, answer any, conn *grpc.ClientConn, invoke grpc.UnaryInvoker, opts ...grpc.CallOption) error {
	request, repeatable := withID(method, req)
	if _, bounded := ctx.Deadline(); !bounded {
		var cancel context.CancelFunc
		ctx, cancel = context.WithTimeout(ctx, o.patience)
		defer cancel()
	}
	ctx = o.introduced(ctx)
	for pause := o.pause; ; pause = min(2*pause, maxPause) {
		err := typed(invoke(ctx, method, request, answer, conn, opts...))
		if err == nil || !repeatable || !passing(err) || !rest(ctx, pause, err) {
			return err
		}
	}
}

// stream opens a stream; its errors are typed by whoever reads it.
func (o options) stream(ctx context.Context, desc *grpc.StreamDesc, conn *grpc.ClientConn, method string, open grpc.Streamer, opts ...grpc.CallOption) (grpc.ClientStream, error) {
	return open(o.introduced(ctx), desc, conn, method, opts...)
}

// passing reports whether what was refused may well be answered when it is asked again.
func passing(err error) bool {
	e, ok := errors.AsType[*Error](err)
	return ok && (e.Code == codes.Unavailable || e.Reason == "TOO_MANY_CALLS" || e.Reason == "READER_TOO_SLOW")
}

// rest waits for the pause, or for what the service asked for if that is longer; false: the context ends sooner.
func rest(ctx context.Context, pause time.Duration, err error) bool {
	pause = pause/2 + mathrand.N(pause/2+1) // so that a shop's phones do not come back all at once
	if e, ok := errors.AsType[*Error](err); ok {
		pause = max(pause, e.RetryAfter)
	}
	if end, ok := ctx.Deadline(); ok && time.Until(end) <= pause {
		return false
	}
	wait := time.NewTimer(pause)
	defer wait.Stop()
	select {
	case <-wait.C:
		return true
	case <-ctx.Done():
		return false
	}
}

// withID gives a write its request id, in a copy, and tells whether the call may be made again. What takes no request id
// may be if it changes nothing.
func withID(method string, req any) (request any, repeatable bool) {
	message, ok := req.(proto.Message)
	rule := httprules.ForMethod(method)
	if !ok || rule == nil {
		return req, false
	}
	return requestid.Add(message), rule.TakesRequestID() || rule.Safe()
}
