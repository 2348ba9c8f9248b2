package api

import (
	"context"
	"net"
	"testing"

	"go.uber.org/zap"
	"google.golang.org/genproto/googleapis/rpc/errdetails"
	"google.golang.org/grpc"
	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/credentials/insecure"
	"google.golang.org/grpc/health"
	"google.golang.org/grpc/mem"
	"google.golang.org/grpc/metadata"
	"google.golang.org/grpc/status"
	"google.golang.org/grpc/test/bufconn"
)

// raw sends bytes as they are.
type raw struct{}

func (raw) Name() string { return "proto" }
func (raw) Marshal(v any) (mem.BufferSlice, error) {
	return mem.BufferSlice{mem.SliceBuffer(v.([]byte))}, nil
}
func (raw) Unmarshal(mem.BufferSlice, any) error { return nil }

// TestNotReadable sends bytes that are no request, to a plain and to a streaming method: the caller is told so, in his own
// language, and who may not call at all is told that instead.
func TestNotReadable(t *testing.T) {
	core, _ := newFlow(t)
	server := NewServer(Options{Flow: core, Health: health.NewServer(), Log: zap.NewNop()})
	listener := bufconn.Listen(1 << 16)
	ended := make(chan error, 1)
	go func() { ended <- server.Serve(listener) }()
	t.Cleanup(func() { server.Stop(); <-ended })
	conn, err := grpc.NewClient("passthrough:///inside", grpc.WithTransportCredentials(insecure.NewCredentials()),
		grpc.WithContextDialer(func(ctx context.Context, _ string) (net.Conn, error) { return listener.DialContext(ctx) }))
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { conn.Close() })
	garbled := []byte{0xff, 0xff, 0xff}
	plain := func(ctx context.Context) error {
		return conn.Invoke(ctx, "/rowdatum.v1.JobService/GetJob", garbled, nil, grpc.ForceCodecV2(raw{}))
	}
	streaming := func(ctx context.Context) error {
		stream, err := conn.NewStream(ctx, &grpc.StreamDesc{ServerStreams: true}, "/rowdatum.v1.JobService/WatchJob", grpc.ForceCodecV2(raw{}))
		if err != nil {
			return err
		}
		if err := stream.SendMsg(garbled); err != nil {
			return err
		}
		return stream.RecvMsg(nil)
	}
	spanish := metadata.AppendToOutgoingContext(t.Context(), "accept-language", "es")
	keysOnly := metadata.AppendToOutgoingContext(t.Context(), KeysOnlyHeader, "1")
	for name, call := range map[string]func(context.Context) error{"plain": plain, "streaming": streaming} {
		s := status.Convert(call(spanish))
		var info *errdetails.ErrorInfo
		if len(s.Details()) > 0 {
			info, _ = s.Details()[0].(*errdetails.ErrorInfo)
		}
		if s.Code() != codes.InvalidArgument || info.GetReason() != "NOT_READABLE" || s.Message() != "La solicitud llegó dañada o incompleta." {
			t.Errorf("%s: %v, %v", name, s, info)
		}
		if err := call(keysOnly); status.Code(err) != codes.Unauthenticated {
			t.Errorf("%s, without a key: %v", name, err)
		}
	}
}
