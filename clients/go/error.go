package rowdatum

import (
	"context"
	"errors"
	"strings"
	"time"

	"google.golang.org/genproto/googleapis/rpc/errdetails"
	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/status"
)

// Violation is one thing wrong with a request.
type Violation struct {
	Field       string // path into the request: rows[3].readingsMm[0]
	Description string // what is wrong and what is allowed, for a person
}

// Error is what a service answered instead of what was asked, or that none answered. Act on Code and Reason; Message is for
// people and may change.
type Error struct {
	Code       codes.Code
	Reason     string // UPPER_SNAKE: STALE_ETAG; empty where no service of ours has answered
	Message    string
	Violations []Violation
	Metadata   map[string]string // what is variable in the message
	RetryAfter time.Duration     // the least pause before asking again; 0: none was named

	status *status.Status
}

// Error gives the message and every violation, a line each.
func (e *Error) Error() string {
	lines := []string{e.Message}
	for _, v := range e.Violations {
		lines = append(lines, v.Field+": "+v.Description)
	}
	return strings.Join(lines, "\n")
}

// GRPCStatus is the status as it came.
func (e *Error) GRPCStatus() *status.Status { return e.status }

// Is makes errors.Is find the end of a context, wherever it was noticed.
func (e *Error) Is(target error) bool {
	return e.Code == codes.Canceled && target == context.Canceled || e.Code == codes.DeadlineExceeded && target == context.DeadlineExceeded
}

// Reason is the reason of a refusal, and empty for every other error: Reason(err) == "STALE_ETAG".
func Reason(err error) string {
	if e, ok := errors.AsType[*Error](err); ok {
		return e.Reason
	}
	return ""
}

// typed turns what the wire gave into an *Error.
func typed(err error) error {
	if err == nil {
		return nil
	}
	s, ok := status.FromError(err)
	if !ok { // of this side: the end of a stream, say
		return err
	}
	e := &Error{Code: s.Code(), Message: s.Message(), status: s}
	for _, detail := range s.Details() {
		switch d := detail.(type) {
		case *errdetails.ErrorInfo:
			e.Reason, e.Metadata = d.GetReason(), d.GetMetadata()
		case *errdetails.BadRequest:
			for _, v := range d.GetFieldViolations() {
				e.Violations = append(e.Violations, Violation{v.GetField(), v.GetDescription()})
			}
		case *errdetails.RetryInfo:
			e.RetryAfter = d.GetRetryDelay().AsDuration()
		}
	}
	return e
}
