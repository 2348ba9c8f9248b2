package flow

import "context"

// ChangeMethods are the methods whose entries in the trail are changes that a shop's software follows. The
// store finds them by an index of its own: one more here is one more migration there.
var ChangeMethods = []string{"CreateJob", "PlanJob", "SignJob", "VoidJob", "CreatePlanter", "UpdatePlanter", "DeletePlanter"}

// Changes returns what was changed after a serial of the trail, in the order in which it was written.
func (f *Flow) Changes(ctx context.Context, who Caller, after int64, limit int) (page []AuditEntry, more bool, err error) {
	return paged(ctx, f, Query{Limit: limit}, func(view View, q Query) ([]AuditEntry, error) {
		return view.Changes(who.Shop, after, q.Limit)
	})
}
