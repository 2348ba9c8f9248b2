package gateway

import (
	"fmt"
	"net"
	"net/http"
	"net/netip"
	"net/url"
	"slices"
	"strings"
)

// policy lets a page use its own style sheet and nothing else, whoever's text stands in it.
const policy = "default-src 'none'; style-src 'self'; img-src 'self'; base-uri 'none'; form-action 'none'; frame-ancestors 'none'"

func secureHeaders(h http.Header) {
	h.Set("Content-Security-Policy", policy)
	h.Set("X-Content-Type-Options", "nosniff")
	h.Set("Referrer-Policy", "no-referrer")
	h.Set("Cross-Origin-Resource-Policy", "same-origin")
	h.Set("Cache-Control", "no-cache")
}

// forwardedHeader says which header of the trimmed request travels on, and as what. The gateway
// library itself adds authorization, and the address that the request came from.
func forwardedHeader(name string) (string, bool) {
	return strings.ToLower(name), name == requestIDHeader || name == schemeHeader || name == keysOnlyHeader || name == languageHeader
}

// keysOnlyHeader has the service refuse a call without a key even where it lets its own machine in. It
// goes along where the caller used another name than this machine's own: a site elsewhere can have its
// name lead here, and its pages then pass for ours.
const keysOnlyHeader = "X-Rowdatum-Keys-Only"

func isOwnName(host string) bool {
	name := host
	if h, _, err := net.SplitHostPort(host); err == nil {
		name = h
	}
	ip := net.ParseIP(strings.Trim(name, "[]"))
	return strings.EqualFold(name, "localhost") || ip != nil && ip.IsLoopback()
}

// languageHeader says which languages the caller reads.
const languageHeader = "Accept-Language"

// languages is what r says of them: several lines are one list. gRPC carries printable ASCII only, and
// whatever is no list of languages says nothing.
func languages(r *http.Request) string {
	const most = 500
	list := strings.Join(r.Header.Values(languageHeader), ",")
	if len(list) > most || strings.ContainsFunc(list, func(c rune) bool { return c < ' ' || c > '~' }) {
		return ""
	}
	return list
}

// schemeHeader says what a proxy in front was asked by. A caller who invents it fools nobody else: it
// decides over this caller's own cookie and the address in this caller's own QR picture.
const schemeHeader = "X-Forwarded-Proto"

func scheme(r *http.Request) string {
	if r.TLS != nil || strings.EqualFold(r.Header.Get(schemeHeader), "https") {
		return "https"
	}
	return "http"
}

const hopsHeader = "X-Forwarded-For"

// callerAt is where r comes from: the other end of the connection, or who stands there for a proxy that was named. The
// gateway library tells the service this address, and nothing that a caller says of himself.
func (g *gateway) callerAt(r *http.Request) string {
	proxy, err := netip.ParseAddrPort(r.RemoteAddr)
	if err != nil {
		return r.RemoteAddr
	}
	at := proxy.Addr().Unmap().WithZone("")
	if !slices.ContainsFunc(g.TrustedProxies, func(n netip.Prefix) bool { return n.Contains(at) }) {
		return r.RemoteAddr
	}
	hops := strings.Join(r.Header.Values(hopsHeader), ",")
	hop, err := netip.ParseAddr(strings.TrimSpace(hops[strings.LastIndex(hops, ",")+1:]))
	if err != nil {
		return r.RemoteAddr
	}
	return netip.AddrPortFrom(hop, 0).String()
}

func noHeader(string) (string, bool) { return "", false }

// origins are the other sites whose pages may call the API. There is no "all": a list is short, and
// whoever is not on it can still call without a browser.
type origins map[string]bool

func parseOrigins(list []string) (origins, error) {
	out := origins{}
	for _, o := range list {
		u, err := url.Parse(o)
		if err != nil || u.Scheme != "http" && u.Scheme != "https" || u.Host == "" || o != u.Scheme+"://"+u.Host {
			return nil, fmt.Errorf("gateway: allowed origin %q must be a scheme and a host, such as https://shop.example", o)
		}
		out[o] = true
	}
	return out, nil
}

// answer says to the browser whether the asking page may have the answer, and answers the browser's
// own question before a write; it reports whether that was all.
func (o origins) answer(w http.ResponseWriter, r *http.Request) bool {
	h := w.Header()
	h.Add("Vary", "Origin")
	origin := r.Header.Get("Origin")
	if !o[origin] {
		return false
	}
	h.Set("Access-Control-Allow-Origin", origin)
	h.Set("Access-Control-Expose-Headers", "ETag, Retry-After, "+requestIDHeader)
	h.Set("Cross-Origin-Resource-Policy", "cross-origin")
	if r.Method != http.MethodOptions || r.Header.Get("Access-Control-Request-Method") == "" {
		return false
	}
	h.Set("Access-Control-Allow-Methods", "GET, POST, PUT, PATCH, DELETE")
	h.Set("Access-Control-Allow-Headers", "Authorization, Content-Type, "+requestIDHeader)
	h.Set("Access-Control-Max-Age", "600")
	w.WriteHeader(http.StatusNoContent)
	return true
}
