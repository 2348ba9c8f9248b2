package api

import (
	"context"
	"errors"
	"time"

	"google.golang.org/genproto/googleapis/rpc/errdetails"
	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/status"
	"google.golang.org/protobuf/protoadapt"
	"google.golang.org/protobuf/types/known/durationpb"

	"rowdatum/server/leveling"
)

// domain is the ErrorInfo domain of every error of this service.
const domain = "rowdatum"

var code = map[leveling.Kind]codes.Code{
	leveling.Internal:         codes.Internal,
	leveling.Invalid:          codes.InvalidArgument,
	leveling.NotFound:         codes.NotFound,
	leveling.FailedState:      codes.FailedPrecondition,
	leveling.Stale:            codes.Aborted,
	leveling.Exists:           codes.AlreadyExists,
	leveling.Unavailable:      codes.Unavailable,
	leveling.DeadlineExceeded: codes.DeadlineExceeded,
	leveling.TooLarge:         codes.ResourceExhausted,
	leveling.Unauthenticated:  codes.Unauthenticated,
	leveling.Forbidden:        codes.PermissionDenied,
	leveling.DataLoss:         codes.DataLoss,
}

// statusError turns any error of the rooms inside into the one shape that callers see: a status with
// ErrorInfo, and BadRequest where single fields are wrong, in words for its reader. The cause stays behind.
func statusError(err error, to leveling.Voice) error {
	if errors.Is(err, context.Canceled) {
		return status.Error(codes.Canceled, "The caller has left.")
	}
	e := leveling.AsError(err)
	if errors.Is(err, context.DeadlineExceeded) && e.Kind == leveling.Internal {
		e = &leveling.Error{Kind: leveling.DeadlineExceeded, Reason: "DEADLINE_EXCEEDED", Message: "The answer took too long; nothing was changed."}
	}
	details := []protoadapt.MessageV1{&errdetails.ErrorInfo{Reason: e.Reason, Domain: domain, Metadata: e.Metadata}}
	if len(e.Violations) > 0 {
		bad := &errdetails.BadRequest{}
		for _, v := range e.Violations {
			bad.FieldViolations = append(bad.FieldViolations, &errdetails.BadRequest_FieldViolation{Field: v.Field, Description: v.Say(to)})
		}
		details = append(details, bad)
	}
	if b, ok := errors.AsType[busy](err); ok {
		details = append(details, &errdetails.RetryInfo{RetryDelay: durationpb.New(b.wait)})
	}
	s := status.New(code[e.Kind], message(e, to.Language))
	if full, err := s.WithDetails(details...); err == nil {
		s = full
	}
	return s.Err()
}

// tooManyCalls asks the caller to come again after a while.
func tooManyCalls(wait time.Duration) error {
	return busy{wait, &leveling.Error{Kind: leveling.TooLarge, Reason: "TOO_MANY_CALLS", Message: "Too many calls at once; wait a moment."}}
}

// busy is an error that passes after a while.
type busy struct {
	wait    time.Duration
	refusal *leveling.Error
}

func (b busy) Error() string { return b.refusal.Error() }
func (b busy) Unwrap() error { return b.refusal }
