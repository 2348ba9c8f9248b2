package main

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"net/http"
	"testing"

	"github.com/grpc-ecosystem/grpc-gateway/v2/runtime"
	"google.golang.org/genproto/googleapis/api/httpbody"
	spb "google.golang.org/genproto/googleapis/rpc/status"
	"google.golang.org/grpc"
	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/credentials/insecure"
	"google.golang.org/grpc/metadata"
	"google.golang.org/grpc/status"
	"google.golang.org/protobuf/encoding/protojson"
	"google.golang.org/protobuf/proto"

	pb "rowdatum/proto/gen/rowdatum/v1"
	"rowdatum/proto/httprules"
)

// way is one of the two ways into a service. What a test does through it is the same for both.
type way struct {
	name string
	conn grpc.ClientConnInterface
}

func (w way) planters() pb.PlanterServiceClient { return pb.NewPlanterServiceClient(w.conn) }
func (w way) fixtures() pb.FixtureServiceClient { return pb.NewFixtureServiceClient(w.conn) }
func (w way) jobs() pb.JobServiceClient         { return pb.NewJobServiceClient(w.conn) }
func (w way) access() pb.AccessServiceClient    { return pb.NewAccessServiceClient(w.conn) }
func (w way) field() pb.FieldServiceClient      { return pb.NewFieldServiceClient(w.conn) }
func (w way) digs() pb.DigServiceClient         { return pb.NewDigServiceClient(w.conn) }
func (w way) wear() pb.WearServiceClient        { return pb.NewWearServiceClient(w.conn) }

// waysTo returns the two ways: gRPC and JSON over HTTP. They close with the test.
func waysTo(t testing.TB, at addresses) [2]way {
	t.Helper()
	conn, err := grpc.NewClient(at.GRPC, grpc.WithTransportCredentials(insecure.NewCredentials()))
	if err != nil {
		t.Fatal(err)
	}
	over := &httpConn{base: "http://" + at.HTTP, client: &http.Client{Transport: &http.Transport{MaxIdleConnsPerHost: 16}}}
	t.Cleanup(func() {
		conn.Close()
		over.client.CloseIdleConnections()
	})
	return [2]way{{"gRPC", conn}, {"HTTP", over}}
}

// as returns the way with a key in every call.
func (w way) as(secret string) way { return way{w.name, keyed{w.conn, secret}} }

type keyed struct {
	grpc.ClientConnInterface
	secret string
}

func (k keyed) with(ctx context.Context) context.Context {
	return metadata.AppendToOutgoingContext(ctx, "authorization", "Bearer "+k.secret)
}

func (k keyed) Invoke(ctx context.Context, method string, req, res any, o ...grpc.CallOption) error {
	return k.ClientConnInterface.Invoke(k.with(ctx), method, req, res, o...)
}

func (k keyed) NewStream(ctx context.Context, d *grpc.StreamDesc, method string, o ...grpc.CallOption) (grpc.ClientStream, error) {
	return k.ClientConnInterface.NewStream(k.with(ctx), d, method, o...)
}

// httpConn calls a service as JSON over HTTP, by the addresses that the contract gives its methods.
type httpConn struct {
	base   string
	client *http.Client
}

// Invoke implements grpc.ClientConnInterface.
func (c *httpConn) Invoke(ctx context.Context, method string, req, res any, _ ...grpc.CallOption) error {
	r, err := c.request(ctx, method, req.(proto.Message))
	if err != nil {
		return err
	}
	answer, err := c.client.Do(r)
	if err != nil {
		return status.Error(codes.Unavailable, err.Error())
	}
	defer answer.Body.Close()
	text, err := io.ReadAll(answer.Body)
	if err != nil {
		return status.Error(codes.Unavailable, err.Error())
	}
	if answer.StatusCode != http.StatusOK {
		return httpError(answer.StatusCode, text)
	}
	if body, ok := res.(*httpbody.HttpBody); ok { // what is no JSON comes as it is
		body.ContentType, body.Data = answer.Header.Get("Content-Type"), text
		return nil
	}
	return protojson.Unmarshal(text, res.(proto.Message))
}

// NewStream implements grpc.ClientConnInterface: a stream comes as a line of JSON a message.
func (c *httpConn) NewStream(ctx context.Context, _ *grpc.StreamDesc, method string, _ ...grpc.CallOption) (grpc.ClientStream, error) {
	return &httpStream{conn: c, ctx: ctx, method: method}, nil
}

// httpError reads an error and holds its HTTP status against its code.
func httpError(code int, text []byte) error {
	s := &spb.Status{}
	if err := protojson.Unmarshal(text, s); err != nil {
		return fmt.Errorf("HTTP status %d with %q: %w", code, text, err)
	}
	want := runtime.HTTPStatusFromCode(codes.Code(s.Code))
	if code != want && code != http.StatusRequestEntityTooLarge {
		return fmt.Errorf("HTTP status %d, want %d: %s", code, want, text)
	}
	return status.FromProto(s).Err()
}

// request makes the HTTP request that the contract says a call is.
func (c *httpConn) request(ctx context.Context, method string, req proto.Message) (*http.Request, error) {
	built, err := httprules.ForMethod(method).Build(req)
	if err != nil {
		return nil, err
	}
	r, err := http.NewRequestWithContext(ctx, built.Verb, c.base+built.Target(), bytes.NewReader(built.Body))
	if err != nil {
		return nil, err
	}
	if built.Body != nil {
		r.Header.Set("Content-Type", "application/json")
	}
	if md, ok := metadata.FromOutgoingContext(ctx); ok {
		for _, name := range []string{"Authorization", "Accept-Language"} {
			for _, value := range md.Get(name) {
				r.Header.Set(name, value)
			}
		}
	}
	return r, nil
}

// httpStream reads a stream of lines.
type httpStream struct {
	grpc.ClientStream
	conn   *httpConn
	ctx    context.Context
	method string
	body   io.ReadCloser
	lines  *json.Decoder
}

func (s *httpStream) CloseSend() error { return nil }

// SendMsg begins the call.
func (s *httpStream) SendMsg(req any) error {
	r, err := s.conn.request(s.ctx, s.method, req.(proto.Message))
	if err != nil {
		return err
	}
	answer, err := s.conn.client.Do(r)
	if err != nil {
		return status.Error(codes.Unavailable, err.Error())
	}
	context.AfterFunc(s.ctx, func() { answer.Body.Close() })
	if answer.StatusCode != http.StatusOK {
		text, err := io.ReadAll(answer.Body)
		return errors.Join(httpError(answer.StatusCode, text), err)
	}
	s.body, s.lines = answer.Body, json.NewDecoder(answer.Body)
	return nil
}

// RecvMsg reads one line.
func (s *httpStream) RecvMsg(res any) error {
	var line struct{ Result, Error json.RawMessage }
	switch err := s.lines.Decode(&line); {
	case errors.Is(err, io.EOF):
		return io.EOF
	case err != nil:
		return status.Error(codes.Unavailable, err.Error())
	case line.Error != nil:
		failed := &spb.Status{}
		if err := protojson.Unmarshal(line.Error, failed); err != nil {
			return err
		}
		return status.FromProto(failed).Err()
	}
	return protojson.Unmarshal(line.Result, res.(proto.Message))
}
