package gateway

import (
	"context"
	"net/http"

	"google.golang.org/grpc/codes"
)

// open says whether the caller needs no key here: the gateway serves its own machine alone, and was called
// by one of that machine's names.
func (g *gateway) open(r *http.Request) bool { return !g.KeysOnly && isOwnName(r.Host) }

// metrics serves the metrics: to the machine's own callers where those need no key, elsewhere to whoever
// has a shop's key. They tell of no shop, and a link that reads one job does not open them.
func (g *gateway) metrics(w http.ResponseWriter, r *http.Request) {
	if !g.open(r) {
		ctx, cancel := context.WithTimeout(r.Context(), g.Timeout)
		defer cancel()
		key := bearerKey(authorization(r))
		if key == "" {
			writeFault(w, newFault(http.StatusUnauthorized, codes.Unauthenticated, "KEY_MISSING", "The metrics need a key: of a reader, at least."))
			return
		}
		session, err := g.session(ctx, r, key)
		if err != nil {
			g.serviceError(ctx, nil, nil, w, r, err)
			return
		}
		if session.GetJob() != "" {
			writeFault(w, newFault(http.StatusForbidden, codes.PermissionDenied, "SHARE_READS_ONE_JOB", "This link reads one job and nothing else."))
			return
		}
	}
	g.Metrics.ServeHTTP(w, r)
}
