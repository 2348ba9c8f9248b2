package api

import (
	"cmp"
	"context"
	"crypto/sha256"
	"errors"
	"fmt"
	"net/netip"
	"strings"
	"sync"
	"time"

	"google.golang.org/grpc"
	"google.golang.org/grpc/metadata"

	pb "rowdatum/proto/gen/rowdatum/v1"
	"rowdatum/server/internal/flow"
	"rowdatum/server/leveling"
)

// KeysOnlyHeader in a call's metadata asks that the call be refused without a key, even by a service that
// lets its own machine in without one. A gateway that others can reach sends it with every call.
const KeysOnlyHeader = "x-rowdatum-keys-only"

// gate decides who may call what, and how often.
type gate struct {
	flow       *flow.Flow
	requireKey bool
	calls      *limiter       // by key
	tries      *limiter       // by place, of keys that are not good
	redeems    *limiter       // by place, of pairing codes
	proxies    []netip.Prefix // believed about who calls through them
	watchers   watchers
	recheck    time.Duration
}

// usualRecheck is how long a stream may outlive its key.
const usualRecheck = 30 * time.Second

func newGate(o Options) *gate {
	if o.CallsPerSecond == 0 {
		o.CallsPerSecond = usualCallsPerSecond
	}
	if o.CallBurst == 0 {
		o.CallBurst = usualCallBurst
	}
	return &gate{flow: o.Flow, requireKey: o.RequireKey, proxies: o.TrustedProxies, recheck: usualRecheck,
		calls: newLimiter(o.CallsPerSecond, o.CallBurst), tries: newLimiter(triesPerSecond, tryBurst), redeems: newLimiter(triesPerSecond, tryBurst)}
}

// admit returns the key that a call of the method carries, and why it may not pass. The zero Key passes
// where none is needed.
func (g *gate) admit(ctx context.Context, method string) (flow.Key, error) {
	if isOpen(method) {
		return flow.Key{}, nil
	}
	name := strings.TrimPrefix(method, ourServices)
	least, known := leastRole[name]
	switch {
	case !known:
		return flow.Key{}, fmt.Errorf("nobody has said who may call %s", method)
	case least == anybody:
		if wait := g.redeems.take(g.placeOf(ctx), time.Now()); wait > 0 {
			return flow.Key{}, tooManyCalls(wait)
		}
		return flow.Key{}, nil
	}
	key, err := g.key(ctx)
	if err != nil {
		return key, err
	}
	return key, mayCall(key, name, least)
}

func mayCall(key flow.Key, name string, least flow.Role) error {
	if isShare(key) && !sharedMethods[name] {
		return forbidden("SHARE_READS_ONE_JOB", "This link reads one job and nothing else.")
	}
	if key.Role < least {
		err := forbidden("ROLE_TOO_LOW", fmt.Sprintf("This needs a key with the role %s; yours is %s.", roleName[least], roleName[key.Role]))
		err.Metadata = map[string]string{"role": roleName[key.Role], "needs": roleName[least]}
		return err
	}
	return nil
}

func isShare(key flow.Key) bool { return key.Job != flow.JobKey{} }

func forbidden(reason, message string) *leveling.Error {
	return &leveling.Error{Kind: leveling.Forbidden, Reason: reason, Message: message}
}

// key finds the key that a call carries. Each one is looked up, and only the wrong ones are counted, by place: behind one
// proxy everybody is in one place, and a stranger's guesses must not lock out those who work there. A place that has
// guessed too often hears of the limit instead of the guess.
func (g *gate) key(ctx context.Context) (flow.Key, error) {
	secret, given, err := bearer(ctx)
	switch {
	case err != nil:
		return flow.Key{}, err
	case !given && (g.requireKey || metadata.ValueFromIncomingContext(ctx, KeysOnlyHeader) != nil):
		return flow.Key{}, &leveling.Error{Kind: leveling.Unauthenticated, Reason: "KEY_MISSING", Message: "A key is needed: pair this phone or give the key of your shop."}
	case !given:
		return flow.LocalKey(), nil
	}
	now := time.Now()
	key, err := g.flow.Authenticate(ctx, secret)
	if isWrongKey(err) {
		if wait := g.tries.take(g.placeOf(ctx), now); wait > 0 {
			return flow.Key{}, tooManyCalls(wait)
		}
	}
	if err != nil {
		return flow.Key{}, err
	}
	sum := sha256.Sum256([]byte(secret))
	if wait := g.calls.take(string(sum[:]), now); wait > 0 {
		return key, tooManyCalls(wait) // with the key, so that the log names who loops
	}
	return key, nil
}

func isWrongKey(err error) bool {
	e, ok := errors.AsType[*leveling.Error](err)
	return ok && e.Kind == leveling.Unauthenticated
}

// bearer returns the secret that a call carries.
func bearer(ctx context.Context) (secret string, given bool, err error) {
	all := metadata.ValueFromIncomingContext(ctx, "authorization")
	if len(all) == 0 {
		return "", false, nil
	}
	scheme, secret, ok := strings.Cut(all[0], " ")
	if len(all) > 1 || !ok || !strings.EqualFold(scheme, "Bearer") {
		return "", false, &leveling.Error{Kind: leveling.Unauthenticated, Reason: "KEY_WRONG", Message: "A key is given as: Authorization: Bearer KEY."}
	}
	return strings.TrimSpace(secret), true, nil
}

// ownJob refuses another job than the one that a share reads.
func ownJob(key flow.Key, req any) error {
	if !isShare(key) {
		return nil
	}
	switch req.(type) {
	case *pb.GetSessionRequest, *pb.GetStyleRequest, *pb.ListStylesRequest: // tell nothing of any job
		return nil
	}
	name := requestedName(req)
	if name == planterPrefix+key.Job.Planter+"/jobs/"+key.Job.Job {
		return nil
	}
	return &leveling.Error{Kind: leveling.NotFound, Reason: "JOB_NOT_FOUND", Message: fmt.Sprintf("There is no job %q.", name)}
}

// admitted is a stream that has passed the gate.
type admitted struct {
	grpc.ServerStream
	ctx context.Context
}

// Context implements grpc.ServerStream.
func (a *admitted) Context() context.Context { return a.ctx }

// RecvMsg implements grpc.ServerStream.
func (a *admitted) RecvMsg(req any) error {
	if err := a.ServerStream.RecvMsg(req); err != nil {
		return err
	}
	return cmp.Or(readable(req), ownJob(keyOf(a.ctx), req), printable(req))
}

// whileGood returns a context that ends when the key of a stream is good no longer. end must be called.
func (g *gate) whileGood(ctx context.Context, key flow.Key) (good context.Context, end func()) {
	ctx, cancel := context.WithCancelCause(withKey(ctx, key))
	var work sync.WaitGroup
	if secret, given, err := bearer(ctx); err == nil && given {
		work.Go(func() { g.watch(ctx, secret, cancel) })
	}
	return ctx, func() {
		cancel(nil)
		work.Wait()
	}
}

// watch looks at a key again and again. Only a key that is known to be bad ends the stream: a store that
// is away for a moment does not.
func (g *gate) watch(ctx context.Context, secret string, cancel context.CancelCauseFunc) {
	again := time.NewTicker(g.recheck)
	defer again.Stop()
	for {
		select {
		case <-ctx.Done():
			return
		case <-again.C:
			if _, err := g.flow.Authenticate(ctx, secret); isWrongKey(err) {
				cancel(err)
				return
			}
		}
	}
}
