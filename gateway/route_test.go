package gateway

import (
	"context"
	"encoding/json"
	"net/http"
	"net/http/httptest"
	"regexp"
	"slices"
	"strings"
	"testing"

	"google.golang.org/grpc"
	"google.golang.org/grpc/codes"
	"google.golang.org/protobuf/encoding/protojson"
	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/reflect/protoreflect"
	"google.golang.org/protobuf/reflect/protoregistry"
	"google.golang.org/protobuf/types/known/fieldmaskpb"

	pb "rowdatum/proto/gen/rowdatum/v1"
	"rowdatum/proto/httprules"
)

// bound is what a pattern says of one field: {name=planters/*}.
var bound = regexp.MustCompile(`\{([a-z_.]+)=([^}]*)\}`)

// TestEveryMethodIsServed asks for every method of the contract by its own address, and wants the service
// to be called with what the address says. A service that nobody registered is a 404 here.
func TestEveryMethodIsServed(t *testing.T) {
	f := &fakeService{}
	front := serve(t, f, Options{})
	count := 0
	protoregistry.GlobalFiles.RangeFilesByPackage("rowdatum.v1", func(file protoreflect.FileDescriptor) bool {
		for i := range file.Services().Len() {
			service := file.Services().Get(i)
			for j := range service.Methods().Len() {
				m := service.Methods().Get(j)
				rules, err := httprules.Read(m)
				if len(rules) == 0 || err != nil {
					t.Errorf("%s has no rule (%v)", m.FullName(), err)
				}
				for _, rule := range rules {
					count++
					params := map[string]string{}
					for field, pattern := range rule.PathFields() {
						params[field] = strings.ReplaceAll(pattern, "*", "some")
					}
					path, err := rule.Path(params)
					if err != nil {
						t.Error(err)
						continue
					}
					got := send(t, front, rule.Verb, path, "{}", "Content-Type", "application/json")
					if got.StatusCode/100 != 2 || f.method != rule.FullMethod() {
						t.Errorf("%s %s: %s %s, called %s", rule.Verb, path, got.Status, got.text, f.method)
						continue
					}
					for field, value := range params {
						if arrived := textAt(f.got, field); arrived != value {
							t.Errorf("%s %s: %s arrived as %q", rule.Verb, path, field, arrived)
						}
					}
				}
			}
		}
		return true
	})
	if count < 44 {
		t.Errorf("only %d routes", count)
	}
}

// textAt reads a text field by its dotted path.
func textAt(m proto.Message, path string) string {
	if path == "" {
		return ""
	}
	at := m.ProtoReflect()
	for {
		name, rest, more := strings.Cut(path, ".")
		fd := at.Descriptor().Fields().ByName(protoreflect.Name(name))
		if !more {
			return at.Get(fd).String()
		}
		at, path = at.Get(fd).Message(), rest
	}
}

// TestPromisedAddresses is the contract's table of resources, as far as it is built.
func TestPromisedAddresses(t *testing.T) {
	f := &fakeService{}
	front := serve(t, f, Options{})
	const planter, job = "/v1/planters/p", "/v1/planters/p/jobs/j"
	for _, c := range []struct{ method, path, called string }{
		{"GET", "/v1/styles", "StyleService/ListStyles"},
		{"GET", "/v1/styles/s", "StyleService/GetStyle"},
		{"POST", "/v1/plans:compute", "PlanService/ComputePlan"},
		{"POST", "/v1/planters", "PlanterService/CreatePlanter"},
		{"GET", "/v1/planters", "PlanterService/ListPlanters"},
		{"GET", planter, "PlanterService/GetPlanter"},
		{"PATCH", planter, "PlanterService/UpdatePlanter"},
		{"DELETE", planter, "PlanterService/DeletePlanter"},
		{"POST", "/v1/fixtures", "FixtureService/CreateFixture"},
		{"GET", "/v1/fixtures", "FixtureService/ListFixtures"},
		{"GET", "/v1/fixtures/f", "FixtureService/GetFixture"},
		{"PATCH", "/v1/fixtures/f", "FixtureService/UpdateFixture"},
		{"DELETE", "/v1/fixtures/f", "FixtureService/DeleteFixture"},
		{"POST", "/v1/fixtures/f:study", "FixtureService/StudyFixture"},
		{"GET", planter + ":fieldMove", "FieldService/GetFieldMove"},
		{"POST", "/v1/fieldMoves:compute", "FieldService/ComputeFieldMove"},
		{"GET", planter + ":indexCard", "FieldService/GetIndexCard"},
		{"GET", planter + ":wear", "WearService/GetWear"},
		{"POST", planter + "/digs", "DigService/CreateDig"},
		{"GET", planter + "/digs", "DigService/ListDigs"},
		{"GET", planter + "/digs/d", "DigService/GetDig"},
		{"GET", planter + "/digs/d:analyze", "DigService/AnalyzeDig"},
		{"POST", "/v1/digs:analyze", "DigService/AnalyzeSeeds"},
		{"POST", planter + "/jobs", "JobService/CreateJob"},
		{"GET", planter + "/jobs", "JobService/ListJobs"},
		{"GET", "/v1/planters/-/jobs", "JobService/ListJobs"},
		{"GET", job, "JobService/GetJob"},
		{"GET", job + "/events", "JobService/ListJobEvents"},
		{"POST", job + ":addReadings", "JobService/AddReadings"},
		{"POST", job + ":addMoves", "JobService/AddMoves"},
		{"POST", job + ":changeParts", "JobService/ChangeParts"},
		{"POST", job + ":addInspections", "JobService/AddInspections"},
		{"POST", job + ":addNotes", "JobService/AddNotes"},
		{"POST", job + ":strikeEvents", "JobService/StrikeEvents"},
		{"POST", job + ":tickCautions", "JobService/TickCautions"},
		{"POST", job + ":plan", "JobService/PlanJob"},
		{"POST", job + ":sign", "JobService/SignJob"},
		{"POST", job + ":void", "JobService/VoidJob"},
		{"GET", job + ":watch", "JobService/WatchJob"},
		{"GET", job + ":sheet", "JobService/GetJobSheet"},
		{"POST", job + ":share", "AccessService/CreateShare"},
		{"POST", "/v1/hooks", "HookService/CreateHook"},
		{"GET", "/v1/hooks", "HookService/ListHooks"},
		{"GET", "/v1/hooks/h", "HookService/GetHook"},
		{"PATCH", "/v1/hooks/h", "HookService/UpdateHook"},
		{"DELETE", "/v1/hooks/h", "HookService/DeleteHook"},
		{"POST", "/v1/hooks/h:rotateSecret", "HookService/RotateHookSecret"},
		{"GET", "/v1/hooks/h/deliveries", "HookService/ListDeliveries"},
		{"POST", "/v1/hooks/h/deliveries/d:resend", "HookService/ResendDelivery"},
		{"GET", "/v1/changes", "ChangeService/ListChanges"},
		{"GET", "/v1/session", "AccessService/GetSession"},
		{"POST", "/v1/session:end", "AccessService/EndSession"},
		{"POST", "/v1/pairings", "AccessService/CreatePairing"},
		{"POST", "/v1/pairings:redeem", "AccessService/RedeemPairing"},
		{"GET", "/v1/auditEntries", "AccessService/ListAuditEntries"},
	} {
		got := send(t, front, c.method, c.path, "{}", "Content-Type", "application/json")
		if got.StatusCode/100 != 2 || f.method != "/rowdatum.v1."+c.called {
			t.Errorf("%s %s: %s, called %s", c.method, c.path, got.Status, f.method)
		}
	}
}

// TestBodyIsAField has requests whose body is one field of them, the rest in the address and the query.
func TestBodyIsAField(t *testing.T) {
	f := &fakeService{}
	front := serve(t, f, Options{})
	for _, c := range []struct {
		method, path, body string
		want               proto.Message
	}{
		{"POST", "/v1/planters?planterId=creek&requestId=3f2b8c1e-9d64-4a57-8f20-1c5b7e9a0d43", `{"displayName":"Creek","externalIds":{"erp":"7"}}`,
			&pb.CreatePlanterRequest{PlanterId: "creek", RequestId: "3f2b8c1e-9d64-4a57-8f20-1c5b7e9a0d43",
				Planter: &pb.Planter{DisplayName: "Creek", ExternalIds: map[string]string{"erp": "7"}}}},
		{"POST", "/v1/planters/creek/jobs?jobId=spring&person=Ada", `{"workOrder":"17","verify":"WHEN_NEEDED"}`,
			&pb.CreateJobRequest{Parent: "planters/creek", JobId: "spring", Person: "Ada", Job: &pb.Job{WorkOrder: "17", Verify: pb.Job_WHEN_NEEDED}}},
		{"GET", "/v1/planters?pageSize=3&filter=owner%3D%22Ada%22%20AND%20externalIds.erp%3D%227%22", "",
			&pb.ListPlantersRequest{PageSize: 3, Filter: `owner="Ada" AND externalIds.erp="7"`}},
		{"DELETE", "/v1/planters/creek?etag=%227%22&request_id=x", "", &pb.DeletePlanterRequest{Name: "planters/creek", Etag: `"7"`, RequestId: "x"}},
		// A mask that is not said holds what the body gives, outermost fields, null and empty included.
		{"PATCH", "/v1/planters/creek", `{"etag":"\"7\"","owner":"","rowSpacingMm":null,"reach":{"deeperMm":30},"externalIds":{"erp":"8"}}`,
			&pb.UpdatePlanterRequest{Planter: &pb.Planter{Name: "planters/creek", Etag: `"7"`, Reach: &pb.Reach{DeeperMm: proto.Float64(30)}, ExternalIds: map[string]string{"erp": "8"}},
				UpdateMask: &fieldmaskpb.FieldMask{Paths: []string{"etag", "external_ids", "owner", "reach", "row_spacing_mm"}}}},
		{"PATCH", "/v1/planters/creek?updateMask=displayName,row_spacing_mm&requestId=x", `{"name":"planters/creek","displayName":"Brook","owner":"Ada"}`,
			&pb.UpdatePlanterRequest{Planter: &pb.Planter{Name: "planters/creek", DisplayName: "Brook", Owner: "Ada"}, RequestId: "x",
				UpdateMask: &fieldmaskpb.FieldMask{Paths: []string{"display_name", "row_spacing_mm"}}}},
		{"PATCH", "/v1/fixtures/f?update_mask=floorMm", `{"floorMm":0}`,
			&pb.UpdateFixtureRequest{Fixture: &pb.Fixture{Name: "fixtures/f", FloorMm: proto.Float64(0)}, UpdateMask: &fieldmaskpb.FieldMask{Paths: []string{"floor_mm"}}}},
		{"POST", "/v1/planters/creek/jobs/spring:addReadings", `{"name":"planters/creek/jobs/spring","readings":[{"row":1,"value":2.0625,"unit":"IN","side":"LEFT"}]}`,
			&pb.AddReadingsRequest{Name: "planters/creek/jobs/spring", Readings: []*pb.Reading{{Row: 1, Value: new(2.0625), Unit: pb.LengthUnit_IN, Side: pb.Side_LEFT}}}},
		{"GET", "/v1/planters/creek:fieldMove?deltaMm=-6.35", "", &pb.GetFieldMoveRequest{Name: "planters/creek", DeltaMm: new(-6.35)}},
		{"POST", "/v1/planters/creek/digs?digId=field-1&requestId=x", `{"title":"Low corner","pasted":{"text":"1 1 7/8\n","unit":"IN"},"targetMm":45}`,
			&pb.CreateDigRequest{Parent: "planters/creek", DigId: "field-1", RequestId: "x",
				Dig: &pb.Dig{Title: "Low corner", Pasted: &pb.PastedSeeds{Text: "1 1 7/8\n", Unit: pb.LengthUnit_IN}, TargetMm: proto.Float64(45)}}},
		{"GET", "/v1/planters/creek/digs/field-1:analyze?aim.withinMm=5&aim.daily_degree_days=8", "",
			&pb.AnalyzeDigRequest{Name: "planters/creek/digs/field-1", Aim: &pb.DigAim{WithinMm: proto.Float64(5), DailyDegreeDays: proto.Float64(8)}}},
		{"GET", "/v1/planters/creek:wear?confidence=0.8", "", &pb.GetWearRequest{Name: "planters/creek", Confidence: proto.Float64(0.8)}},
		{"GET", "/v1/planters/creek/jobs/spring:sheet?format=PDF&paper=LETTER", "",
			&pb.GetJobSheetRequest{Name: "planters/creek/jobs/spring", Format: pb.GetJobSheetRequest_PDF, Paper: pb.GetJobSheetRequest_LETTER}},
	} {
		got := send(t, front, c.method, c.path, c.body, "Content-Type", "application/json")
		if got.StatusCode != 200 || !proto.Equal(f.got, c.want) {
			t.Errorf("%s %s: %s %s\narrived %v\n   want %v", c.method, c.path, got.Status, got.text, f.got, c.want)
		}
	}
}

// TestPathsBeginAtTheRequest wants a fault of the JSON named as the service would name it.
func TestPathsBeginAtTheRequest(t *testing.T) {
	f := &fakeService{}
	front := serve(t, f, Options{})
	for _, c := range []struct {
		method, path, body string
		want               []string
	}{
		{"POST", "/v1/planters?planterID=x", `{"displayNam":"x","rows":[{},{},{},{"row":1.5}]}`, []string{
			"planterID: unknown query parameter; did you mean planterId?",
			"planter.displayNam: unknown field; did you mean displayName?",
			"planter.rows[3].row: is 1.5, must be a whole number from -2147483648 to 2147483647"}},
		{"POST", "/v1/planters", `[]`, []string{"body: is a list, must be an object"}},
		{"POST", "/v1/planters", `{} x`, []string{`body: line 1, column 4: found "x", expected the end of the text`}},
		{"POST", "/v1/planters?planter.displayName=x", `{}`, []string{`["planter.displayName"]: unknown query parameter; known here: planterId, requestId`}},
		{"POST", "/v1/planters/p/jobs?parent=planters/q", `{"verify":"NEVER","planterId":"x"}`, []string{
			"parent: unknown query parameter; known here: jobId, requestId, person, findBy",
			`job.verify: "NEVER" is not known, must be MOVED or WHEN_NEEDED`,
			"job.planterId: unknown field; known here: name, fixture, workOrder, externalIds, aim, reach, verify, stage, revision, etag, createTime, updateTime, state, hectares, lengthUnit, areaUnit, plantedArea"}},
		{"PATCH", "/v1/planters/p?updateMask=a%20b", `{"name":"planters/q"}`, []string{
			`updateMask: is "a b", must be field names with commas between them`,
			`planter.name: is "planters/q", but the address says "planters/p"`}},
		{"PATCH", "/v1/planters/p?updateMask=", `{}`, []string{`updateMask: is "", must be field names with commas between them`}},
		{"PATCH", "/v1/planters/p?updateMask=owner&update_mask=owner", `{}`, []string{"updateMask: is given more than once"}},
		{"POST", "/v1/planters/p/jobs/j:addMoves", `{"name":"planters/p/jobs/k","moves":[{"row":"one"}]}`, []string{
			`name: is "planters/p/jobs/k", but the address says "planters/p/jobs/j"`,
			`moves[0].row: is the text "one", must be a whole number from -2147483648 to 2147483647`}},
		{"POST", "/v1/planters/p/jobs/j:share", `{"expireTime":"soon"}`, []string{"expireTime: is not understood, must be a time such as 2026-04-02T08:30:00Z"}},
		{"GET", "/v1/planters/p/jobs?pagesize=1&filter=a&filter=b", ``, []string{"filter: is given more than once", "pagesize: unknown query parameter; did you mean pageSize?"}},
		{"GET", "/v1/planters/p:fieldMove?deltaMm=deep&delta=6", ``, []string{
			"delta: unknown query parameter; did you mean deltaMm?",
			`deltaMm: is the text "deep", must be an ordinary number`}},
		{"GET", "/v1/planters/p/digs/d:analyze?aim.within=5&aim=wide&within=1", ``, []string{
			`aim: is "wide", must be as the API's description says`,
			`["aim.within"]: unknown query parameter; did you mean aim.withinMm?`,
			"within: unknown query parameter; known here: aim.toleranceMm, aim.confidence, aim.withinMm, aim.dailyDegreeDays"}},
		{"GET", "/v1/planters/p/jobs/j:sheet?format=DOC", ``, []string{`format: "DOC" is not known, must be HTML, PDF, CSV or JSON`}},
		{"GET", "/v1/planters/p/jobs/j:watch?afterRevision=x&alt=sse", ``, []string{
			`afterRevision: is the text "x", must be a whole number from -2147483648 to 2147483647`,
			"alt: unknown query parameter; known here: afterRevision"}},
	} {
		f.method = ""
		got := send(t, front, c.method, c.path, c.body, "Content-Type", "application/json")
		p := got.problem(t)
		if got.StatusCode != 400 || p.Code != int(codes.InvalidArgument) || !slices.Equal(p.violations(), c.want) {
			t.Errorf("%s %s: %s\n got %q\nwant %q", c.method, c.path, got.Status, p.violations(), c.want)
		}
		if f.method != "" {
			t.Errorf("%s %s reached the service", c.method, c.path)
		}
	}
}

// FuzzUpdate is FuzzBody for a body that is a field: what is taken arrives as it was meant, and the mask
// names exactly the fields that the body gives.
func FuzzUpdate(f *testing.F) {
	for _, seed := range []string{`{}`, `{"displayName":"a","owner":null}`, `{"name":"planters/q"}`, `{"external_ids":{"a":"b"}}`, `{"reach":{"deeperMm":1e400}}`, `{"rows":[{"setting":{"a":{}}}]}`, `{"externalIds":{"":""}} `, `[]`, `null`} {
		f.Add([]byte(seed))
	}
	echo := &lastCall{}
	h, err := New(Options{Conn: echo})
	if err != nil {
		f.Fatal(err)
	}
	f.Fuzz(func(t *testing.T, body []byte) {
		echo.asked = nil
		w := httptest.NewRecorder()
		r := httptest.NewRequest("PATCH", "/v1/planters/p", strings.NewReader(string(body)))
		r.Header.Set("Content-Type", "application/json")
		h.ServeHTTP(w, r)
		if w.Code != 200 {
			if p := (answer{w.Result(), w.Body.String()}).shape(t); w.Code != 400 || len(p.violations()) == 0 || echo.asked != nil {
				t.Errorf("%q: %d %s", body, w.Code, w.Body)
			}
			return
		}
		want := &pb.Planter{}
		if err := protojson.Unmarshal(body, want); err != nil {
			t.Fatalf("%q was taken: %v", body, err)
		}
		want.Name = "planters/p"
		arrived := echo.asked.(*pb.UpdatePlanterRequest)
		if !proto.Equal(arrived.GetPlanter(), want) {
			t.Errorf("%q arrived as %v", body, arrived)
		}
		var given map[string]json.RawMessage
		if err := json.Unmarshal(body, &given); err != nil || len(given) != len(arrived.GetUpdateMask().GetPaths()) || !arrived.GetUpdateMask().IsValid(want) {
			t.Errorf("%q has the mask %v, %v", body, arrived.GetUpdateMask(), err)
		}
	})
}

// lastCall is a connection that keeps the question and answers nothing much.
type lastCall struct {
	grpc.ClientConnInterface
	asked any
}

func (c *lastCall) Invoke(_ context.Context, _ string, req, _ any, _ ...grpc.CallOption) error {
	c.asked = req
	return nil
}

// TestMethodsOfNewAddresses has a wrong method answered with those that are right.
func TestMethodsOfNewAddresses(t *testing.T) {
	front := serve(t, &fakeService{}, Options{})
	for path, want := range map[string]string{"/v1/planters": "GET, POST", "/v1/planters/p": "GET, PATCH, DELETE",
		"/v1/planters/p/jobs/j:watch": "GET", "/pair": "GET, HEAD", "/share": "GET, HEAD, POST", "/unpair": "POST"} {
		got := send(t, front, http.MethodPut, path, "")
		if got.StatusCode != 405 || got.Header.Get("Allow") != want {
			t.Errorf("%s: %s, Allow %q, want %q", path, got.Status, got.Header.Get("Allow"), want)
		}
	}
}
