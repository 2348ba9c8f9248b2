package main

import (
	"context"
	"fmt"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"google.golang.org/grpc"
	"google.golang.org/grpc/codes"
	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/reflect/protoreflect"
	"google.golang.org/protobuf/reflect/protoregistry"

	pb "rowdatum/proto/gen/rowdatum/v1"
	"rowdatum/server/internal/flow"
	"rowdatum/server/internal/store"
)

// What shop A has.
const (
	aPlanter = "planters/north"
	aFixture = "fixtures/box"
	aJob     = aPlanter + "/jobs/spring"
	aDig     = aPlanter + "/digs/corner"
	aHook    = "hooks/ledger"
)

// outcome is what another shop's key gets.
type outcome int

const (
	notFound  outcome = iota // the resource is not there
	empty                    // a list without entries
	ownShop                  // it concerns the caller's own shop, or none: allowed, and nothing of A's is in it
	refused                  // it opens a door by a secret, and the secret is wrong
	notPaired                // it ends the caller's own key, and that was not made by pairing
)

// trespass is one method, called with shop B's key on what is shop A's.
type trespass struct {
	req  proto.Message
	want outcome
}

// trespasses has an entry for every method of the contract. A new method without one fails the test.
var trespasses = map[protoreflect.FullName]trespass{
	"rowdatum.v1.AccessService.GetSession":       {&pb.GetSessionRequest{}, ownShop},
	"rowdatum.v1.AccessService.EndSession":       {&pb.EndSessionRequest{}, notPaired},
	"rowdatum.v1.AccessService.CreatePairing":    {&pb.CreatePairingRequest{Role: pb.Role_READER, Label: "phone"}, ownShop},
	"rowdatum.v1.AccessService.RedeemPairing":    {&pb.RedeemPairingRequest{Code: "ABCDEFGHIJKL"}, refused},
	"rowdatum.v1.AccessService.CreateShare":      {&pb.CreateShareRequest{Job: aJob}, notFound},
	"rowdatum.v1.AccessService.ListAuditEntries": {&pb.ListAuditEntriesRequest{}, ownShop},

	"rowdatum.v1.DigService.CreateDig":    {&pb.CreateDigRequest{Parent: aPlanter, Dig: someDig(), DigId: "theft"}, notFound},
	"rowdatum.v1.DigService.GetDig":       {&pb.GetDigRequest{Name: aDig}, notFound},
	"rowdatum.v1.DigService.ListDigs":     {&pb.ListDigsRequest{Parent: aPlanter}, notFound},
	"rowdatum.v1.DigService.AnalyzeDig":   {&pb.AnalyzeDigRequest{Name: aDig}, notFound},
	"rowdatum.v1.DigService.AnalyzeSeeds": {&pb.AnalyzeSeedsRequest{Rows: someDig().Rows}, ownShop},

	"rowdatum.v1.FieldService.GetFieldMove":     {&pb.GetFieldMoveRequest{Name: aPlanter, DeltaMm: new(6.35)}, notFound},
	"rowdatum.v1.FieldService.ComputeFieldMove": {fieldMoveOf(handles(2), 6.35), ownShop},
	"rowdatum.v1.FieldService.GetIndexCard":     {&pb.GetIndexCardRequest{Name: aPlanter}, notFound},

	"rowdatum.v1.WearService.GetWear": {&pb.GetWearRequest{Name: aPlanter}, notFound},

	"rowdatum.v1.HookService.CreateHook": {&pb.CreateHookRequest{HookId: "books",
		Hook: &pb.Hook{Url: "https://shop.example/hooks", Events: []pb.HookEvent{pb.HookEvent_JOB_SIGNED}}}, ownShop},
	"rowdatum.v1.HookService.GetHook":          {&pb.GetHookRequest{Name: aHook}, notFound},
	"rowdatum.v1.HookService.ListHooks":        {&pb.ListHooksRequest{}, empty},
	"rowdatum.v1.HookService.UpdateHook":       {&pb.UpdateHookRequest{Hook: &pb.Hook{Name: aHook, Paused: true}}, notFound},
	"rowdatum.v1.HookService.DeleteHook":       {&pb.DeleteHookRequest{Name: aHook}, notFound},
	"rowdatum.v1.HookService.RotateHookSecret": {&pb.RotateHookSecretRequest{Name: aHook}, notFound},
	"rowdatum.v1.HookService.ListDeliveries":   {&pb.ListDeliveriesRequest{Parent: aHook}, notFound},
	"rowdatum.v1.HookService.ResendDelivery":   {&pb.ResendDeliveryRequest{Name: aHook + "/deliveries/d"}, notFound},
	"rowdatum.v1.ChangeService.ListChanges":    {&pb.ListChangesRequest{}, ownShop},

	"rowdatum.v1.FixtureService.StudyFixture":  {&pb.StudyFixtureRequest{Name: aFixture, Readings: someStudy(), Apply: true, Etag: `"1"`}, notFound},
	"rowdatum.v1.FixtureService.CreateFixture": {&pb.CreateFixtureRequest{Fixture: box(), FixtureId: "box"}, ownShop},
	"rowdatum.v1.FixtureService.GetFixture":    {&pb.GetFixtureRequest{Name: aFixture}, notFound},
	"rowdatum.v1.FixtureService.ListFixtures":  {&pb.ListFixturesRequest{}, empty},
	"rowdatum.v1.FixtureService.UpdateFixture": {&pb.UpdateFixtureRequest{Fixture: &pb.Fixture{Name: aFixture, DisplayName: "other", Etag: `"1"`}}, notFound},
	"rowdatum.v1.FixtureService.DeleteFixture": {&pb.DeleteFixtureRequest{Name: aFixture}, notFound},

	"rowdatum.v1.PlanService.ComputePlan": {&pb.ComputePlanRequest{Mechanisms: handles(1).Mechanisms,
		Rows: []*pb.RowReadings{{Row: 1, Mechanism: "handle", ReadingsMm: []float64{50}}}}, ownShop},
	"rowdatum.v1.StyleService.GetStyle":   {&pb.GetStyleRequest{Name: "styles/notched-stop"}, ownShop},
	"rowdatum.v1.StyleService.ListStyles": {&pb.ListStylesRequest{}, ownShop},

	"rowdatum.v1.PlanterService.CreatePlanter": {&pb.CreatePlanterRequest{Planter: handles(2), PlanterId: "north"}, ownShop},
	"rowdatum.v1.PlanterService.GetPlanter":    {&pb.GetPlanterRequest{Name: aPlanter}, notFound},
	"rowdatum.v1.PlanterService.ListPlanters":  {&pb.ListPlantersRequest{}, empty},
	"rowdatum.v1.PlanterService.UpdatePlanter": {&pb.UpdatePlanterRequest{Planter: &pb.Planter{Name: aPlanter, Owner: "other", Etag: `"1"`}}, notFound},
	"rowdatum.v1.PlanterService.DeletePlanter": {&pb.DeletePlanterRequest{Name: aPlanter}, notFound},

	"rowdatum.v1.JobService.CreateJob":     {&pb.CreateJobRequest{Parent: aPlanter, Job: &pb.Job{}, JobId: "theft"}, notFound},
	"rowdatum.v1.JobService.GetJob":        {&pb.GetJobRequest{Name: aJob}, notFound},
	"rowdatum.v1.JobService.ListJobs":      {&pb.ListJobsRequest{Parent: "planters/-"}, empty},
	"rowdatum.v1.JobService.ListJobEvents": {&pb.ListJobEventsRequest{Parent: aJob}, notFound},
	"rowdatum.v1.JobService.AddReadings":   {&pb.AddReadingsRequest{Name: aJob, Readings: inMM(1, 0, 50)}, notFound},
	"rowdatum.v1.JobService.AddMoves": {&pb.AddMovesRequest{Name: aJob,
		Moves: []*pb.MoveDone{{Row: 1, SettingBefore: turns(8), Count: with(1.0)}}}, notFound},
	"rowdatum.v1.JobService.ChangeParts": {&pb.ChangePartsRequest{Name: aJob, PartChanges: []*pb.PartChange{{Row: 1, Part: "arm"}}}, notFound},
	"rowdatum.v1.JobService.AddInspections": {&pb.AddInspectionsRequest{Name: aJob,
		Inspections: []*pb.Inspection{{Row: 1, Point: "handle-play", Value: with(1.0)}}}, notFound},
	"rowdatum.v1.JobService.AddNotes":     {&pb.AddNotesRequest{Name: aJob, Notes: []*pb.Note{{Text: "was here"}}}, notFound},
	"rowdatum.v1.JobService.StrikeEvents": {&pb.StrikeEventsRequest{Name: aJob, Strikes: []*pb.Strike{{Revision: 2}}}, notFound},
	"rowdatum.v1.JobService.TickCautions": {&pb.TickCautionsRequest{Name: aJob, Ticks: []*pb.CautionTick{{Caution: "park"}}, Person: ben}, notFound},
	"rowdatum.v1.JobService.PlanJob":      {&pb.PlanJobRequest{Name: aJob, Etag: `"2"`, Aim: &pb.Aim{ToleranceMm: with(3.0)}}, notFound},
	"rowdatum.v1.JobService.SignJob":      {&pb.SignJobRequest{Name: aJob, Etag: `"2"`, Person: ben}, notFound},
	"rowdatum.v1.JobService.VoidJob":      {&pb.VoidJobRequest{Name: aJob, Reason: "gone"}, notFound},
	"rowdatum.v1.JobService.GetJobSheet":  {&pb.GetJobSheetRequest{Name: aJob}, notFound},
	"rowdatum.v1.JobService.WatchJob":     {&pb.WatchJobRequest{Name: aJob}, notFound},
}

func box() *pb.Fixture { return &pb.Fixture{DisplayName: "Box", Kind: pb.Fixture_WINDOW} }

// everyMethod calls do with every method of the contract.
func everyMethod(do func(protoreflect.MethodDescriptor)) {
	protoregistry.GlobalFiles.RangeFilesByPackage("rowdatum.v1", func(file protoreflect.FileDescriptor) bool {
		for i := range file.Services().Len() {
			methods := file.Services().Get(i).Methods()
			for j := range methods.Len() {
				do(methods.Get(j))
			}
		}
		return true
	})
}

// guarded starts a service that asks everybody for a key, with an owner's key for each shop.
func guarded(t *testing.T, shops ...string) (at addresses, secrets []string) {
	t.Helper()
	dir := t.TempDir()
	f := &flags{GRPC: "127.0.0.1:0", HTTP: "127.0.0.1:0", Store: filepath.Join(dir, "rowdatum.db"), Adjusters: bundle(), AddrFile: filepath.Join(dir, "addr"),
		RequireKeys: true, CallsPerSecond: 1e6, CallBurst: 1e6}
	kept := must[*store.Store](t)(store.Open(t.Context(), f.Store, nil))
	keys := &flow.Flow{Store: kept, Now: now}
	for _, shop := range shops {
		secret, _, err := keys.AddKey(t.Context(), shop, flow.Owner, "key of "+shop, 0)
		if err != nil {
			t.Fatal(err)
		}
		secrets = append(secrets, secret)
	}
	if err := kept.Close(); err != nil {
		t.Fatal(err)
	}
	return startWith(t, f).addresses, secrets
}

// onlyA is in every text that shop A writes; no answer to anybody else has it.
const onlyA = "Marrowbend"

// TestShopsAreIsolated calls every method of the contract with another shop's key on what is shop A's:
// while that shop has nothing, and again on A's job and dig once it has a planter and a fixture of the same names.
// Nothing of A's is told or changed.
func TestShopsAreIsolated(t *testing.T) {
	t.Parallel()
	everyMethod(func(m protoreflect.MethodDescriptor) {
		if _, ok := trespasses[m.FullName()]; !ok {
			t.Errorf("%s has no entry: say what another shop's key gets", m.FullName())
		}
	})
	at, secrets := guarded(t, "shop-a", "shop-b", "shop-c")
	ways := waysTo(t, at)
	a := ways[0].as(secrets[0])
	furnish(t, a)
	before := everything(t, a)
	for i, w := range ways {
		t.Run(w.name, func(t *testing.T) {
			stranger := w.as(secrets[1+i])
			had := everything(t, stranger)
			trespassing(t, stranger, func(e trespass) bool { return e.want != ownShop })
			unchanged(t, "the stranger's shop", had, everything(t, stranger))
			trespassing(t, stranger, func(e trespass) bool { return e.want == ownShop })

			must[*pb.Job](t)(stranger.jobs().CreateJob(t.Context(), &pb.CreateJobRequest{Parent: aPlanter, Job: &pb.Job{Fixture: aFixture}, JobId: "autumn"}))
			had = everything(t, stranger)
			trespassing(t, stranger, func(e trespass) bool { return e.want == notFound && namesBelow(e.req) })
			unchanged(t, "the stranger's shop", had, everything(t, stranger))
			unchanged(t, "shop A", before, everything(t, a))
		})
	}
}

// trespassing makes every call whose entry is wanted.
func trespassing(t *testing.T, w way, wanted func(trespass) bool) {
	t.Helper()
	everyMethod(func(m protoreflect.MethodDescriptor) {
		if e := trespasses[m.FullName()]; wanted(e) {
			answer, err := call(t.Context(), w, m, e.req)
			e.check(t, string(m.Name()), answer, err)
		}
	})
}

// call calls any method; of a stream it returns the first message.
func call(ctx context.Context, w way, m protoreflect.MethodDescriptor, req proto.Message) (proto.Message, error) {
	kind, err := protoregistry.GlobalTypes.FindMessageByName(m.Output().FullName())
	if err != nil {
		return nil, err
	}
	answer := kind.New().Interface()
	method := "/" + string(m.Parent().FullName()) + "/" + string(m.Name())
	if !m.IsStreamingServer() {
		return answer, w.conn.Invoke(ctx, method, req, answer)
	}
	ctx, cancel := context.WithCancel(ctx)
	defer cancel()
	stream, err := w.conn.NewStream(ctx, &grpc.StreamDesc{ServerStreams: true}, method)
	if err != nil {
		return nil, err
	}
	if err := stream.SendMsg(req); err != nil {
		return nil, err
	}
	return answer, stream.RecvMsg(answer)
}

func (e trespass) check(t *testing.T, method string, answer proto.Message, err error) {
	t.Helper()
	want := map[outcome]codes.Code{notFound: codes.NotFound, refused: codes.Unauthenticated, notPaired: codes.PermissionDenied}[e.want]
	if code, _ := reasonOf(err); code != want {
		t.Errorf("%s: %v, want %v: %v", method, code, want, err)
	}
	if said := fmt.Sprint(answer, err); strings.Contains(said, onlyA) || strings.Contains(said, "shop-a") {
		t.Errorf("%s tells of shop A: %s", method, said)
	}
	if e.want == empty && proto.Size(answer) > 0 {
		t.Errorf("%s: %v, want an empty list", method, answer)
	}
}

// namesBelow says whether a request names what stands below shop A's planter.
func namesBelow(req proto.Message) bool {
	found := false
	req.ProtoReflect().Range(func(_ protoreflect.FieldDescriptor, v protoreflect.Value) bool {
		name, ok := v.Interface().(string)
		found = found || ok && (name == aJob || name == aDig)
		return true
	})
	return found
}

// furnish gives shop A what others are to find nothing of.
func furnish(t *testing.T, a way) {
	t.Helper()
	ctx := t.Context()
	p, x := handles(2), box()
	p.Owner, x.DisplayName = onlyA, onlyA
	must[*pb.Planter](t)(a.planters().CreatePlanter(ctx, &pb.CreatePlanterRequest{Planter: p, PlanterId: "north"}))
	must[*pb.Fixture](t)(a.fixtures().CreateFixture(ctx, &pb.CreateFixtureRequest{Fixture: x, FixtureId: "box"}))
	d := someDig()
	d.Title = onlyA
	must[*pb.Dig](t)(a.digs().CreateDig(ctx, &pb.CreateDigRequest{Parent: aPlanter, Dig: d, DigId: "corner"}))
	must[*pb.Hook](t)(pb.NewHookServiceClient(a.conn).CreateHook(ctx, &pb.CreateHookRequest{HookId: "ledger",
		Hook: &pb.Hook{Url: "https://shop.example/" + onlyA, Events: []pb.HookEvent{pb.HookEvent_JOB_SIGNED}}}))
	must[*pb.Job](t)(a.jobs().CreateJob(ctx, &pb.CreateJobRequest{Parent: aPlanter, Job: &pb.Job{Fixture: aFixture, WorkOrder: onlyA}, JobId: "spring", Person: onlyA}))
	must[*pb.AppendResponse](t)(a.jobs().AddNotes(ctx, &pb.AddNotesRequest{Name: aJob, Notes: []*pb.Note{{Text: onlyA}}, Person: onlyA}))
}

// everything is all that a shop's owner can read.
func everything(t *testing.T, w way) []proto.Message {
	t.Helper()
	ctx := t.Context()
	jobs := must[*pb.ListJobsResponse](t)(w.jobs().ListJobs(ctx, &pb.ListJobsRequest{Parent: "planters/-"}))
	planters := must[*pb.ListPlantersResponse](t)(w.planters().ListPlanters(ctx, &pb.ListPlantersRequest{}))
	out := []proto.Message{jobs, planters,
		must[*pb.ListFixturesResponse](t)(w.fixtures().ListFixtures(ctx, &pb.ListFixturesRequest{})),
		must[*pb.ListAuditEntriesResponse](t)(w.access().ListAuditEntries(ctx, &pb.ListAuditEntriesRequest{}))}
	for _, p := range planters.Planters {
		out = append(out, must[*pb.ListDigsResponse](t)(w.digs().ListDigs(ctx, &pb.ListDigsRequest{Parent: p.Name})))
	}
	for _, job := range jobs.Jobs {
		out = append(out, must[*pb.ListJobEventsResponse](t)(w.jobs().ListJobEvents(ctx, &pb.ListJobEventsRequest{Parent: job.Name})))
	}
	return out
}

func unchanged(t *testing.T, whose string, before, after []proto.Message) {
	t.Helper()
	if !slices.EqualFunc(before, after, proto.Equal) {
		t.Errorf("%s had\n%v\nand has\n%v", whose, before, after)
	}
}
