package gateway

import (
	"context"
	"net/http"
	"strings"
	"time"

	"github.com/grpc-ecosystem/grpc-gateway/v2/runtime"
	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/status"
	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/types/known/timestamppb"

	pb "rowdatum/proto/gen/rowdatum/v1"
)

// A browser holds its key in a cookie that no script reads. The key of a share link has a cookie of its
// own, which counts only where the browser is not paired: a link never takes a phone's pairing away.
const (
	phoneCookie = "rowdatum"
	shareCookie = "rowdatum-share"
)

// longestCookie is the most that browsers keep a cookie (RFC 6265bis, 400 days).
const longestCookie = 400 * 24 * time.Hour

// cookieKey returns the key that the browser holds under the first of names, "" for none.
func cookieKey(r *http.Request, names ...string) string {
	for _, name := range names {
		if c, err := r.Cookie(name); err == nil && isPlainID(c.Value) {
			return c.Value
		}
	}
	return ""
}

// redeemPath is what a browser asks whose old key may be worth nothing; that key must not spoil the call.
const redeemPath = "/v1/pairings:redeem"

// authorization is the key that the caller gives, else the one that the browser holds.
func authorization(r *http.Request) string {
	if given := givenKey(r); given != "" || r.URL.Path == redeemPath {
		return given
	}
	return bearer(cookieKey(r, phoneCookie, shareCookie))
}

// givenKey is what the caller says in Authorization. Several lines are one, which is no key: a proxy in front and the
// service must not go by different ones.
func givenKey(r *http.Request) string { return strings.Join(r.Header.Values("Authorization"), ", ") }

func bearer(key string) string {
	if key == "" {
		return ""
	}
	return "Bearer " + key
}

// bearerKey is the key in an Authorization header, "" where there is none that a cookie can hold.
func bearerKey(authorization string) string {
	word, key, _ := strings.Cut(authorization, " ")
	if !strings.EqualFold(word, "Bearer") || !isPlainID(key) {
		return ""
	}
	return key
}

// setCookie has the browser keep key until its end; "" has it forget the one it has.
func setCookie(w http.ResponseWriter, c *call, name, key string, ends *timestamppb.Timestamp) {
	age := longestCookie
	if ends != nil {
		age = max(time.Second, min(age, time.Until(ends.AsTime())))
	}
	seconds := int(age.Seconds())
	if key == "" {
		seconds = -1
	}
	http.SetCookie(w, &http.Cookie{Name: name, Value: key, Path: "/", MaxAge: seconds,
		HttpOnly: true, Secure: c.scheme == "https", SameSite: http.SameSiteStrictMode})
}

// keepKeyInCookie moves the key of a paired phone from the answer into the cookie.
func keepKeyInCookie(ctx context.Context, w http.ResponseWriter, answer proto.Message) error {
	if paired, ok := answer.(*pb.RedeemPairingResponse); ok {
		setCookie(w, callOf(ctx), phoneCookie, paired.GetKey(), paired.GetSession().GetExpireTime())
		paired.Key = ""
	}
	return nil
}

// share takes the key of a share link, as Authorization, and keeps it in the browser's cookie.
func (g *gateway) share(w http.ResponseWriter, r *http.Request) {
	ctx, cancel := context.WithTimeout(r.Context(), g.Timeout)
	defer cancel()
	if paired := cookieKey(r, phoneCookie); paired != "" {
		_, err := g.session(ctx, r, paired)
		if err == nil {
			writeFault(w, newFault(http.StatusBadRequest, codes.FailedPrecondition, "PAIRED_ALREADY",
				"This browser is paired with a shop, and a link does not change that. Open the link elsewhere, or end the pairing first."))
			return
		}
		if status.Code(err) != codes.Unauthenticated {
			g.serviceError(ctx, nil, nil, w, r, err)
			return
		}
	}
	key := bearerKey(givenKey(r))
	if key == "" {
		writeFault(w, newFault(http.StatusUnauthorized, codes.Unauthenticated, "KEY_MISSING", "The key of the link is missing; open the link whole."))
		return
	}
	session, err := g.session(ctx, r, key)
	if err != nil {
		g.serviceError(ctx, nil, nil, w, r, err)
		return
	}
	if session.GetRole() != pb.Role_READER || session.GetExpireTime() == nil {
		writeFault(w, newFault(http.StatusForbidden, codes.PermissionDenied, "KEY_NOT_SHARED", "This key is not that of a link: it does more than read, or never ends."))
		return
	}
	text, err := newMarshaler().Marshal(session)
	if err != nil {
		g.serviceError(ctx, nil, nil, w, r, err)
		return
	}
	setCookie(w, callOf(ctx), phoneCookie, "", nil) // one that is still there opens nothing any more
	setCookie(w, callOf(ctx), shareCookie, key, session.GetExpireTime())
	w.Header().Set("Content-Type", "application/json")
	_, _ = w.Write(text) // the caller may have left
}

// session asks whose key this is.
func (g *gateway) session(ctx context.Context, r *http.Request, key string) (*pb.Session, error) {
	ctx, err := g.withKey(ctx, r, key, pb.AccessService_GetSession_FullMethodName)
	if err != nil {
		return nil, err
	}
	return g.access.GetSession(ctx, &pb.GetSessionRequest{})
}

// withKey is the context of a call that carries key in place of r's own.
func (g *gateway) withKey(ctx context.Context, r *http.Request, key, method string) (context.Context, error) {
	asked := trimmed(r, callOf(ctx))
	asked.Header.Set("Authorization", bearer(key))
	return runtime.AnnotateContext(ctx, g.api, asked, method)
}

// unpaired says what came of unpairing.
type unpaired struct {
	KeyEnded bool `json:"keyEnded"` // there was a phone's key, and it opens nothing any more
}

// unpair ends the key of a paired phone, and has the browser forget its keys whatever comes of that: who hands a phone back must
// not leave it paired because the service was away. The key of a link is that of all its readers, and is only forgotten.
func (g *gateway) unpair(w http.ResponseWriter, r *http.Request) {
	for _, name := range []string{phoneCookie, shareCookie} {
		setCookie(w, callOf(r.Context()), name, "", nil)
	}
	ended, err := g.endSession(r, cookieKey(r, phoneCookie))
	if err != nil {
		callOf(r.Context()).cause = err
		writeFault(w, newFault(http.StatusServiceUnavailable, codes.Unavailable, "KEY_NOT_ENDED",
			"This browser has forgotten its key, but the service did not end it: it is good until its time is over, or until it is revoked at the machine that runs the service."))
		return
	}
	writeJSON(w, http.StatusOK, unpaired{ended})
}

// endSession ends a phone's key and says whether it has ended, now or before.
func (g *gateway) endSession(r *http.Request, key string) (ended bool, err error) {
	if key == "" {
		return false, nil
	}
	ctx, cancel := context.WithTimeout(r.Context(), g.Timeout)
	defer cancel()
	if ctx, err = g.withKey(ctx, r, key, pb.AccessService_EndSession_FullMethodName); err != nil {
		return false, err
	}
	_, err = g.access.EndSession(ctx, &pb.EndSessionRequest{})
	switch status.Code(err) {
	case codes.Unauthenticated: // it opens nothing: this was done before
		return true, nil
	case codes.PermissionDenied: // no phone's key, which somebody put into the cookie
		return false, nil
	}
	return err == nil, err
}
