package gateway

import (
	"context"
	"encoding/json"
	"io"
	"net"
	"net/http"
	"net/http/httptest"
	"strings"
	"sync"
	"testing"
	"time"

	"google.golang.org/genproto/googleapis/api/httpbody"
	"google.golang.org/grpc"
	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/credentials/insecure"
	"google.golang.org/grpc/health"
	"google.golang.org/grpc/health/grpc_health_v1"
	"google.golang.org/grpc/metadata"
	"google.golang.org/grpc/status"
	"google.golang.org/grpc/test/bufconn"
	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/reflect/protoreflect"
	"google.golang.org/protobuf/reflect/protoregistry"
	"google.golang.org/protobuf/types/known/emptypb"

	pb "rowdatum/proto/gen/rowdatum/v1"
)

// fakeService stands behind the gateway: it notes what arrives and answers what a test wants.
type fakeService struct {
	pb.UnimplementedPlanServiceServer
	pb.UnimplementedStyleServiceServer
	pb.UnimplementedPlanterServiceServer
	pb.UnimplementedFixtureServiceServer
	pb.UnimplementedJobServiceServer
	pb.UnimplementedFieldServiceServer
	pb.UnimplementedDigServiceServer
	pb.UnimplementedWearServiceServer
	pb.UnimplementedHookServiceServer
	pb.UnimplementedChangeServiceServer
	pb.UnimplementedAccessServiceServer
	*health.Server

	mu     sync.Mutex
	asked  *pb.ComputePlanRequest
	page   *pb.ListStylesRequest
	name   string
	meta   metadata.MD
	plan   *pb.Plan
	err    error
	delay  time.Duration
	styles []*pb.Style

	method string        // of the last call
	got    proto.Message // its request
	watch  func(*pb.WatchJobRequest, pb.JobService_WatchJobServer) error
	keys   map[string]*pb.Session // whose key is whose
	phone  *pb.RedeemPairingResponse
	sheet  func(context.Context) *httpbody.HttpBody
}

// note keeps what was called with what, and answers calls that the fake does nothing else about with
// an answer that has nothing in it.
func (f *fakeService) note(ctx context.Context, req any, info *grpc.UnaryServerInfo, handle grpc.UnaryHandler) (any, error) {
	f.mu.Lock()
	f.method, f.got = info.FullMethod, req.(proto.Message)
	f.mu.Unlock()
	answer, err := handle(ctx, req)
	if status.Code(err) != codes.Unimplemented || f.err != nil {
		return answer, err
	}
	f.mu.Lock()
	f.meta, _ = metadata.FromIncomingContext(ctx)
	f.mu.Unlock()
	return emptyAnswer(info.FullMethod)
}

func emptyAnswer(method string) (proto.Message, error) {
	name := strings.ReplaceAll(strings.TrimPrefix(method, "/"), "/", ".")
	d, err := protoregistry.GlobalFiles.FindDescriptorByName(protoreflect.FullName(name))
	if err != nil {
		return nil, err
	}
	kind, err := protoregistry.GlobalTypes.FindMessageByName(d.(protoreflect.MethodDescriptor).Output().FullName())
	if err != nil {
		return nil, err
	}
	return kind.New().Interface(), nil
}

func (f *fakeService) WatchJob(req *pb.WatchJobRequest, stream pb.JobService_WatchJobServer) error {
	f.mu.Lock()
	f.method, f.got = pb.JobService_WatchJob_FullMethodName, req
	f.meta, _ = metadata.FromIncomingContext(stream.Context())
	watch := f.watch
	f.mu.Unlock()
	if watch == nil {
		return nil
	}
	return watch(req, stream)
}

// watching changes what a watch is answered while the service runs.
func (f *fakeService) watching(watch func(*pb.WatchJobRequest, pb.JobService_WatchJobServer) error) {
	f.mu.Lock()
	defer f.mu.Unlock()
	f.watch = watch
}

func (f *fakeService) GetSession(ctx context.Context, _ *pb.GetSessionRequest) (*pb.Session, error) {
	if f.keys == nil {
		return nil, status.Error(codes.Unimplemented, "")
	}
	given := metadata.ValueFromIncomingContext(ctx, "authorization")
	if len(given) == 1 && f.keys[strings.TrimPrefix(given[0], "Bearer ")] != nil {
		return f.keys[strings.TrimPrefix(given[0], "Bearer ")], nil
	}
	return nil, status.Error(codes.Unauthenticated, "no such key")
}

func (f *fakeService) EndSession(ctx context.Context, _ *pb.EndSessionRequest) (*emptypb.Empty, error) {
	f.mu.Lock()
	defer f.mu.Unlock()
	f.meta, _ = metadata.FromIncomingContext(ctx)
	return &emptypb.Empty{}, f.err
}

func (f *fakeService) RedeemPairing(ctx context.Context, req *pb.RedeemPairingRequest) (*pb.RedeemPairingResponse, error) {
	f.mu.Lock()
	defer f.mu.Unlock()
	f.meta, _ = metadata.FromIncomingContext(ctx)
	if f.phone == nil {
		return nil, status.Error(codes.Unimplemented, "")
	}
	if req.GetCode() != "GOOD" {
		return nil, status.Error(codes.Unauthenticated, "wrong code")
	}
	return f.phone, nil
}

func (f *fakeService) GetJobSheet(ctx context.Context, _ *pb.GetJobSheetRequest) (*httpbody.HttpBody, error) {
	if f.sheet == nil {
		return nil, status.Error(codes.Unimplemented, "")
	}
	return f.sheet(ctx), f.err
}

func (f *fakeService) ComputePlan(ctx context.Context, req *pb.ComputePlanRequest) (*pb.Plan, error) {
	f.mu.Lock()
	defer f.mu.Unlock()
	f.asked = req
	f.meta, _ = metadata.FromIncomingContext(ctx)
	_ = grpc.SetHeader(ctx, metadata.Pairs("x-secret", "inside", "x-request-id", "other"))
	_ = grpc.SetTrailer(ctx, metadata.Pairs("x-late", "inside"))
	select {
	case <-time.After(f.delay):
	case <-ctx.Done():
		return nil, ctx.Err()
	}
	return f.plan, f.err
}

func (f *fakeService) ListStyles(_ context.Context, req *pb.ListStylesRequest) (*pb.ListStylesResponse, error) {
	f.mu.Lock()
	defer f.mu.Unlock()
	f.page = req
	return &pb.ListStylesResponse{Styles: f.styles}, f.err
}

func (f *fakeService) GetStyle(_ context.Context, req *pb.GetStyleRequest) (*pb.Style, error) {
	f.mu.Lock()
	defer f.mu.Unlock()
	f.name = req.GetName()
	return &pb.Style{Name: req.GetName()}, f.err
}

// serve starts the fake service and a gateway in front of it, the whole way over a real connection.
func serve(t testing.TB, f *fakeService, o Options) *httptest.Server {
	t.Helper()
	f.Server = health.NewServer()
	f.SetServingStatus("store", grpc_health_v1.HealthCheckResponse_SERVING)
	if f.plan == nil {
		f.plan = &pb.Plan{}
	}
	wire := bufconn.Listen(1 << 20)
	server := grpc.NewServer(grpc.UnaryInterceptor(f.note))
	pb.RegisterPlanServiceServer(server, f)
	pb.RegisterStyleServiceServer(server, f)
	pb.RegisterPlanterServiceServer(server, f)
	pb.RegisterFixtureServiceServer(server, f)
	pb.RegisterJobServiceServer(server, f)
	pb.RegisterFieldServiceServer(server, f)
	pb.RegisterDigServiceServer(server, f)
	pb.RegisterWearServiceServer(server, f)
	pb.RegisterHookServiceServer(server, f)
	pb.RegisterChangeServiceServer(server, f)
	pb.RegisterAccessServiceServer(server, f)
	grpc_health_v1.RegisterHealthServer(server, f)
	go func() { _ = server.Serve(wire) }() // ended by Stop below
	conn, err := grpc.NewClient("passthrough:///memory", grpc.WithTransportCredentials(insecure.NewCredentials()),
		grpc.WithContextDialer(func(ctx context.Context, _ string) (net.Conn, error) { return wire.DialContext(ctx) }))
	if err != nil {
		t.Fatal(err)
	}
	o.Conn = conn
	h, err := New(o)
	if err != nil {
		t.Fatal(err)
	}
	front := httptest.NewUnstartedServer(h)
	front.Config = NewServer(h, o.Log)
	front.Start()
	t.Cleanup(func() { front.Close(); conn.Close(); server.Stop() })
	return front
}

type answer struct {
	*http.Response
	text string
}

// send makes one request; headers come in pairs.
func send(t testing.TB, front *httptest.Server, method, path, body string, headers ...string) answer {
	t.Helper()
	req, err := http.NewRequest(method, front.URL+path, strings.NewReader(body))
	if err != nil {
		t.Fatal(err)
	}
	for i := 0; i < len(headers); i += 2 {
		req.Header.Set(headers[i], headers[i+1])
	}
	resp, err := front.Client().Do(req)
	if err != nil {
		t.Fatal(err)
	}
	defer resp.Body.Close()
	text, err := io.ReadAll(resp.Body)
	if err != nil {
		t.Fatal(err)
	}
	return answer{resp, string(text)}
}

const computePath = "/v1/plans:compute"

func compute(t testing.TB, front *httptest.Server, body string, headers ...string) answer {
	t.Helper()
	return send(t, front, http.MethodPost, computePath, body, append([]string{"Content-Type", "application/json"}, headers...)...)
}

// problem is the one shape of every error.
type problem struct {
	Code    int
	Message string
	Details []struct {
		Type            string `json:"@type"`
		Reason, Domain  string
		Metadata        map[string]string
		FieldViolations []struct{ Field, Description string }
	}
}

// problem reads an answer that must be an error in the one shape, and free of the words of programs.
func (a answer) problem(t testing.TB) problem {
	t.Helper()
	var p problem
	if err := json.Unmarshal([]byte(a.text), &p); err != nil || a.Header.Get("Content-Type") != "application/json" {
		t.Fatalf("no error in the one shape: %s %q %v", a.Status, a.text, err)
	}
	if p.Code == 0 || p.Message == "" || len(p.Details) == 0 || p.Details[0].Reason == "" || p.Details[0].Domain != "rowdatum" {
		t.Errorf("incomplete error: %s", a.text)
	}
	for _, word := range []string{"proto:", "proto", "syntax error", "unmarshal", "json:", "rpc error", "desc =", "transport", "context deadline", "goroutine", "nil pointer", "grpc", "http:", "strconv", "EOF"} {
		if spoken := strings.ReplaceAll(a.text, "type.googleapis.com", ""); strings.Contains(spoken, word) {
			t.Errorf("%q speaks of %q", a.text, word)
		}
	}
	return p
}

// violations lists what the error says of fields.
func (p problem) violations() []string {
	var out []string
	for _, d := range p.Details {
		for _, v := range d.FieldViolations {
			out = append(out, v.Field+": "+v.Description)
		}
	}
	return out
}
