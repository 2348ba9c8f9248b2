package gateway

import (
	"bytes"
	"context"
	"errors"
	"io"
	"maps"
	"mime"
	"net/http"
	"net/url"
	"os"
	"slices"
	"strings"
	"time"
	"unicode/utf8"

	"github.com/grpc-ecosystem/grpc-gateway/v2/runtime"
	"google.golang.org/grpc/codes"
	"google.golang.org/protobuf/reflect/protoreflect"

	"rowdatum/gateway/internal/strictjson"
	"rowdatum/proto/httprules"
)

// contractRules are the ways into the API, each by its verb and path template.
func contractRules() map[string]*httprules.Rule {
	rules := map[string]*httprules.Rule{}
	for _, rule := range httprules.All() {
		rules[ruleKey(rule.Verb, rule.Template)] = rule
	}
	return rules
}

func ruleKey(verb, template string) string { return verb + " " + template }

// guard stands between a matched route and its call: what passes is well formed, whole and in time.
func (g *gateway) guard(next runtime.HandlerFunc) runtime.HandlerFunc {
	return func(w http.ResponseWriter, r *http.Request, params map[string]string) {
		pattern, _ := runtime.HTTPPattern(r.Context())
		rule, ok := g.rules[ruleKey(r.Method, pattern.String())]
		if !ok { // a route that cannot be checked is not served
			writeFault(w, newFault(http.StatusInternalServerError, codes.Internal, "INTERNAL", neutral[codes.Internal]))
			return
		}
		callOf(r.Context()).route = rule.Template
		if f := g.admit(w, r, rule, params); f != nil {
			writeFault(w, f)
			return
		}
		if rule.Streams() {
			callOf(r.Context()).stream = true
			g.watch(w, r, params)
			return
		}
		ctx, cancel := context.WithTimeout(r.Context(), g.Timeout)
		defer cancel()
		next(w, r.WithContext(ctx), params)
	}
}

// admit checks everything that a caller says, and leaves the body ready to be decoded.
func (g *gateway) admit(w http.ResponseWriter, r *http.Request, rule *httprules.Rule, params map[string]string) *fault {
	query, found := checkAddress(r.URL, rule, params)
	if rule.Body == "" {
		r.Body = http.NoBody
		return invalid(found)
	}
	if f := checkMediaType(r.Header); f != nil {
		return f
	}
	text, f := g.readBody(w, r)
	if f != nil {
		return f
	}
	found = append(found, strictjson.CheckBody(text, rule.Request(), rule.Body, params)...)
	if len(found) == 0 && r.Method == http.MethodPatch {
		nameMask(query, rule, text)
		r.URL.RawQuery = query.Encode()
	}
	r.Body = io.NopCloser(bytes.NewReader(text))
	return invalid(found)
}

// nameMask has an update name its fields: those that it says, else those that the body gives. The gateway
// library would name the innermost fields, but fields are replaced whole.
func nameMask(query url.Values, rule *httprules.Rule, body []byte) {
	strictjson.OwnMasks(query, rule.Request())
	if query.Has("updateMask") || query.Has("update_mask") {
		return
	}
	resource := rule.Request().Fields().ByName(protoreflect.Name(rule.Body)).Message()
	if mask := strictjson.BodyMask(body, resource); mask != "" {
		query.Set("updateMask", mask)
	}
}

func checkAddress(u *url.URL, rule *httprules.Rule, params map[string]string) (url.Values, []strictjson.Violation) {
	var found []strictjson.Violation
	for _, name := range slices.Sorted(maps.Keys(params)) {
		if !utf8.ValidString(params[name]) {
			found = append(found, strictjson.Violation{Field: name, Message: "is not UTF-8 text"})
		}
	}
	query, err := url.ParseQuery(u.RawQuery)
	if err != nil {
		return nil, append(found, strictjson.Violation{Field: "query", Message: "cannot be read; it must be name=value pairs with & between them, anything but letters and digits as %XX"})
	}
	return query, append(found, strictjson.CheckQuery(query, rule.Request(), rule.Bound())...)
}

// checkMediaType wants JSON by name: a form on another site's page cannot send that.
func checkMediaType(h http.Header) *fault {
	media, params, err := mime.ParseMediaType(h.Get("Content-Type"))
	charset := params["charset"]
	plain := h.Get("Content-Encoding") == "" || strings.EqualFold(h.Get("Content-Encoding"), "identity")
	if err == nil && media == "application/json" && (charset == "" || strings.EqualFold(charset, "utf-8")) && plain {
		return nil
	}
	return newFault(http.StatusUnsupportedMediaType, codes.InvalidArgument, "NOT_JSON",
		"The request must be JSON in UTF-8, not compressed, with the header Content-Type: application/json.")
}

// readBody reads the whole body within the call's time, so that a slow sender holds no call open.
func (g *gateway) readBody(w http.ResponseWriter, r *http.Request) ([]byte, *fault) {
	control := http.NewResponseController(w)
	_ = control.SetReadDeadline(time.Now().Add(g.Timeout)) // not every writer has one
	text, err := io.ReadAll(r.Body)
	if err == nil {
		_ = control.SetReadDeadline(time.Time{})
		return text, nil
	}
	callOf(r.Context()).cause = err
	switch tooBig := (*http.MaxBytesError)(nil); {
	case errors.As(err, &tooBig):
		f := newFault(http.StatusRequestEntityTooLarge, codes.ResourceExhausted, "BODY_TOO_LARGE", "")
		return nil, f.say("The request is larger than the %d bytes that one request may have; sending it again will not help.", g.MaxBodyBytes)
	case errors.Is(err, os.ErrDeadlineExceeded):
		return nil, newFault(http.StatusRequestTimeout, codes.DeadlineExceeded, "BODY_TOO_SLOW", "The request did not arrive in time; nothing was changed.")
	}
	return nil, newFault(http.StatusBadRequest, codes.InvalidArgument, "BODY_BROKEN_OFF", "The request broke off before its end; nothing was changed.")
}

// allowed returns the methods that a path takes.
func allowed(path string) []string {
	var out []string
	for _, verb := range []string{http.MethodGet, http.MethodPost, http.MethodPut, http.MethodPatch, http.MethodDelete} {
		if rule, _ := httprules.Match(verb, path); rule != nil {
			out = append(out, verb)
		}
	}
	return out
}
