package gateway

import (
	"bytes"
	"context"
	"io"
	"math/rand/v2"
	"net/http"
	"net/http/httptest"
	"net/url"
	"strings"
	"testing"

	"google.golang.org/grpc"
	"google.golang.org/grpc/metadata"
	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/reflect/protoreflect"
	"google.golang.org/protobuf/reflect/protoregistry"
	"google.golang.org/protobuf/types/known/fieldmaskpb"
	"google.golang.org/protobuf/types/known/structpb"
	"google.golang.org/protobuf/types/known/timestamppb"

	"rowdatum/proto/httprules"
)

// TestBuiltRequestsReachTheirMethod builds requests of random messages for every rule of the contract, and wants the router
// and the decoder of the gateway to hand each to its own method, as the same message.
func TestBuiltRequestsReachTheirMethod(t *testing.T) {
	const times = 100
	random := rand.New(rand.NewPCG(1, 2))
	conn := &lastRequest{}
	h, err := New(Options{Conn: conn})
	if err != nil {
		t.Fatal(err)
	}
	for _, rule := range httprules.All() {
		for range times {
			message := randomRequest(random, rule)
			built, err := rule.Build(message)
			if err != nil {
				t.Fatalf("%s of %v: %v", rule.FullMethod(), message, err)
			}
			*conn = lastRequest{}
			w := httptest.NewRecorder()
			r := httptest.NewRequest(built.Verb, built.Target(), bytes.NewReader(built.Body))
			if built.Body != nil {
				r.Header.Set("Content-Type", "application/json")
			}
			h.ServeHTTP(w, r)
			if w.Code/100 != 2 || conn.method != rule.FullMethod() || !proto.Equal(conn.request, message) {
				t.Fatalf("%s %s with %s: %d %s\n called %s\narrived %v\n   want %v", built.Verb, built.Target(), built.Body, w.Code, w.Body, conn.method, conn.request, message)
			}
		}
	}
}

// lastRequest is a connection that keeps what it was asked and answers nothing much.
type lastRequest struct {
	method  string
	request proto.Message
}

func (c *lastRequest) Invoke(_ context.Context, method string, req, _ any, _ ...grpc.CallOption) error {
	c.method, c.request = method, req.(proto.Message)
	return nil
}

func (c *lastRequest) NewStream(_ context.Context, _ *grpc.StreamDesc, method string, _ ...grpc.CallOption) (grpc.ClientStream, error) {
	c.method = method
	return endedStream{c: c}, nil
}

// endedStream is a stream that ends before its first message.
type endedStream struct {
	grpc.ClientStream
	c *lastRequest
}

func (s endedStream) Header() (metadata.MD, error) { return nil, nil }
func (s endedStream) CloseSend() error             { return nil }
func (s endedStream) RecvMsg(any) error            { return io.EOF }
func (s endedStream) SendMsg(m any) error {
	s.c.request = m.(proto.Message)
	return nil
}

var randomTexts = []string{"Ada", "Ada & Søren", "1 7/8", "a=b?c#d", "100%41", "two\nlines", `"quoted"`, "+ +", "/v1/planters:wear", "ñ 漢"}

// randomRequest fills a request of a rule: its names fit the path, and what the body holds is there.
func randomRequest(random *rand.Rand, rule *httprules.Rule) proto.Message {
	kind, err := protoregistry.GlobalTypes.FindMessageByName(rule.Request().FullName())
	if err != nil {
		panic(err) // the contract's messages are linked in
	}
	m := kind.New()
	fillRandomly(random, m, 4)
	if body := rule.Request().Fields().ByName(protoreflect.Name(rule.Body)); body != nil {
		resource := m.Mutable(body).Message().Interface()
		if rule.Verb == http.MethodPatch {
			mask := &fieldmaskpb.FieldMask{Paths: []string{string(resource.ProtoReflect().Descriptor().Fields().Get(random.IntN(3)).Name())}}
			m.Set(rule.Request().Fields().ByName("update_mask"), protoreflect.ValueOfMessage(mask.ProtoReflect()))
		}
	}
	for name, pattern := range rule.PathFields() {
		at := m
		for outer, rest, deeper := strings.Cut(name, "."); deeper; outer, rest, deeper = strings.Cut(name, ".") {
			at, name = at.Mutable(at.Descriptor().Fields().ByName(protoreflect.Name(outer))).Message(), rest
		}
		ids := []string{"creek-six", "-", "a b", "100%41", "ñ", ".x"}
		value := strings.ReplaceAll(pattern, "*", ids[random.IntN(len(ids))])
		at.Set(at.Descriptor().Fields().ByName(protoreflect.Name(name)), protoreflect.ValueOfString(value))
	}
	return m.Interface()
}

func fillRandomly(random *rand.Rand, m protoreflect.Message, depth int) {
	fields := m.Descriptor().Fields()
	for i := range fields.Len() {
		field := fields.Get(i)
		switch {
		case random.IntN(2) == 0, field.Message() != nil && depth == 0:
		case field.IsMap():
			if field.MapValue().Kind() == protoreflect.StringKind {
				m.Mutable(field).Map().Set(protoreflect.ValueOfString("order").MapKey(), randomValue(random, field.MapValue()))
			}
		case field.IsList():
			for range 1 + random.IntN(2) {
				list := m.Mutable(field).List()
				if field.Message() == nil {
					list.Append(randomValue(random, field))
				} else {
					fillRandomly(random, list.AppendMutable().Message(), depth-1)
				}
			}
		case field.Message() == nil:
			m.Set(field, randomValue(random, field))
		case field.Message().FullName() == "google.protobuf.Struct":
			free, _ := structpb.NewStruct(map[string]any{"turns": random.Float64(), "notch": "B"})
			m.Set(field, protoreflect.ValueOfMessage(free.ProtoReflect()))
		case field.Message().FullName() == "google.protobuf.Timestamp":
			m.Set(field, protoreflect.ValueOfMessage((&timestamppb.Timestamp{Seconds: random.Int64N(4e9), Nanos: random.Int32N(1e9)}).ProtoReflect()))
		case field.Message().FullName() == "google.protobuf.FieldMask":
		default:
			fillRandomly(random, m.Mutable(field).Message(), depth-1)
			if proto.Size(m.Get(field).Message().Interface()) == 0 { // a query cannot say of a message that it is there and empty
				m.Clear(field)
			}
		}
	}
}

func randomValue(random *rand.Rand, field protoreflect.FieldDescriptor) protoreflect.Value {
	switch field.Kind() {
	case protoreflect.StringKind:
		return protoreflect.ValueOfString(randomTexts[random.IntN(len(randomTexts))])
	case protoreflect.DoubleKind:
		return protoreflect.ValueOfFloat64((random.Float64() - 0.5) * []float64{1, 1e-9, 1e21}[random.IntN(3)])
	case protoreflect.BoolKind:
		return protoreflect.ValueOfBool(random.IntN(2) == 0)
	case protoreflect.EnumKind:
		values := field.Enum().Values()
		return protoreflect.ValueOfEnum(values.Get(1 + random.IntN(values.Len()-1)).Number())
	case protoreflect.Int32Kind:
		return protoreflect.ValueOfInt32(random.Int32N(1e9) - 5e8)
	case protoreflect.Int64Kind:
		return protoreflect.ValueOfInt64(random.Int64N(2e9))
	}
	return field.Default()
}

// TestRouterAgreesWithTheRules sends paths that are nearly those of the contract, and wants the gateway's router to find for
// each the rule that Match finds.
func TestRouterAgreesWithTheRules(t *testing.T) {
	const times = 10_000
	random := rand.New(rand.NewPCG(3, 4))
	var seen Seen
	h, err := New(Options{Conn: &lastRequest{}, Seen: func(_ context.Context, s Seen) { seen = s }})
	if err != nil {
		t.Fatal(err)
	}
	rules, matched := httprules.All(), 0
	for range times {
		verb, path := rules[random.IntN(len(rules))].Verb, almostPath(random, rules)
		r := &http.Request{Method: verb, URL: &url.URL{Path: path}, Header: http.Header{}, Body: http.NoBody, Host: "127.0.0.1"}
		h.ServeHTTP(httptest.NewRecorder(), r)
		want := noRoute
		if rule, _ := httprules.Match(verb, path); rule != nil {
			want = rule.Template
			matched++
		}
		if seen.Route != want {
			t.Fatalf("%s %q: the router found %s, Match %s", verb, path, seen.Route, want)
		}
	}
	if matched < times/10 {
		t.Errorf("only %d of %d paths lead anywhere: the test looks at too little", matched, times)
	}
}

// almostPath is the path of some rule, perhaps with something put in, left out or said of another.
func almostPath(random *rand.Rand, rules []*httprules.Rule) string {
	ids := []string{"p", "", "-", "a b", "a:b", "wear", ":", ":wear", "planters", "p:watch", "ñ"}
	path := bound.ReplaceAllString(rules[random.IntN(len(rules))].Template, "$2")
	for strings.Contains(path, "*") {
		path = strings.Replace(path, "*", ids[random.IntN(len(ids))], 1)
	}
	parts := strings.Split(path, "/")
	at := 1 + random.IntN(len(parts)-1)
	switch random.IntN(8) {
	case 0:
		parts = append(parts[:at], parts[at+1:]...)
	case 1:
		parts[at] = ids[random.IntN(len(ids))]
	case 2:
		other := rules[random.IntN(len(rules))].Template
		parts[len(parts)-1] += other[strings.LastIndexAny(other, "}/:")+1:]
	case 3:
		parts = append(parts, ids[random.IntN(len(ids))])
	}
	return "/" + strings.Join(parts[1:], "/")
}
