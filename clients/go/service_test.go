package rowdatum_test

import (
	"context"
	"encoding/pem"
	"fmt"
	"net"
	"net/http/httptest"
	"os"
	"testing"
	"time"

	"google.golang.org/grpc"
	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/credentials"
	"google.golang.org/grpc/status"

	rowdatum "rowdatum/clients/go"
	"rowdatum/clients/internal/service"
	rowdatumv1 "rowdatum/proto/gen/rowdatum/v1"
)

// running is what the examples and the tests below speak to.
var running *service.Service

func TestMain(m *testing.M) {
	os.Exit(func() int {
		var err error
		if running, err = service.Built(context.Background(), "threadedhandle", "notchedstop", "shimmedarm"); err != nil {
			fmt.Fprintln(os.Stderr, err)
			return 1
		}
		defer running.End()
		os.Setenv("ROWDATUM_GRPC", running.GRPC)
		return m.Run()
	}())
}

// A service is stopped and started while a job is written and followed: each note is there once, and is told once.
func TestOverARestart(t *testing.T) {
	const notes = 30
	ctx, cancel := context.WithTimeout(t.Context(), time.Minute)
	defer cancel()
	client := dial(t, running.GRPC, rowdatum.Options{})
	planter, err := client.Planters.CreatePlanter(ctx, &rowdatumv1.CreatePlanterRequest{Planter: twoRows("Restarted")})
	if err != nil {
		t.Fatal(err)
	}
	job, err := client.Jobs.CreateJob(ctx, &rowdatumv1.CreateJobRequest{Parent: planter.GetName(), Job: &rowdatumv1.Job{}})
	if err != nil {
		t.Fatal(err)
	}
	restarted, written := make(chan error, 1), make(chan error, 1)
	go func() { written <- write(ctx, client, job.GetName(), notes) }()
	told := int32(0)
	for news, err := range client.Watch(ctx, job.GetName(), 0) {
		if err != nil {
			t.Fatal(err)
		}
		for _, event := range news.GetEvents() {
			if told++; event.GetRevision() != told {
				t.Fatalf("told of revision %d in place of %d", event.GetRevision(), told)
			}
			if want := fmt.Sprintf("note %d", told-1); event.GetNote() != nil && event.GetNote().GetText() != want {
				t.Errorf("revision %d says %q, want %q", told, event.GetNote().GetText(), want)
			}
			if told == notes/2 {
				go func() { running.Stop(); restarted <- running.Start(ctx) }()
			}
		}
	}
	for _, ended := range []chan error{written, restarted} {
		if err := <-ended; err != nil {
			t.Error(err)
		}
	}
	if told != notes+2 { // with the opening and the end
		t.Errorf("told of %d events", told)
	}
}

func write(ctx context.Context, client *rowdatum.Client, job string, notes int) error {
	for i := range notes {
		request := &rowdatumv1.AddNotesRequest{Name: job, Notes: []*rowdatumv1.Note{{Text: fmt.Sprintf("note %d", i+1)}}}
		if _, err := client.Jobs.AddNotes(ctx, request); err != nil {
			return err
		}
	}
	_, err := client.Jobs.VoidJob(ctx, &rowdatumv1.VoidJobRequest{Name: job, Reason: "only a trial"})
	return err
}

// Over TLS a service is believed that the shop's authority vouches for, and no other.
func TestOwnAuthority(t *testing.T) {
	certified := httptest.NewTLSServer(nil) // for its certificate, which names 127.0.0.1
	certified.Close()
	listener, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	server := grpc.NewServer(grpc.Creds(credentials.NewServerTLSFromCert(&certified.TLS.Certificates[0])))
	rowdatumv1.RegisterJobServiceServer(server, &fake{})
	ended := make(chan error, 1)
	go func() { ended <- server.Serve(listener) }()
	t.Cleanup(func() { server.Stop(); <-ended })

	authority := pem.EncodeToMemory(&pem.Block{Type: "CERTIFICATE", Bytes: certified.Certificate().Raw})
	trusting := dial(t, listener.Addr().String(), rowdatum.Options{Authority: authority})
	if _, err := trusting.Jobs.GetJob(t.Context(), &rowdatumv1.GetJobRequest{Name: spring}); err != nil {
		t.Errorf("with the authority: %v", err)
	}
	_, port, _ := net.SplitHostPort(listener.Addr().String())
	for name, o := range map[string]rowdatum.Options{"of another name": {Authority: authority}, "without TLS": {}} {
		address := listener.Addr().String()
		if len(o.Authority) > 0 {
			address = "localhost:" + port // the certificate does not name it
		}
		o.Patience = 100 * time.Millisecond
		_, err := dial(t, address, o).Jobs.GetJob(t.Context(), &rowdatumv1.GetJobRequest{})
		if code := status.Code(err); code != codes.Unavailable && code != codes.DeadlineExceeded { // a busy machine may not get as far as to refuse
			t.Errorf("%s: %v", name, err)
		}
	}
}
