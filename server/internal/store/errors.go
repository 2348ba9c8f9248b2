package store

import (
	"context"
	"errors"
	"fmt"
	"strings"

	"rowdatum/server/internal/store/engine"
	"rowdatum/server/leveling"
)

// reason is a reason for programs: PLANTER_EXISTS.
func reason(what, is string) string {
	return strings.ToUpper(strings.ReplaceAll(what, " ", "_")) + "_" + is
}

func notFound(what, id string) error {
	return &leveling.Error{Kind: leveling.NotFound, Reason: reason(what, "NOT_FOUND"), Message: fmt.Sprintf("There is no %s %q.", what, id),
		Metadata: map[string]string{"what": what, "id": id}}
}

func exists(what, id string) error {
	return &leveling.Error{Kind: leveling.Exists, Reason: reason(what, "EXISTS"), Message: fmt.Sprintf("There is a %s %q already.", what, id),
		Metadata: map[string]string{"what": what, "id": id}}
}

func stale(what, id string) error {
	return &leveling.Error{Kind: leveling.Stale, Reason: "STALE", Message: fmt.Sprintf("The %s %q was changed by somebody else.", what, id),
		Metadata: map[string]string{"what": what, "id": id}}
}

func unavailable(reason, message string, cause error) error {
	return &leveling.Error{Kind: leveling.Unavailable, Reason: reason, Message: message, Err: cause}
}

func closed() error {
	return unavailable("STORE_CLOSED", "The service is stopping; nothing was changed.", nil)
}

// gaveUp is for a caller who did not wait.
func gaveUp(ctx context.Context) error {
	return &leveling.Error{Kind: leveling.DeadlineExceeded, Reason: "GAVE_UP", Message: "The time for the request was over before the store came to it; nothing was changed.",
		Err: context.Cause(ctx)}
}

// unsure is for a commit that may have been made or not. It is not tried again.
func unsure(err error) error {
	return unavailable("STORE_UNSURE", "The store was lost while it wrote; ask again with the same request id to learn whether it is written.", errors.New(err.Error()))
}

// full is for a disk without room, found while writing or while committing: a commit whose end could not be written is none.
func full(err error) error {
	return unavailable("STORE_FULL", "There is no room left where the store is kept; nothing was changed. Ask again when somebody has made room.", err)
}

// damaged is said once the database has found that what it keeps is not what was written.
func damaged(cause error) error {
	return &leveling.Error{Kind: leveling.DataLoss, Reason: "STORE_DAMAGED",
		Message: "The store is damaged. Nothing is written to it any more; what can still be read is shown. Whoever runs the service brings back the newest backup: its log names it.", Err: cause}
}

// notOpened is said where a store is so damaged that it cannot even be opened.
func notOpened(cause error) error {
	return &leveling.Error{Kind: leveling.DataLoss, Reason: "STORE_DAMAGED",
		Message: "The store is so damaged that it cannot be opened: nothing is served from it. Keep its files as they are, and bring back the newest backup.", Err: cause}
}

// unreadable is of one record that is not what was written.
func unreadable(cause error) error {
	return &leveling.Error{Kind: leveling.DataLoss, Reason: "RECORD_DAMAGED",
		Message: "A record of the store cannot be read: somebody changed it, or the disk is failing. Whoever runs the service finds out more with rowdatumd check.", Err: cause}
}

// misuse is a fault of the caller's code.
func misuse(format string, args ...any) error {
	return fmt.Errorf("the store is used wrongly: "+format, args...)
}

// fault is an error of the database, judged.
type fault struct {
	engine.Fault
	err error
}

func (f *fault) Error() string { return f.err.Error() }
func (f *fault) Unwrap() error { return f.err }

// judged turns an error of the database into the store's; ctx is that of the transaction.
func judged(ctx context.Context, e engine.Engine, doing string, err error) error {
	if ctx.Err() != nil {
		return gaveUp(ctx)
	}
	f := &fault{e.Fault(err), fmt.Errorf("%s: %w", doing, err)}
	switch f.Fault {
	case engine.Taken:
		return &leveling.Error{Kind: leveling.Exists, Reason: "EXISTS", Message: "There is one of these already.", Err: f}
	case engine.Again:
		return unavailable("STORE_BUSY", "Too many are writing at this moment; nothing was changed.", f)
	case engine.Down, engine.Lost:
		return unavailable("STORE_DOWN", "The store cannot be reached at this moment; nothing was changed.", f)
	case engine.Full:
		return full(f)
	case engine.Damaged:
		return damaged(f)
	default:
		return f
	}
}

// faultOf is what the database said, if it is in err's chain.
func faultOf(err error) engine.Fault {
	if f, ok := errors.AsType[*fault](err); ok {
		return f.Fault
	}
	return engine.Other
}
