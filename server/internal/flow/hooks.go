package flow

import (
	"context"
	"crypto/rand"
	"encoding/base64"
	"fmt"
	"net/netip"
	"net/url"
	"slices"
	"strings"
	"time"
	"unicode/utf8"

	"rowdatum/server/leveling"
)

// Hook is an address of a shop's own software that hears of its jobs.
type Hook struct {
	Shop       string          `json:"-"`
	ID         string          `json:"id"`
	URL        string          `json:"url"`
	Events     []HookEvent     `json:"events"`
	Paused     bool            `json:"paused,omitempty"`
	Secret     string          `json:"secret,omitempty"` // whsec_ and base64
	OldSecret  string          `json:"oldSecret,omitempty"`
	OldUntil   leveling.Micros `json:"oldUntil,omitempty"` // until then OldSecret signs as well
	Revision   int             `json:"revision"`
	CreateTime leveling.Micros `json:"createTime"`
	UpdateTime leveling.Micros `json:"updateTime"`
}

// HookEvent is what a hook hears of, as CloudEvents' type says it.
type HookEvent string

// The events.
const (
	JobOpened HookEvent = "rowdatum.job.opened"
	JobPlan   HookEvent = "rowdatum.job.plan"
	JobSigned HookEvent = "rowdatum.job.signed"
	PartLimit HookEvent = "rowdatum.part.limit"
)

// Choices of ours.
const (
	mostHooks    = 20   // of a shop
	longestURL   = 2000 // what every server takes, common practice
	secretBytes  = 32   // Standard Webhooks, "Signature scheme": between 24 and 64
	rotationTime = 24 * time.Hour
)

func hookName(id string) string { return "hooks/" + id }

// answeredHook is what is remembered of an answer with a hook: no secret, but what the one that it told is known
// again by.
type answeredHook struct {
	Hook
	Told string `json:"told,omitempty"` // the secret, hashed
}

// answering leaves the secrets out of an answer that told one, or none ("").
func answering(h Hook, told string) answeredHook {
	h.Secret, h.OldSecret = "", ""
	if told == "" {
		return answeredHook{Hook: h}
	}
	return answeredHook{h, hashed(told)}
}

// told is the answer with its secret: the one that was made just now or, in a repeat, that of the first answer as
// long as the hook signs with it.
func (f *Flow) told(ctx context.Context, shop, made string, a answeredHook) (Hook, error) {
	if hashed(made) == a.Told {
		a.Secret = made
		return a.Hook, nil
	}
	present, err := f.Hook(ctx, Caller{Shop: shop}, a.ID)
	if err != nil && leveling.AsError(err).Kind != leveling.NotFound { // a hook that is gone signs nothing
		return Hook{}, err
	}
	for _, secret := range present.Secrets(f.Now()) {
		if hashed(secret) == a.Told {
			a.Secret = secret
		}
	}
	return a.Hook, nil
}

// Secrets are the secrets that sign at a time, the newest first.
func (h Hook) Secrets(now leveling.Micros) []string {
	if h.OldSecret != "" && now < h.OldUntil {
		return []string{h.Secret, h.OldSecret}
	}
	return []string{h.Secret}
}

// newHookSecret is a secret as Standard Webhooks writes them.
func newHookSecret() string {
	var key [secretBytes]byte
	_, _ = rand.Read(key[:]) // never fails
	return "whsec_" + base64.StdEncoding.EncodeToString(key[:])
}

// CreateHook registers a hook under the wanted id, or one of its own. Its answer tells the secret, and so does a
// repeat while the hook signs with it; nothing else does.
func (f *Flow) CreateHook(ctx context.Context, who Caller, req Request, wanted string, h Hook) (Hook, error) {
	var v leveling.Violations
	h.ID = wantedID("hookId", wanted, &v)
	f.checkHook(h, &v)
	if err := sorted(v).Err(); err != nil {
		return Hook{}, err
	}
	secret := newHookSecret()
	answer, err := once(ctx, f, who, "CreateHook", req, func(tx Tx, now leveling.Micros) (answeredHook, string, error) {
		all, err := tx.Hooks(who.Shop, Query{Limit: mostHooks})
		if err != nil {
			return answeredHook{}, "", err
		}
		if len(all) == mostHooks {
			return answeredHook{}, "", &leveling.Error{Kind: leveling.FailedState, Reason: "HOOKS_FULL", Message: fmt.Sprintf("The shop has %d hooks, which is the most.", mostHooks)}
		}
		h.Secret, h.Revision, h.CreateTime, h.UpdateTime = secret, 1, now, now
		return answering(h, secret), hookName(h.ID), tx.PutHook(who.Shop, h)
	})
	if err != nil {
		return Hook{}, err
	}
	return f.told(ctx, who.Shop, secret, answer)
}

// checkHook notes what is wrong with what a caller sets. Only programs set it: it is said in English alone.
func (f *Flow) checkHook(h Hook, v *leveling.Violations) {
	if why := f.wrongURL(h.URL); why != "" {
		v.Add("hook.url", "%s", why)
	}
	if len(h.Events) == 0 {
		v.Add("hook.events", "is empty, must name what the hook hears of")
	}
	for i, event := range h.Events {
		if slices.Contains(h.Events[:i], event) {
			v.Add(fmt.Sprintf("hook.events[%d]", i), "is named twice")
		}
	}
}

// wrongURL says why an address cannot be a hook's. Names are looked up when something is sent: only then does
// it matter where they lead.
func (f *Flow) wrongURL(text string) string {
	u, err := url.Parse(text)
	switch {
	case utf8.RuneCountInString(text) > longestURL:
		return fmt.Sprintf("has more than %d characters", longestURL)
	case err != nil || u.Scheme != "https" && u.Scheme != "http" || u.Hostname() == "" || u.Opaque != "":
		return "is not an address such as https://shop.example/hooks"
	case u.User != nil:
		return "holds a user or a password; deliveries are signed, which tells the receiver who sends"
	case u.Fragment != "":
		return "has a part behind #, which is never sent"
	case !portTakesHooks(u):
		return "has a port at which no web server listens; leave the port out, or use one that is not of another service, such as 443 or 8443"
	case !f.HooksToPrivate && leadsInside(u.Hostname()):
		return "is an address of this machine or of a private network; the service must be started with --hooks-to-private to send there"
	}
	return ""
}

// leadsInside says whether a host is seen at once not to be public.
func leadsInside(host string) bool {
	if ip, err := netip.ParseAddr(host); err == nil {
		return !PublicAddress(ip)
	}
	host = strings.ToLower(strings.TrimSuffix(host, "."))
	return host == "localhost" || strings.HasSuffix(host, ".localhost") // RFC 6761, 6.3
}

// Hook returns one hook.
func (f *Flow) Hook(ctx context.Context, who Caller, id string) (h Hook, err error) {
	err = f.Store.Read(ctx, func(view View) error {
		h, err = view.Hook(who.Shop, id)
		return err
	})
	return h, err
}

// Hooks returns a page of hooks by id.
func (f *Flow) Hooks(ctx context.Context, who Caller, q Query) (page []Hook, more bool, err error) {
	return paged(ctx, f, q, func(view View, q Query) ([]Hook, error) { return view.Hooks(who.Shop, q) })
}

// UpdateHook changes a hook; change makes the new one of the old.
func (f *Flow) UpdateHook(ctx context.Context, who Caller, req Request, id, etag string, change func(Hook) (Hook, error)) (Hook, error) {
	answer, err := f.rewriteHook(ctx, who, "UpdateHook", req, id, etag, "", func(h Hook, _ leveling.Micros) (Hook, error) {
		changed, err := change(h)
		if err != nil {
			return Hook{}, err
		}
		h.URL, h.Events, h.Paused = changed.URL, changed.Events, changed.Paused
		var v leveling.Violations
		f.checkHook(h, &v)
		return h, sorted(v).Err()
	})
	return answer.Hook, err
}

// RotateHookSecret gives a hook a new secret, and tells it as CreateHook does.
func (f *Flow) RotateHookSecret(ctx context.Context, who Caller, req Request, id string) (Hook, error) {
	secret := newHookSecret()
	answer, err := f.rewriteHook(ctx, who, "RotateHookSecret", req, id, "", secret, func(h Hook, now leveling.Micros) (Hook, error) {
		h.Secret, h.OldSecret, h.OldUntil = secret, h.Secret, now+micros(rotationTime)
		return h, nil
	})
	if err != nil {
		return Hook{}, err
	}
	return f.told(ctx, who.Shop, secret, answer)
}

// rewriteHook changes a hook; its answer tells a secret, or none ("").
func (f *Flow) rewriteHook(ctx context.Context, who Caller, method string, req Request, id, etag, tells string, change func(Hook, leveling.Micros) (Hook, error)) (answeredHook, error) {
	return once(ctx, f, who, method, req, func(tx Tx, now leveling.Micros) (answeredHook, string, error) {
		h, err := tx.Hook(who.Shop, id)
		if err != nil {
			return answeredHook{}, "", err
		}
		if err := checkEtag(etag, h.Revision, ""); err != nil {
			return answeredHook{}, "", err
		}
		if h, err = change(h, now); err != nil {
			return answeredHook{}, "", err
		}
		h.Revision, h.UpdateTime = h.Revision+1, now
		return answering(h, tells), hookName(id), tx.PutHook(who.Shop, h)
	})
}

// DeleteHook removes a hook with its deliveries.
func (f *Flow) DeleteHook(ctx context.Context, who Caller, req Request, id, etag string) error {
	_, err := once(ctx, f, who, "DeleteHook", req, func(tx Tx, _ leveling.Micros) (struct{}, string, error) {
		h, err := tx.Hook(who.Shop, id)
		if err != nil {
			return struct{}{}, "", err
		}
		if err := checkEtag(etag, h.Revision, ""); err != nil {
			return struct{}{}, "", err
		}
		return struct{}{}, hookName(id), tx.DeleteHook(who.Shop, id)
	})
	return err
}
