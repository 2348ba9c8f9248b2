package faults

import (
	"bytes"
	"context"
	"fmt"
	"io"
	"net/http"
	"time"

	spb "google.golang.org/genproto/googleapis/rpc/status"
	"google.golang.org/grpc"
	"google.golang.org/grpc/backoff"
	"google.golang.org/grpc/credentials/insecure"
	"google.golang.org/grpc/status"
	"google.golang.org/protobuf/encoding/protojson"
	"google.golang.org/protobuf/proto"

	pb "rowdatum/proto/gen/rowdatum/v1"
	"rowdatum/proto/httprules"
)

// maxCall is how long a client waits for an answer: longer than the service works on one.
const maxCall = 20 * time.Second

// way is one of the two ways into a service, without any manners of its own: what goes wrong is seen.
type way interface {
	append(context.Context, *write) (*pb.AppendResponse, error)
	// follow gives what a watch brings from behind a revision on, until it ends with a reason.
	follow(ctx context.Context, job string, after int32, take func(*pb.WatchJobResponse)) error
}

// overGRPC and overHTTP are the ways.
type overGRPC struct{ conn *grpc.ClientConn }

type overHTTP struct {
	base   string
	client *http.Client
}

// ways leads to a service at two addresses, HOST:PORT. close ends them.
func ways(atGRPC, atHTTP string) (both [2]way, conn *grpc.ClientConn, close func(), err error) {
	conn, err = grpc.NewClient("passthrough:///"+atGRPC, grpc.WithTransportCredentials(insecure.NewCredentials()),
		grpc.WithConnectParams(grpc.ConnectParams{Backoff: backoff.Config{BaseDelay: 50 * time.Millisecond, Multiplier: 1.5, MaxDelay: 250 * time.Millisecond}, MinConnectTimeout: time.Second}))
	if err != nil {
		return both, nil, nil, err
	}
	client := &http.Client{Transport: &http.Transport{MaxIdleConnsPerHost: 16}}
	return [2]way{overGRPC{conn}, overHTTP{"http://" + atHTTP, client}}, conn, func() {
		conn.Close()
		client.CloseIdleConnections()
	}, nil
}

func (o overGRPC) append(ctx context.Context, w *write) (*pb.AppendResponse, error) {
	jobs := pb.NewJobServiceClient(o.conn)
	if w.notes != nil {
		return jobs.AddNotes(ctx, w.notes)
	}
	return jobs.AddReadings(ctx, w.readings)
}

func (o overGRPC) follow(ctx context.Context, job string, after int32, take func(*pb.WatchJobResponse)) error {
	stream, err := pb.NewJobServiceClient(o.conn).WatchJob(ctx, &pb.WatchJobRequest{Name: job, AfterRevision: after})
	if err != nil {
		return err
	}
	for {
		news, err := stream.Recv()
		if err != nil {
			return err
		}
		take(news)
	}
}

func (o overHTTP) append(ctx context.Context, w *write) (*pb.AppendResponse, error) {
	answer := &pb.AppendResponse{}
	if w.notes != nil {
		return answer, o.call(ctx, w.notes, answer)
	}
	return answer, o.call(ctx, w.readings, answer)
}

func (o overHTTP) call(ctx context.Context, in, out proto.Message) error {
	request, err := o.request(ctx, in)
	if err != nil {
		return err
	}
	answer, err := o.client.Do(request)
	if err != nil {
		return err
	}
	defer answer.Body.Close()
	text, err := io.ReadAll(answer.Body)
	switch {
	case err != nil:
		return err
	case answer.StatusCode != http.StatusOK:
		return refusal(answer.StatusCode, text)
	}
	return protojson.Unmarshal(text, out)
}

// request is the call of a message's method.
func (o overHTTP) request(ctx context.Context, message proto.Message) (*http.Request, error) {
	built, err := httprules.For(message).Build(message)
	if err != nil {
		return nil, err
	}
	request, err := http.NewRequestWithContext(ctx, built.Verb, o.base+built.Target(), bytes.NewReader(built.Body))
	if err != nil {
		return nil, err
	}
	request.Header.Set("Content-Type", "application/json")
	return request, nil
}

// refusal reads an error as the gateway writes it.
func refusal(code int, text []byte) error {
	s := &spb.Status{}
	if err := protojson.Unmarshal(text, s); err != nil || s.GetCode() == 0 {
		return fmt.Errorf("HTTP status %d with %.200q", code, text)
	}
	return status.FromProto(s).Err()
}
