package httprules

import (
	"fmt"
	"net/http"
	"slices"
	"strings"
	"testing"

	"google.golang.org/genproto/googleapis/api/annotations"
	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/reflect/protodesc"
	"google.golang.org/protobuf/reflect/protoreflect"
	"google.golang.org/protobuf/reflect/protoregistry"
	"google.golang.org/protobuf/types/descriptorpb"
	"google.golang.org/protobuf/types/dynamicpb"

	pb "rowdatum/proto/gen/rowdatum/v1"
)

// TestEveryMethodHasARule holds the rules to the contract: each method has one, each request belongs to one method, and what
// is found by method, by request and by path is the same rule.
func TestEveryMethodHasARule(t *testing.T) {
	methods := 0
	protoregistry.GlobalFiles.RangeFilesByPackage("rowdatum.v1", func(file protoreflect.FileDescriptor) bool {
		for i := range file.Services().Len() {
			methods += file.Services().Get(i).Methods().Len()
		}
		return true
	})
	if methods < 40 || len(All()) < methods {
		t.Fatalf("%d rules of %d methods", len(All()), methods)
	}
	byRequest := map[protoreflect.FullName]string{}
	for _, r := range All() {
		if other := byRequest[r.Request().FullName()]; other != "" && other != r.FullMethod() {
			t.Errorf("%s and %s take the same request", other, r.FullMethod())
		}
		byRequest[r.Request().FullName()] = r.FullMethod()
		if ForMethod(r.FullMethod()).Method != r.Method || For(dynamicpb.NewMessage(r.Request())).Method != r.Method {
			t.Errorf("%s is not found by its method or its request", r.FullMethod())
		}
		params := map[string]string{}
		for field, pattern := range r.PathFields() {
			params[field] = strings.ReplaceAll(pattern, "*", "x")
		}
		path, err := r.Path(params)
		found, said := Match(r.Verb, path)
		if err != nil || found != r || fmt.Sprint(said) != fmt.Sprint(params) {
			t.Errorf("%s %s leads to %v with %v (%v)", r.Verb, path, found, said, err)
		}
	}
	if ForMethod("/grpc.health.v1.Health/Check") != nil || For(&pb.Plan{}) != nil {
		t.Error("what is no method of the API has a rule")
	}
}

// TestRepeats names what may not be sent twice. Everything else changes nothing or takes an id, and never both.
func TestRepeats(t *testing.T) {
	var never, safePosts []string
	for _, r := range All() {
		name := string(r.Method.Name())
		switch {
		case r.Safe() && r.TakesRequestID():
			t.Errorf("%s changes nothing and takes a request id", name)
		case r.Safe() && r.Verb != http.MethodGet:
			safePosts = append(safePosts, name)
		case !r.Safe() && !r.TakesRequestID():
			never = append(never, name)
		}
	}
	slices.Sort(never)
	slices.Sort(safePosts)
	if want := "[AnalyzeSeeds ComputeFieldMove ComputePlan]"; fmt.Sprint(safePosts) != want {
		t.Errorf("%v change nothing, want %s", safePosts, want)
	}
	if want := "[CreatePairing CreateShare EndSession RedeemPairing]"; fmt.Sprint(never) != want {
		t.Errorf("%v are never sent again, want %s", never, want)
	}
}

func TestQueryFields(t *testing.T) {
	for _, tt := range []struct {
		request proto.Message
		want    string
	}{
		{&pb.ListJobsRequest{}, "pageSize pageToken filter"},
		{&pb.CreateJobRequest{}, "jobId requestId person findBy"},
		{&pb.UpdatePlanterRequest{}, "updateMask requestId"},
		{&pb.AnalyzeDigRequest{}, "aim"},
		{&pb.AddNotesRequest{}, ""},
		{&pb.GetJobRequest{}, ""},
	} {
		var names []string
		for _, field := range For(tt.request).QueryFields() {
			names = append(names, field.JSONName())
		}
		if got := strings.Join(names, " "); got != tt.want {
			t.Errorf("%T: %s, want %s", tt.request, got, tt.want)
		}
	}
}

func TestBuild(t *testing.T) {
	for _, tt := range []struct {
		request            proto.Message
		verb, target, body string
	}{
		{&pb.GetPlanterRequest{Name: "planters/creek"}, "GET", "/v1/planters/creek", ""},
		{&pb.GetPlanterRequest{Name: "planters/a b?c#d%"}, "GET", "/v1/planters/a%20b%3Fc%23d%25", ""},
		{&pb.ListJobsRequest{Parent: "planters/-", Filter: `owner="A&B"`, PageSize: 3}, "GET", "/v1/planters/-/jobs?filter=owner%3D%22A%26B%22&pageSize=3", ""},
		{&pb.AnalyzeDigRequest{Name: "planters/p/digs/d", Aim: &pb.DigAim{WithinMm: proto.Float64(0)}}, "GET", "/v1/planters/p/digs/d:analyze?aim.withinMm=0", ""},
		{&pb.CreatePlanterRequest{PlanterId: "creek", Planter: &pb.Planter{DisplayName: "Creek"}}, "POST", "/v1/planters?planterId=creek", `{"displayName":"Creek"}`},
		{&pb.CreatePlanterRequest{}, "POST", "/v1/planters", `{}`},
		{&pb.UpdatePlanterRequest{Planter: &pb.Planter{Name: "planters/creek", Owner: "Ada"}, RequestId: "x"}, "PATCH", "/v1/planters/creek?requestId=x", `{"owner":"Ada"}`},
		{&pb.AddNotesRequest{Name: "planters/p/jobs/j", Person: "Ada"}, "POST", "/v1/planters/p/jobs/j:addNotes", `{"person":"Ada"}`},
		{&pb.DeleteHookRequest{Name: "hooks/h", RequestId: "x"}, "DELETE", "/v1/hooks/h?requestId=x", ""},
	} {
		got, err := For(tt.request).Build(tt.request)
		if err != nil || got.Verb != tt.verb || got.Target() != tt.target || string(got.Body) != tt.body {
			t.Errorf("%T: %+v with %s, %v", tt.request, got, got.Body, err)
		}
	}
	for _, name := range []string{"", "creek", "planters/", "planters/p/jobs/j", "fixtures/p", "planters/p:wear", "/planters/p"} {
		if got, err := For(&pb.GetPlanterRequest{}).Build(&pb.GetPlanterRequest{Name: name}); err == nil || !strings.Contains(err.Error(), "must be like planters/*") {
			t.Errorf("the name %q: %+v, %v", name, got, err)
		}
	}
}

// invented is a method with a rule of a test's own. Its request has name, a note with a text, and tags.
func invented(t *testing.T, rule *annotations.HttpRule) protoreflect.MethodDescriptor {
	t.Helper()
	options := &descriptorpb.MethodOptions{}
	proto.SetExtension(options, annotations.E_Http, rule)
	text := descriptorpb.FieldDescriptorProto_TYPE_STRING.Enum()
	one, many := descriptorpb.FieldDescriptorProto_LABEL_OPTIONAL.Enum(), descriptorpb.FieldDescriptorProto_LABEL_REPEATED.Enum()
	file, err := protodesc.NewFile(&descriptorpb.FileDescriptorProto{
		Name: proto.String("invented.proto"), Package: proto.String("invented"), Syntax: proto.String("proto3"),
		MessageType: []*descriptorpb.DescriptorProto{
			{Name: proto.String("Note"), Field: []*descriptorpb.FieldDescriptorProto{{Name: proto.String("text"), Number: proto.Int32(1), Type: text, Label: one}}},
			{Name: proto.String("Request"), Field: []*descriptorpb.FieldDescriptorProto{
				{Name: proto.String("name"), Number: proto.Int32(1), Type: text, Label: one},
				{Name: proto.String("the_note"), Number: proto.Int32(2), Type: descriptorpb.FieldDescriptorProto_TYPE_MESSAGE.Enum(), TypeName: proto.String(".invented.Note"), Label: one},
				{Name: proto.String("tags"), Number: proto.Int32(3), Type: text, Label: many}}}},
		Service: []*descriptorpb.ServiceDescriptorProto{{Name: proto.String("Service"), Method: []*descriptorpb.MethodDescriptorProto{
			{Name: proto.String("Do"), InputType: proto.String(".invented.Request"), OutputType: proto.String(".invented.Note"), Options: options}}}},
	}, nil)
	if err != nil {
		t.Fatal(err)
	}
	return file.Services().Get(0).Methods().Get(0)
}

func TestAdditionalBindings(t *testing.T) {
	method := invented(t, &annotations.HttpRule{Pattern: &annotations.HttpRule_Get{Get: "/v2/{name}"}, AdditionalBindings: []*annotations.HttpRule{
		{Pattern: &annotations.HttpRule_Put{Put: "/v2/{the_note.text=notes/*}/of/{name=things/*}:say"}, Body: "the_note"},
		{Pattern: &annotations.HttpRule_Custom{Custom: &annotations.CustomHttpPattern{Kind: "REPORT", Path: "/v2/things"}}, Body: "*"},
	}})
	rules, err := Read(method)
	if err != nil || len(rules) != 3 {
		t.Fatalf("%v, %v", rules, err)
	}
	request := dynamicpb.NewMessage(method.Input())
	fields := method.Input().Fields()
	request.Set(fields.ByName("name"), protoreflect.ValueOfString("x"))
	request.Mutable(fields.ByName("tags")).List().Append(protoreflect.ValueOfString("a"))
	request.Mutable(fields.ByName("tags")).List().Append(protoreflect.ValueOfString("b"))
	if got, err := rules[0].Build(request); err != nil || got.Target() != "/v2/x?tags=a&tags=b" {
		t.Errorf("%+v, %v", got, err)
	}
	if got, err := rules[2].Build(request); err != nil || got.Verb != "REPORT" || string(got.Body) != `{"name":"x","tags":["a","b"]}` {
		t.Errorf("%+v, %v", got, err)
	}
	request.Set(fields.ByName("name"), protoreflect.ValueOfString("things/x"))
	note := request.Mutable(fields.ByName("the_note")).Message()
	note.Set(note.Descriptor().Fields().ByName("text"), protoreflect.ValueOfString("notes/n"))
	if got, err := rules[1].Build(request); err != nil || got.Target() != "/v2/notes/n/of/things/x:say?tags=a&tags=b" || string(got.Body) != "{}" {
		t.Errorf("%+v with %s, %v", got, got.Body, err)
	}
}

func TestRulesThatCannotBeRead(t *testing.T) {
	for _, rule := range []*annotations.HttpRule{
		{},
		{Pattern: &annotations.HttpRule_Get{Get: "v2/x"}},
		{Pattern: &annotations.HttpRule_Get{Get: "/v2/**"}},
		{Pattern: &annotations.HttpRule_Get{Get: "/v2/*"}},
		{Pattern: &annotations.HttpRule_Get{Get: "/v2/{name=**}"}},
		{Pattern: &annotations.HttpRule_Get{Get: "/v2/{name=a/{b}}"}},
		{Pattern: &annotations.HttpRule_Get{Get: "/v2/{name"}},
		{Pattern: &annotations.HttpRule_Get{Get: "/v2/x/"}},
		{Pattern: &annotations.HttpRule_Get{Get: "/v2/{nam}"}},
		{Pattern: &annotations.HttpRule_Get{Get: "/v2/{name.deeper}"}},
		{Pattern: &annotations.HttpRule_Post{Post: "/v2/x"}, Body: "nothing"},
	} {
		if rules, err := Read(invented(t, rule)); err == nil {
			t.Errorf("%v is read as %+v", rule, rules[0])
		}
	}
}
