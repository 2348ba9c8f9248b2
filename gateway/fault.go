package gateway

import (
	"context"
	"errors"
	"fmt"
	"math"
	"net/http"
	"strconv"
	"strings"

	"github.com/grpc-ecosystem/grpc-gateway/v2/runtime"
	"google.golang.org/genproto/googleapis/rpc/code"
	"google.golang.org/genproto/googleapis/rpc/errdetails"
	statuspb "google.golang.org/genproto/googleapis/rpc/status"
	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/status"
	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/types/known/anypb"

	"rowdatum/gateway/internal/strictjson"
)

// domain is the ErrorInfo domain, the same as the service's.
const domain = "rowdatum"

// fault is an error on its way out.
type fault struct {
	http   int
	status *statuspb.Status
	allow  []string // of 405
}

func newFault(httpStatus int, c codes.Code, reason, message string, more ...proto.Message) *fault {
	s := &statuspb.Status{Code: int32(c), Message: message}
	for _, d := range append([]proto.Message{&errdetails.ErrorInfo{Reason: reason, Domain: domain}}, more...) {
		if packed, err := anypb.New(d); err == nil { // fails on text that is no UTF-8 only
			s.Details = append(s.Details, packed)
		}
	}
	return &fault{http: httpStatus, status: s}
}

func (f *fault) say(format string, args ...any) *fault {
	f.status.Message = fmt.Sprintf(format, args...)
	return f
}

// invalid is every violation in one fault, nil where there are none.
func invalid(found []strictjson.Violation) *fault {
	if len(found) == 0 {
		return nil
	}
	bad := &errdetails.BadRequest{}
	for _, v := range found {
		bad.FieldViolations = append(bad.FieldViolations, &errdetails.BadRequest_FieldViolation{Field: v.Field, Description: v.Message})
	}
	message := "One thing in the request is wrong."
	if len(found) > 1 {
		message = fmt.Sprintf("%d things in the request are wrong.", len(found))
	}
	return newFault(http.StatusBadRequest, codes.InvalidArgument, "INVALID_REQUEST", message, bad)
}

// neutral is what a caller hears where machinery on the way failed.
var neutral = map[codes.Code]string{
	codes.Canceled:          "The caller has left.",
	codes.InvalidArgument:   "The request is not understood.",
	codes.DeadlineExceeded:  "The answer took too long; nothing was changed.",
	codes.NotFound:          "There is nothing here.",
	codes.AlreadyExists:     "This exists already.",
	codes.PermissionDenied:  "The key does not give this right.",
	codes.Unauthenticated:   "A key is needed, or the one given is wrong.",
	codes.ResourceExhausted: "This is more than the service takes; nothing was changed.",
	codes.Aborted:           "Somebody else was faster; read again, then decide.",
	codes.Unimplemented:     "The service does not offer this.",
	codes.Unavailable:       "The service cannot be reached; trying again may help.",
	codes.Internal:          "Something went wrong inside the service; nothing was changed.",
}

// serviceError answers what the service, or the way to it, said.
func (g *gateway) serviceError(ctx context.Context, _ *runtime.ServeMux, _ runtime.Marshaler, w http.ResponseWriter, _ *http.Request, err error) {
	callOf(ctx).cause = err
	writeFault(w, faultOf(err))
}

// faultOf is what a caller hears of err.
func faultOf(err error) *fault {
	if asked := (*runtime.HTTPStatusError)(nil); errors.As(err, &asked) { // an address with broken escapes
		return newFault(asked.HTTPStatus, codes.InvalidArgument, "INVALID_REQUEST", "The address cannot be read.")
	}
	s := status.Convert(err)
	if len(s.Proto().GetDetails()) > 0 {
		return &fault{http: runtime.HTTPStatusFromCode(s.Code()), status: s.Proto()}
	}
	c := s.Code()
	if neutral[c] == "" {
		c = codes.Internal
	}
	return newFault(runtime.HTTPStatusFromCode(c), c, code.Code(c).String(), neutral[c])
}

// routingError answers where no call fits the address.
func routingError(_ context.Context, _ *runtime.ServeMux, _ runtime.Marshaler, w http.ResponseWriter, r *http.Request, httpStatus int) {
	switch httpStatus {
	case http.StatusMethodNotAllowed:
		writeFault(w, wrongMethod(allowed(r.URL.Path)))
	case http.StatusNotFound:
		writeFault(w, newFault(httpStatus, codes.NotFound, "NO_SUCH_PATH", "There is nothing at this address; /docs lists what there is."))
	default:
		writeFault(w, newFault(httpStatus, codes.InvalidArgument, "INVALID_REQUEST", "The address cannot be read."))
	}
}

func wrongMethod(allow []string) *fault {
	f := newFault(http.StatusMethodNotAllowed, codes.Unimplemented, "METHOD_NOT_ALLOWED", "")
	f.allow = allow
	return f.say("This address takes %s only.", strings.Join(allow, ", "))
}

func (f *fault) json() []byte {
	text, err := newMarshaler().Marshal(f.status)
	if err != nil { // a detail of a kind that is not known here: the rest still counts
		bare := &statuspb.Status{Code: f.status.GetCode(), Message: f.status.GetMessage()}
		text, _ = newMarshaler().Marshal(bare)
	}
	return text
}

// writeFault is the one place where an error becomes an answer.
func writeFault(w http.ResponseWriter, f *fault) {
	h := w.Header()
	h.Set("Content-Type", "application/json")
	switch f.http {
	case http.StatusUnauthorized, http.StatusForbidden:
		h.Set("WWW-Authenticate", "Bearer")
	case http.StatusMethodNotAllowed:
		h.Set("Allow", strings.Join(f.allow, ", "))
	case http.StatusServiceUnavailable, http.StatusTooManyRequests:
		h.Set("Retry-After", retryAfter(f.status))
	}
	w.WriteHeader(f.http)
	_, _ = w.Write(f.json()) // the caller may have left
}

// retryAfter is the pause that the service asks for, else a second, which is the first pause before a
// fallen adjuster is started again.
func retryAfter(s *statuspb.Status) string {
	for _, d := range s.GetDetails() {
		var info errdetails.RetryInfo
		if d.UnmarshalTo(&info) == nil && info.GetRetryDelay().AsDuration() > 0 {
			return strconv.Itoa(int(math.Ceil(info.GetRetryDelay().AsDuration().Seconds())))
		}
	}
	return "1"
}
