package api

import (
	"context"
	"encoding/base64"
	"strconv"

	pb "rowdatum/proto/gen/rowdatum/v1"
	"rowdatum/server/internal/flow"
	"rowdatum/server/leveling"
)

// Changes serves rowdatum.v1.ChangeService.
type Changes struct {
	pb.UnimplementedChangeServiceServer
	Flow *flow.Flow
}

const changesScope = "changes"

// changeKind has a kind for each of flow.ChangeMethods.
var changeKind = map[string]pb.Change_Kind{
	"CreateJob": pb.Change_JOB_OPENED, "PlanJob": pb.Change_JOB_PLANNED, "SignJob": pb.Change_JOB_SIGNED, "VoidJob": pb.Change_JOB_VOIDED,
	"CreatePlanter": pb.Change_PLANTER_CREATED, "UpdatePlanter": pb.Change_PLANTER_UPDATED, "DeletePlanter": pb.Change_PLANTER_DELETED,
}

// ListChanges implements ChangeService.
func (s *Changes) ListChanges(ctx context.Context, req *pb.ListChangesRequest) (*pb.ListChangesResponse, error) {
	var v leveling.Violations
	after, limit := readCursor(req.GetCursor(), &v), manyToAPage.size(req.GetPageSize(), &v)
	if err := v.Err(); err != nil {
		return nil, err
	}
	changes, more, err := s.Flow.Changes(ctx, callerOf(ctx), after, limit)
	if err != nil {
		return nil, err
	}
	out := &pb.ListChangesResponse{Cursor: req.GetCursor(), More: more, Changes: each(changes, func(e flow.AuditEntry) *pb.Change {
		return &pb.Change{Kind: changeKind[e.Method], Resource: e.Resource, CreateTime: timeProto(e.Time)}
	})}
	if len(changes) > 0 {
		out.Cursor = cursor(changes[len(changes)-1].Serial)
	}
	return out, nil
}

func cursor(serial int64) string {
	return base64.RawURLEncoding.EncodeToString([]byte(scopeHash(changesScope) + strconv.FormatInt(serial, 10)))
}

// readCursor is the serial of a cursor; 0 for an empty one.
func readCursor(text string, v *leveling.Violations) int64 {
	if text == "" {
		return 0
	}
	digits, ok := readToken(text, changesScope)
	serial, err := strconv.ParseInt(digits, 10, 64)
	if !ok || err != nil {
		v.Add("cursor", "is not a cursor of this list; pass cursor as it was given")
	}
	return serial
}
