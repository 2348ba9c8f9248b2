package gateway

import (
	"context"
	"crypto/rand"
	"encoding/hex"
	"fmt"
	"net/http"
	"runtime/debug"
	"time"

	"go.uber.org/zap"
	"google.golang.org/grpc/codes"
)

// call is what is known of one request; one goroutine serves it.
type call struct {
	id     string
	start  time.Time
	scheme string // https where the caller's own end has it
	route  string // pattern, never the caller's own text
	stream bool
	quiet  bool  // pages and probes, which would fill the log
	cause  error // what the log may know and the caller not
}

// noRoute is the route of an address where there is nothing.
const noRoute = "none"

type callKey struct{}

func withCall(ctx context.Context, c *call) context.Context {
	return context.WithValue(ctx, callKey{}, c)
}

func callOf(ctx context.Context) *call {
	c, _ := ctx.Value(callKey{}).(*call)
	return c
}

const requestIDHeader = "X-Request-Id"

// requestID takes the caller's own id where it is a plain word, so that it can stand in any log, and
// makes one otherwise.
func requestID(given string) string {
	if isPlainID(given) {
		return given
	}
	var b [16]byte
	rand.Read(b[:]) // never fails
	return hex.EncodeToString(b[:])
}

func isPlainID(s string) bool {
	for i := range len(s) {
		c := s[i]
		if !(c >= '0' && c <= '9' || c >= 'a' && c <= 'z' || c >= 'A' && c <= 'Z' || c == '-' || c == '_' || c == '.') {
			return false
		}
	}
	return s != "" && len(s) <= 64
}

// finish ends every request: a panic becomes an answer, and one line goes to the log.
func (g *gateway) finish(w *recorder, r *http.Request, c *call) {
	if p := recover(); p != nil {
		if p == http.ErrAbortHandler {
			panic(p)
		}
		c.cause = fmt.Errorf("panic: %v\n%s", p, debug.Stack())
		if w.status == 0 {
			writeFault(w, newFault(http.StatusInternalServerError, codes.Internal, "INTERNAL", neutral[codes.Internal]))
		}
	}
	took := time.Since(c.start)
	if g.Seen != nil {
		g.Seen(r.Context(), Seen{RequestID: c.id, Route: c.route, Method: plainMethod(r.Method), Status: w.status, Stream: c.stream, Took: took})
	}
	fields := []zap.Field{zap.String("requestId", c.id), zap.String("method", r.Method), zap.String("route", c.route),
		zap.Int("status", w.status), zap.Duration("took", took), zap.Int64("bytes", w.bytes)}
	if c.cause != nil {
		fields = append(fields, zap.Error(c.cause))
	}
	switch {
	case w.status >= 500:
		g.Log.Error("http", fields...)
	case c.quiet:
		g.Log.Debug("http", fields...)
	default:
		g.Log.Info("http", fields...)
	}
}

// plainMethod is a method that HTTP knows; callers may invent others.
func plainMethod(method string) string {
	switch method {
	case http.MethodGet, http.MethodHead, http.MethodPost, http.MethodPut, http.MethodPatch, http.MethodDelete, http.MethodOptions:
		return method
	}
	return "other"
}

// recorder remembers what was answered.
type recorder struct {
	http.ResponseWriter
	status int
	bytes  int64
}

func (w *recorder) WriteHeader(status int) {
	if w.status == 0 {
		w.status = status
	}
	w.ResponseWriter.WriteHeader(status)
}

func (w *recorder) Write(b []byte) (int, error) {
	if w.status == 0 {
		w.status = http.StatusOK
	}
	n, err := w.ResponseWriter.Write(b)
	w.bytes += int64(n)
	return n, err
}

// Unwrap lets http.ResponseController reach deadlines and flushing.
func (w *recorder) Unwrap() http.ResponseWriter { return w.ResponseWriter }
