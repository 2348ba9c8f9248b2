package rowdatum_test

import (
	"context"
	"encoding/pem"
	"errors"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"

	"google.golang.org/genproto/googleapis/rpc/errdetails"
	"google.golang.org/grpc"
	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/status"
	"google.golang.org/protobuf/types/known/durationpb"

	rowdatum "rowdatum/clients/go"
	rowdatumv1 "rowdatum/proto/gen/rowdatum/v1"
)

const spring = "planters/creek-six/jobs/spring"

func down() error { return refusal(codes.Unavailable, "ADJUSTER_DOWN") }

// What is safe to send again is, under one id; everything else is asked once.
func TestSendsAgainWhatIsSafe(t *testing.T) {
	note := func(c *rowdatum.Client) error {
		_, err := c.Jobs.AddNotes(t.Context(), &rowdatumv1.AddNotesRequest{Name: spring})
		return err
	}
	tests := []struct {
		name  string
		errs  []error
		call  func(*rowdatum.Client) error
		calls int
		code  codes.Code
	}{
		{"a write", []error{down(), down()}, note, 3, codes.OK},
		{"a read", []error{down()}, func(c *rowdatum.Client) error {
			_, err := c.Jobs.GetJob(t.Context(), &rowdatumv1.GetJobRequest{Name: spring})
			return err
		}, 2, codes.OK},
		{"a computation", []error{down()}, func(c *rowdatum.Client) error {
			_, err := c.Plans.ComputePlan(t.Context(), &rowdatumv1.ComputePlanRequest{})
			return err
		}, 2, codes.OK},
		{"a write without a request id", []error{down()}, func(c *rowdatum.Client) error {
			_, err := c.Access.CreatePairing(t.Context(), &rowdatumv1.CreatePairingRequest{})
			return err
		}, 1, codes.Unavailable},
		{"too many calls", []error{refusal(codes.ResourceExhausted, "TOO_MANY_CALLS", &errdetails.RetryInfo{RetryDelay: durationpb.New(time.Millisecond)})}, note, 2, codes.OK},
		{"too large", []error{refusal(codes.ResourceExhausted, "BODY_TOO_LARGE")}, note, 1, codes.ResourceExhausted},
		{"a fault of the service", []error{refusal(codes.Internal, "INTERNAL")}, note, 1, codes.Internal},
	}
	for _, tt := range tests {
		f := &fake{errs: tt.errs}
		err := tt.call(serve(t, f, rowdatum.Options{}))
		if status.Code(err) != tt.code || len(f.ids) != tt.calls {
			t.Errorf("%s: %d calls, %v", tt.name, len(f.ids), err)
		}
		if slices.ContainsFunc(f.ids, func(id string) bool { return id != f.ids[0] }) {
			t.Errorf("%s: sent as %v", tt.name, f.ids)
		}
	}
}

func TestRequestIDs(t *testing.T) {
	f := &fake{}
	client := serve(t, f, rowdatum.Options{Key: "rd_1", Language: "es"})
	own := &rowdatumv1.AddNotesRequest{Name: spring, RequestId: "6f1d7f0a-0d0c-4b39-9c5e-3a2b1c0d9e8f"}
	none := &rowdatumv1.AddNotesRequest{Name: spring}
	for _, request := range []*rowdatumv1.AddNotesRequest{own, none, none} {
		if _, err := client.Jobs.AddNotes(t.Context(), request); err != nil {
			t.Fatal(err)
		}
	}
	uuid := regexp.MustCompile(`^[0-9a-f]{8}-[0-9a-f]{4}-4[0-9a-f]{3}-[89ab][0-9a-f]{3}-[0-9a-f]{12}$`)
	if f.ids[0] != own.RequestId || !uuid.MatchString(f.ids[1]) || !uuid.MatchString(f.ids[2]) || f.ids[1] == f.ids[2] {
		t.Errorf("sent as %v", f.ids)
	}
	if none.RequestId != "" {
		t.Error("the caller's message was written to")
	}
	if key, language := f.metadata.Get("authorization"), f.metadata.Get("accept-language"); !slices.Equal(key, []string{"Bearer rd_1"}) || !slices.Equal(language, []string{"es"}) {
		t.Errorf("came with %v, %v", key, language)
	}
}

// Trying ends with the context, and what is told then is why there was something to try.
func TestPatienceEnds(t *testing.T) {
	client := dial(t, "127.0.0.1:1", rowdatum.Options{Patience: 50 * time.Millisecond})
	_, err := client.Jobs.GetJob(t.Context(), &rowdatumv1.GetJobRequest{Name: spring})
	if status.Code(err) != codes.Unavailable {
		t.Errorf("without a deadline: %v", err)
	}
	f := &fake{errs: []error{refusal(codes.Unavailable, "ADJUSTER_DOWN", &errdetails.RetryInfo{RetryDelay: durationpb.New(time.Hour)})}}
	ctx, cancel := context.WithTimeout(t.Context(), time.Minute)
	defer cancel()
	if _, err := serve(t, f, rowdatum.Options{}).Jobs.GetJob(ctx, &rowdatumv1.GetJobRequest{}); rowdatum.Reason(err) != "ADJUSTER_DOWN" {
		t.Errorf("a pause beyond the deadline: %v", err)
	}
	canceled, stop := context.WithCancel(t.Context())
	stop()
	if _, err := client.Jobs.GetJob(canceled, &rowdatumv1.GetJobRequest{}); !errors.Is(err, context.Canceled) {
		t.Errorf("cancelled: %v", err)
	}
}

func TestErrorsArriveWhole(t *testing.T) {
	f := &fake{errs: []error{refusal(codes.InvalidArgument, "INVALID_REQUEST", &errdetails.BadRequest{FieldViolations: []*errdetails.BadRequest_FieldViolation{
		{Field: "rows[3].readingsMm[0]", Description: "is 900"}, {Field: "aim.row", Description: "is 9"}}})}}
	_, err := serve(t, f, rowdatum.Options{}).Jobs.GetJob(t.Context(), &rowdatumv1.GetJobRequest{})
	e, ok := errors.AsType[*rowdatum.Error](err)
	if !ok || e.Code != codes.InvalidArgument || e.Reason != "INVALID_REQUEST" || e.Metadata["style"] != "cam-bolt" ||
		e.Error() != "No.\nrows[3].readingsMm[0]: is 900\naim.row: is 9" || status.Code(err) != codes.InvalidArgument {
		t.Errorf("got %#v", err)
	}
}

func TestDialRefuses(t *testing.T) {
	tests := []struct {
		address, want string
		options       rowdatum.Options
	}{
		{"creek.example", "is not HOST:PORT", rowdatum.Options{}},
		{"creek.example:7401", "leave out one", rowdatum.Options{Plain: true, Authority: []byte("x")}},
		{"creek.example:7401", "no certificate", rowdatum.Options{Authority: pem.EncodeToMemory(&pem.Block{Type: "CERTIFICATE"})}},
	}
	for _, tt := range tests {
		if _, err := rowdatum.Dial(tt.address, tt.options); err == nil || !strings.Contains(err.Error(), tt.want) {
			t.Errorf("%s %+v: %v", tt.address, tt.options, err)
		}
	}
}

type stream = grpc.ServerStreamingServer[rowdatumv1.WatchJobResponse]

// tells sends the revisions from…to in one message, with the job after them.
func tells(s stream, stage rowdatumv1.Job_Stage, from, to int32) error {
	m := &rowdatumv1.WatchJobResponse{Job: &rowdatumv1.Job{Stage: stage, Revision: to}}
	for r := from; r <= to; r++ {
		m.Events = append(m.Events, &rowdatumv1.JobEvent{Revision: r})
	}
	return s.Send(m)
}

// A watch goes on where it stood, whatever breaks it, and ends with the job.
func TestWatchComesBack(t *testing.T) {
	var afters []int32
	leg := func(from, to int32, end error) func(int32, stream) error {
		return func(after int32, s stream) error {
			afters = append(afters, after)
			stage := rowdatumv1.Job_OPEN
			if end == nil {
				stage = rowdatumv1.Job_SIGNED
			}
			return errors.Join(s.Send(&rowdatumv1.WatchJobResponse{}), tells(s, stage, from, to), end)
		}
	}
	f := &fake{watches: []func(int32, stream) error{
		func(after int32, s stream) error { return refusal(codes.Unavailable, "STOPPING") },
		leg(4, 6, refusal(codes.Unavailable, "STOPPING")),
		func(after int32, s stream) error { return refusal(codes.ResourceExhausted, "READER_TOO_SLOW") },
		leg(6, 9, status.Error(codes.Unavailable, "")), // tells 6 once more
		leg(10, 10, nil),
	}}
	var got []int32
	for news, err := range serve(t, f, rowdatum.Options{}).Watch(t.Context(), spring, 3) {
		if err != nil {
			t.Fatal(err)
		}
		for _, event := range news.GetEvents() {
			got = append(got, event.GetRevision())
		}
	}
	if !slices.Equal(got, []int32{4, 5, 6, 7, 8, 9, 10}) || !slices.Equal(afters, []int32{3, 6, 9}) {
		t.Errorf("got %v, asked behind %v", got, afters)
	}
}

func TestWatchEnds(t *testing.T) {
	waits := func(after int32, s stream) error {
		if err := tells(s, rowdatumv1.Job_OPEN, 1, 1); err != nil {
			return err
		}
		<-s.Context().Done()
		return nil
	}
	t.Run("with a refusal", func(t *testing.T) {
		f := &fake{watches: []func(int32, stream) error{func(int32, stream) error { return refusal(codes.NotFound, "NOT_FOUND") }}}
		for news, err := range serve(t, f, rowdatum.Options{}).Watch(t.Context(), spring, 0) {
			if news != nil || rowdatum.Reason(err) != "NOT_FOUND" {
				t.Errorf("got %v, %v", news, err)
			}
		}
	})
	t.Run("where nobody is", func(t *testing.T) {
		told := 0
		for _, err := range dial(t, "127.0.0.1:1", rowdatum.Options{Patience: 50 * time.Millisecond}).Watch(t.Context(), spring, 0) {
			if told++; status.Code(err) != codes.Unavailable {
				t.Errorf("got %v", err)
			}
		}
		if told != 1 {
			t.Errorf("told %d times", told)
		}
	})
	t.Run("with its context", func(t *testing.T) {
		ctx, cancel := context.WithCancel(t.Context())
		defer cancel()
		var last error
		for _, err := range serve(t, &fake{watches: []func(int32, stream) error{waits}}, rowdatum.Options{}).Watch(ctx, spring, 0) {
			last = err
			cancel()
		}
		if !errors.Is(last, context.Canceled) {
			t.Errorf("got %v", last)
		}
	})
	t.Run("when the reader leaves", func(t *testing.T) {
		for range serve(t, &fake{watches: []func(int32, stream) error{waits}}, rowdatum.Options{}).Watch(t.Context(), spring, 0) {
			break
		}
	})
}
