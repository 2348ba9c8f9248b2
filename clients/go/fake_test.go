package rowdatum_test

import (
	"context"
	"net"
	"sync"
	"testing"
	"time"

	"google.golang.org/genproto/googleapis/rpc/errdetails"
	"google.golang.org/grpc"
	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/metadata"
	"google.golang.org/grpc/status"
	"google.golang.org/protobuf/protoadapt"

	rowdatum "rowdatum/clients/go"
	rowdatumv1 "rowdatum/proto/gen/rowdatum/v1"
)

// fake is a service that answers what a test has it answer.
type fake struct {
	rowdatumv1.UnimplementedJobServiceServer
	rowdatumv1.UnimplementedAccessServiceServer
	rowdatumv1.UnimplementedPlanServiceServer

	mu       sync.Mutex
	ids      []string // request ids, as they came
	metadata metadata.MD
	errs     []error // answered in turn, before all is well
	watches  []func(int32, grpc.ServerStreamingServer[rowdatumv1.WatchJobResponse]) error
}

func (f *fake) next(ctx context.Context, id string) error {
	f.mu.Lock()
	defer f.mu.Unlock()
	f.ids = append(f.ids, id)
	f.metadata, _ = metadata.FromIncomingContext(ctx)
	if len(f.errs) == 0 {
		return nil
	}
	err := f.errs[0]
	f.errs = f.errs[1:]
	return err
}

func (f *fake) AddNotes(ctx context.Context, r *rowdatumv1.AddNotesRequest) (*rowdatumv1.AppendResponse, error) {
	return &rowdatumv1.AppendResponse{Job: &rowdatumv1.Job{Name: r.GetName()}}, f.next(ctx, r.GetRequestId())
}

func (f *fake) GetJob(ctx context.Context, r *rowdatumv1.GetJobRequest) (*rowdatumv1.Job, error) {
	return &rowdatumv1.Job{Name: r.GetName()}, f.next(ctx, "")
}

func (f *fake) ComputePlan(ctx context.Context, r *rowdatumv1.ComputePlanRequest) (*rowdatumv1.Plan, error) {
	return &rowdatumv1.Plan{}, f.next(ctx, "")
}

func (f *fake) CreatePairing(ctx context.Context, r *rowdatumv1.CreatePairingRequest) (*rowdatumv1.Pairing, error) {
	return &rowdatumv1.Pairing{}, f.next(ctx, "")
}

func (f *fake) WatchJob(r *rowdatumv1.WatchJobRequest, stream grpc.ServerStreamingServer[rowdatumv1.WatchJobResponse]) error {
	f.mu.Lock()
	watch := f.watches[0]
	f.watches = f.watches[1:]
	f.mu.Unlock()
	return watch(r.GetAfterRevision(), stream)
}

// serve serves f until the test ends and dials it.
func serve(t *testing.T, f *fake, o rowdatum.Options) *rowdatum.Client {
	t.Helper()
	listener, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	server := grpc.NewServer()
	rowdatumv1.RegisterJobServiceServer(server, f)
	rowdatumv1.RegisterAccessServiceServer(server, f)
	rowdatumv1.RegisterPlanServiceServer(server, f)
	ended := make(chan error, 1)
	go func() { ended <- server.Serve(listener) }()
	t.Cleanup(func() { server.Stop(); <-ended })
	return dial(t, listener.Addr().String(), o)
}

func dial(t *testing.T, address string, o rowdatum.Options) *rowdatum.Client {
	t.Helper()
	o.Pause = time.Millisecond
	client, err := rowdatum.Dial(address, o)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { client.Close() })
	return client
}

// refusal is a status as a service gives it.
func refusal(code codes.Code, reason string, more ...protoadapt.MessageV1) error {
	s, err := status.New(code, "No.").WithDetails(append(more, &errdetails.ErrorInfo{Reason: reason, Domain: "rowdatum", Metadata: map[string]string{"style": "cam-bolt"}})...)
	if err != nil {
		return err
	}
	return s.Err()
}
