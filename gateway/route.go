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
	"google.golang.org/genproto/googleapis/api/annotations"
	"google.golang.org/grpc/codes"
	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/reflect/protoreflect"
	"google.golang.org/protobuf/reflect/protoregistry"

	"rowdatum/gateway/internal/strictjson"
	pb "rowdatum/proto/gen/rowdatum/v1"
)

// route is one way into the API, as its description in the contract has it.
type route struct {
	method, pattern string
	request         protoreflect.MessageDescriptor
	body            string // "": takes none; "*": the whole request; else the field that the body is
	streams         bool
}

func (rt route) key() string { return rt.method + " " + rt.pattern }

// serviceRoutes reads the routes of every service of the API from its descriptors.
func serviceRoutes() map[string]route {
	routes := map[string]route{}
	pkg := pb.File_rowdatum_v1_plan_proto.Package()
	protoregistry.GlobalFiles.RangeFilesByPackage(pkg, func(file protoreflect.FileDescriptor) bool {
		for i := range file.Services().Len() {
			methods := file.Services().Get(i).Methods()
			for j := range methods.Len() {
				for _, rt := range methodRoutes(methods.Get(j)) {
					routes[rt.key()] = rt
				}
			}
		}
		return true
	})
	return routes
}

func methodRoutes(m protoreflect.MethodDescriptor) []route {
	rule, _ := proto.GetExtension(m.Options(), annotations.E_Http).(*annotations.HttpRule)
	if rule == nil {
		return nil
	}
	var out []route
	for _, r := range append([]*annotations.HttpRule{rule}, rule.GetAdditionalBindings()...) {
		rt := route{request: m.Input(), body: r.GetBody(), streams: m.IsStreamingServer()}
		switch p := r.GetPattern().(type) {
		case *annotations.HttpRule_Get:
			rt.method, rt.pattern = http.MethodGet, p.Get
		case *annotations.HttpRule_Post:
			rt.method, rt.pattern = http.MethodPost, p.Post
		case *annotations.HttpRule_Put:
			rt.method, rt.pattern = http.MethodPut, p.Put
		case *annotations.HttpRule_Patch:
			rt.method, rt.pattern = http.MethodPatch, p.Patch
		case *annotations.HttpRule_Delete:
			rt.method, rt.pattern = http.MethodDelete, p.Delete
		}
		out = append(out, rt)
	}
	return out
}

// guard stands between a matched route and its call: what passes is well formed, whole and in time.
func (g *gateway) guard(next runtime.HandlerFunc) runtime.HandlerFunc {
	return func(w http.ResponseWriter, r *http.Request, params map[string]string) {
		if hit, ok := r.Context().Value(probeKey{}).(*bool); ok {
			*hit = true
			return
		}
		pattern, _ := runtime.HTTPPattern(r.Context())
		rt, ok := g.routes[r.Method+" "+pattern.String()]
		if !ok { // a route that cannot be checked is not served
			writeFault(w, newFault(http.StatusInternalServerError, codes.Internal, "INTERNAL", neutral[codes.Internal]))
			return
		}
		callOf(r.Context()).route = rt.pattern
		if f := g.admit(w, r, rt, params); f != nil {
			writeFault(w, f)
			return
		}
		if rt.streams {
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
func (g *gateway) admit(w http.ResponseWriter, r *http.Request, rt route, params map[string]string) *fault {
	query, found := checkAddress(r.URL, rt, params)
	if rt.body == "" {
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
	found = append(found, strictjson.CheckBody(text, rt.request, rt.body, params)...)
	if len(found) == 0 && r.Method == http.MethodPatch {
		rt.mask(query, text)
		r.URL.RawQuery = query.Encode()
	}
	r.Body = io.NopCloser(bytes.NewReader(text))
	return invalid(found)
}

// mask has an update name its fields: those that it says, else those that the body gives. The gateway
// library would name the innermost fields, but fields are replaced whole.
func (rt route) mask(query url.Values, body []byte) {
	strictjson.OwnMasks(query, rt.request)
	if query.Has("updateMask") || query.Has("update_mask") {
		return
	}
	resource := rt.request.Fields().ByName(protoreflect.Name(rt.body)).Message()
	if mask := strictjson.BodyMask(body, resource); mask != "" {
		query.Set("updateMask", mask)
	}
}

func checkAddress(u *url.URL, rt route, params map[string]string) (url.Values, []strictjson.Violation) {
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
	bound := slices.Collect(maps.Keys(params))
	if rt.body != "" {
		bound = append(bound, rt.body)
	}
	return query, append(found, strictjson.CheckQuery(query, rt.request, bound)...)
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

type probeKey struct{}

// allowed returns the methods that a path takes, by asking the router itself.
func (g *gateway) allowed(r *http.Request) []string {
	var out []string
	for _, method := range []string{http.MethodGet, http.MethodPost, http.MethodPut, http.MethodPatch, http.MethodDelete} {
		hit := false
		probe := r.WithContext(context.WithValue(r.Context(), probeKey{}, &hit))
		probe.Method = method
		g.api.ServeHTTP(nowhere{}, probe)
		if hit {
			out = append(out, method)
		}
	}
	return out
}

// nowhere takes what a probe would answer.
type nowhere struct{}

func (nowhere) Header() http.Header         { return http.Header{} }
func (nowhere) Write(b []byte) (int, error) { return len(b), nil }
func (nowhere) WriteHeader(int)             {}
