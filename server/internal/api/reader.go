package api

import (
	"context"
	"strings"

	pb "rowdatum/proto/gen/rowdatum/v1"
	"rowdatum/server/internal/flow"
	"rowdatum/server/leveling"
)

// refusalVoice is how a refused call's reader is spoken to: in the call's language, and in the unit that the request
// names, or else that of the job or planter it is about. Where neither is known, lengths are said as the request has them.
func (g *gate) refusalVoice(ctx context.Context, key flow.Key, req any) leveling.Voice {
	v := leveling.Voice{Language: languageOf(ctx)}
	if unit := unitOf[namedUnit(req)]; unit != "" {
		return leveling.VoiceFor(v.Language, unit, leveling.DefaultFixture())
	}
	name, found := strings.CutPrefix(namedResource(req), planterPrefix)
	if !found || isShare(key) {
		return v
	}
	planter, rest, _ := strings.Cut(name, "/")
	job, _ := strings.CutPrefix(rest, "jobs/")
	if strings.Contains(job, "/") { // a dig of it
		job = ""
	}
	if known, err := g.flow.VoiceOf(ctx, flow.Caller{Shop: key.Shop}, planter, job, v.Language); err == nil {
		return known
	}
	return v
}

// namedUnit is the unit of length that a request names, itself or in what it is to make.
func namedUnit(req any) pb.LengthUnit {
	unit := pb.LengthUnit_LENGTH_UNIT_UNSPECIFIED
	switch r := req.(type) {
	case interface{ GetLengthUnit() pb.LengthUnit }:
		unit = r.GetLengthUnit()
	case interface{ GetPlanter() *pb.Planter }:
		unit = r.GetPlanter().GetLengthUnit()
	case interface{ GetJob() *pb.Job }:
		unit = r.GetJob().GetLengthUnit()
	}
	return unit
}

// namedResource is the name of what a request is about.
func namedResource(req any) string {
	switch r := req.(type) {
	case interface{ GetPlanter() *pb.Planter }:
		return r.GetPlanter().GetName()
	case interface{ GetName() string }:
		return r.GetName()
	case interface{ GetParent() string }:
		return r.GetParent()
	case interface{ GetPlanter() string }:
		return r.GetPlanter()
	}
	return ""
}
