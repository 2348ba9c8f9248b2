package api

import (
	"context"
	"fmt"

	"google.golang.org/protobuf/types/known/emptypb"

	pb "rowdatum/proto/gen/rowdatum/v1"
	"rowdatum/server/internal/flow"
	"rowdatum/server/leveling"
	"rowdatum/server/leveling/study"
)

// Fixtures serves rowdatum.v1.FixtureService.
type Fixtures struct {
	pb.UnimplementedFixtureServiceServer
	Flow *flow.Flow
}

const (
	fixturePrefix = "fixtures/"
	fixturesScope = "fixtures"
)

// CreateFixture implements FixtureService.
func (s *Fixtures) CreateFixture(ctx context.Context, req *pb.CreateFixtureRequest) (*pb.Fixture, error) {
	x, err := fixtureOf(req.GetFixture())
	if err != nil {
		return nil, err
	}
	x, err = s.Flow.CreateFixture(ctx, callerOf(ctx), requestOf(ctx, req.GetRequestId(), req), req.GetFixtureId(), x)
	if err != nil {
		return nil, err
	}
	return fixtureProto(x), nil
}

// GetFixture implements FixtureService.
func (s *Fixtures) GetFixture(ctx context.Context, req *pb.GetFixtureRequest) (*pb.Fixture, error) {
	ids, err := parseName("name", req.GetName(), fixturePattern)
	if err != nil {
		return nil, err
	}
	x, err := s.Flow.Fixture(ctx, callerOf(ctx), ids[0])
	if err != nil {
		return nil, err
	}
	return fixtureProto(x), nil
}

// ListFixtures implements FixtureService.
func (s *Fixtures) ListFixtures(ctx context.Context, req *pb.ListFixturesRequest) (*pb.ListFixturesResponse, error) {
	q, err := page(req, fewToAPage, fixturesScope, "displayName", "kind")
	if err != nil {
		return nil, err
	}
	kinds := map[string]leveling.FixtureKind{}
	for _, kind := range []leveling.FixtureKind{leveling.Window, leveling.Blocks, leveling.PointerPlate} {
		kinds[kind.String()] = kind
	}
	if err := words(q, "kind", kinds); err != nil {
		return nil, err
	}
	fixtures, more, err := s.Flow.Fixtures(ctx, callerOf(ctx), q)
	if err != nil {
		return nil, err
	}
	out := &pb.ListFixturesResponse{}
	for _, x := range fixtures {
		out.Fixtures = append(out.Fixtures, fixtureProto(x))
	}
	if more {
		out.NextPageToken = nextToken(req, fixturesScope, fixtures[len(fixtures)-1].ID)
	}
	return out, nil
}

// UpdateFixture implements FixtureService.
func (s *Fixtures) UpdateFixture(ctx context.Context, req *pb.UpdateFixtureRequest) (*pb.Fixture, error) {
	ids, err := parseName("fixture.name", req.GetFixture().GetName(), fixturePattern)
	if err != nil {
		return nil, err
	}
	change := func(present leveling.ShopFixture) (leveling.ShopFixture, error) {
		whole := fixtureProto(present)
		if err := merge(whole, req.GetFixture(), req.GetUpdateMask(), "name", "etag", "create_time", "update_time"); err != nil {
			return leveling.ShopFixture{}, err
		}
		return fixtureOf(whole)
	}
	x, err := s.Flow.UpdateFixture(ctx, callerOf(ctx), requestOf(ctx, req.GetRequestId(), req), ids[0], req.GetFixture().GetEtag(), change)
	if err != nil {
		return nil, err
	}
	return fixtureProto(x), nil
}

// DeleteFixture implements FixtureService.
func (s *Fixtures) DeleteFixture(ctx context.Context, req *pb.DeleteFixtureRequest) (*emptypb.Empty, error) {
	ids, err := parseName("name", req.GetName(), fixturePattern)
	if err != nil {
		return nil, err
	}
	if err := s.Flow.DeleteFixture(ctx, callerOf(ctx), requestOf(ctx, req.GetRequestId(), req), ids[0], req.GetEtag()); err != nil {
		return nil, err
	}
	return &emptypb.Empty{}, nil
}

// fixtureOf reads what a caller may set of a fixture; figures left out take the kind's defaults.
func fixtureOf(x *pb.Fixture) (leveling.ShopFixture, error) {
	var v leveling.Violations
	out := leveling.ShopFixture{DisplayName: x.GetDisplayName(), Kind: leveling.FixtureKind(x.GetKind())}
	switch _, known := pb.Fixture_Kind_name[int32(x.GetKind())]; {
	case x.GetKind() == pb.Fixture_KIND_UNSPECIFIED:
		v.Add("fixture.kind", "is missing, must be WINDOW, BLOCKS or POINTER_PLATE")
	case !known:
		v.Add("fixture.kind", "is %d, must be WINDOW, BLOCKS or POINTER_PLATE", x.GetKind())
	}
	out.Figures = leveling.DefaultsOf(out.Kind)
	if x != nil {
		set(&out.Figures.ResolutionMm, x.ResolutionMm)
		set(&out.Figures.RepeatabilityMm, x.RepeatabilityMm)
		set(&out.Figures.FloorMm, x.FloorMm)
		set(&out.ZeroMm, x.ZeroMm)
		out.ReproducibilityMm = x.ReproducibilityMm
	}
	return out, v.Err()
}

func fixtureProto(x leveling.ShopFixture) *pb.Fixture {
	return &pb.Fixture{Name: fixturePrefix + x.ID, DisplayName: x.DisplayName, Kind: pb.Fixture_Kind(x.Kind),
		ResolutionMm: &x.Figures.ResolutionMm, RepeatabilityMm: &x.Figures.RepeatabilityMm, FloorMm: &x.Figures.FloorMm, ZeroMm: &x.ZeroMm, ReproducibilityMm: x.ReproducibilityMm,
		Etag: flow.Etag(x.Revision), CreateTime: timeProto(x.CreateTime), UpdateTime: timeProto(x.UpdateTime)}
}

// StudyFixture implements FixtureService.
func (s *Fixtures) StudyFixture(ctx context.Context, req *pb.StudyFixtureRequest) (*pb.FixtureStudy, error) {
	ids, err := parseName("name", req.GetName(), fixturePattern)
	if err != nil {
		return nil, err
	}
	aim := leveling.DefaultAim()
	ask := flow.StudyRequest{ToleranceMm: aim.ToleranceMm, Confidence: aim.Confidence, Apply: req.GetApply(), Etag: req.GetEtag(),
		Language: languageOf(ctx)}
	var v leveling.Violations
	ask.LengthUnit = lengthUnit("lengthUnit", req.GetLengthUnit(), &v)
	for i, r := range req.GetReadings() {
		ask.Readings = append(ask.Readings, study.Reading{Row: int(r.GetRow()), Person: r.GetPerson(),
			ValueMm: given(fmt.Sprintf("readings[%d].valueMm", i), r.ValueMm, &v)})
	}
	if err := v.Err(); err != nil {
		return nil, err
	}
	set(&ask.ToleranceMm, req.ToleranceMm)
	set(&ask.Confidence, req.Confidence)
	a, err := s.Flow.StudyFixture(ctx, callerOf(ctx), requestOf(ctx, req.GetRequestId(), req), ids[0], ask)
	if err != nil {
		return nil, err
	}
	out := &pb.FixtureStudy{LengthUnit: lengthUnitProto(a.LengthUnit), Method: a.Method, RepeatabilityMm: *rounded(a.RepeatabilityMm), DegreesOfFreedom: a.Degrees, ReproducibilityMm: *rounded(a.ReproducibilityMm),
		RowToRowMm: *rounded(a.RowToRowMm), ScatterMm: *rounded(a.ScatterMm), ReadingsNeeded: int32(a.ReadingsNeeded), Verdict: a.Verdict, Cautions: a.Cautions,
		Provable: each(a.Provable, func(p study.Provable) *pb.ProvableTolerance {
			return &pb.ProvableTolerance{Readings: int32(p.Readings), ToleranceMm: *rounded(p.ToleranceMm), SeveralPeopleMm: roundedOr(p.SeveralMm)}
		})}
	if ask.Apply {
		out.Fixture = fixtureProto(a.Fixture)
	}
	return out, nil
}
