package api

import (
	"context"
	"strings"

	pb "rowdatum/proto/gen/rowdatum/v1"
	"rowdatum/server/internal/flow"
	"rowdatum/server/leveling"
)

// refusalVoice is how a refused call's reader is spoken to: in the call's language, and in the unit that the request
// names, or else that of the job, planter or fixture it is about. Where none is known, lengths are said as the request
// has them.
func (g *gate) refusalVoice(ctx context.Context, key flow.Key, req any) leveling.Voice {
	v := leveling.Voice{Language: languageOf(ctx)}
	if unit := unitOf[namedUnit(req)]; unit != "" {
		return leveling.VoiceFor(v.Language, unit, leveling.DefaultFixture())
	}
	if r, ok := req.(interface{ GetFixture() *pb.Fixture }); ok && r.GetFixture().GetResolutionMm() > 0 {
		return fixtureVoice(v.Language, leveling.Fixture{ResolutionMm: r.GetFixture().GetResolutionMm()})
	}
	if isShare(key) {
		return v
	}
	if known, err := g.voiceOf(ctx, flow.Caller{Shop: key.Shop}, requestedName(req), v.Language); err == nil {
		return known
	}
	return v
}

// voiceOf is how a kept thing is spoken of: planters/P, planters/P/jobs/J, planters/P/digs/D or fixtures/F.
func (g *gate) voiceOf(ctx context.Context, who flow.Caller, name string, l leveling.Language) (leveling.Voice, error) {
	of := strings.Split(name, "/")
	switch {
	case len(of) == 2 && of[0] == "fixtures":
		x, err := g.flow.Fixture(ctx, who, of[1])
		return fixtureVoice(l, x.Figures), err
	case len(of) == 4 && of[0] == "planters" && of[2] == "jobs":
		return g.flow.VoiceOf(ctx, who, of[1], of[3], l)
	case len(of) >= 2 && of[0] == "planters":
		return g.flow.VoiceOf(ctx, who, of[1], "", l)
	}
	return leveling.Voice{Language: l}, nil
}

// fixtureVoice speaks in the unit that a fixture is ruled in.
func fixtureVoice(l leveling.Language, f leveling.Fixture) leveling.Voice {
	return leveling.VoiceFor(l, f.LengthUnit(), f)
}

// namedUnit is the unit of length that a request names, itself or in what it is to make.
func namedUnit(req any) pb.LengthUnit {
	switch r := req.(type) {
	case interface{ GetLengthUnit() pb.LengthUnit }:
		return r.GetLengthUnit()
	case interface{ GetPlanter() *pb.Planter }:
		return r.GetPlanter().GetLengthUnit()
	case interface{ GetJob() *pb.Job }:
		return r.GetJob().GetLengthUnit()
	}
	return pb.LengthUnit_LENGTH_UNIT_UNSPECIFIED
}
