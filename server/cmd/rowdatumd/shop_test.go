package main

import (
	"context"
	"crypto/rand"
	"fmt"
	"net/url"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/jackc/pgx/v5"
	"google.golang.org/genproto/googleapis/rpc/errdetails"
	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/status"
	"google.golang.org/protobuf/encoding/protojson"
	"google.golang.org/protobuf/types/known/structpb"

	pb "rowdatum/proto/gen/rowdatum/v1"
	"rowdatum/server/internal/absent"
)

// The people of the shop are invented.
const (
	ada = "Ada Quill"
	ben = "Ben Harrow"
)

// depot is the mixed planter of testdata: handles, notched stops and shims.
func depot(t testing.TB) *pb.Planter {
	t.Helper()
	text, err := os.ReadFile("../../../testdata/requests/depot-sixteen.json")
	if err != nil {
		t.Fatal(err)
	}
	from := &pb.ComputePlanRequest{}
	if err := protojson.Unmarshal(text, from); err != nil {
		t.Fatal(err)
	}
	out := &pb.Planter{DisplayName: "Sixteen-row from the depot, rebuilt", Mechanisms: from.Mechanisms, Reach: from.Reach}
	for _, row := range from.Rows {
		out.Rows = append(out.Rows, &pb.PlanterRow{Row: row.Row, Mechanism: row.Mechanism, Setting: row.Setting})
	}
	return out
}

// handles is a planter whose rows all have handles, at 8 turns.
func handles(rows int32) *pb.Planter {
	out := &pb.Planter{DisplayName: "Handles", Mechanisms: []*pb.Mechanism{{Id: "handle", Style: "threaded-handle",
		Figures: fields("mmPerTurn", 6.35, "smallestTurn", 0.25, "totalTurns", 16.0)}}}
	for row := int32(1); row <= rows; row++ {
		out.Rows = append(out.Rows, &pb.PlanterRow{Row: row, Mechanism: "handle", Setting: turns(8)})
	}
	return out
}

func turns(n float64) *structpb.Struct { return fields("turns", n) }

func fields(pairs ...any) *structpb.Struct {
	out := &structpb.Struct{Fields: map[string]*structpb.Value{}}
	for i := 0; i < len(pairs); i += 2 {
		out.Fields[pairs[i].(string)] = structpb.NewNumberValue(pairs[i+1].(float64))
	}
	return out
}

// openJob makes a planter of the given id with one job.
func openJob(t testing.TB, w way, id string, p *pb.Planter) *pb.Job {
	t.Helper()
	ctx, cancel := context.WithTimeout(t.Context(), 20*time.Second)
	defer cancel()
	if _, err := w.planters().CreatePlanter(ctx, &pb.CreatePlanterRequest{Planter: p, PlanterId: id}); err != nil {
		t.Fatal(err)
	}
	job, err := w.jobs().CreateJob(ctx, &pb.CreateJobRequest{Parent: "planters/" + id, Job: &pb.Job{}, JobId: "spring", Person: ada})
	if err != nil {
		t.Fatal(err)
	}
	return job
}

// inMM are readings in mm, all of one stay.
func inMM(row, afterMove int32, values ...float64) []*pb.Reading {
	var out []*pb.Reading
	for _, v := range values {
		out = append(out, &pb.Reading{Row: row, Value: &v, Unit: pb.LengthUnit_MM, AfterMove: afterMove})
	}
	return out
}

func must[T any](t testing.TB) func(T, error) T {
	return func(x T, err error) T {
		t.Helper()
		if err != nil {
			t.Fatal(err)
		}
		return x
	}
}

func newRequestID() string {
	var b [16]byte
	_, _ = rand.Read(b[:]) // never fails
	return fmt.Sprintf("%x-%x-%x-%x-%x", b[:4], b[4:6], b[6:8], b[8:10], b[10:])
}

// reasonOf is the code and the reason of an error.
func reasonOf(err error) (codes.Code, string) {
	s := status.Convert(err)
	for _, d := range s.Details() {
		if info, ok := d.(*errdetails.ErrorInfo); ok {
			return s.Code(), info.Reason
		}
	}
	return s.Code(), ""
}

func wantReason(t testing.TB, what string, err error, code codes.Code, reason string) {
	t.Helper()
	if c, r := reasonOf(err); c != code || r != reason {
		t.Errorf("%s: %v %s, want %v %s: %v", what, c, r, code, reason, err)
	}
}

// allEvents reads a job's whole log, page by page.
func allEvents(t testing.TB, w way, name string) []*pb.JobEvent {
	t.Helper()
	var out []*pb.JobEvent
	for token := ""; ; {
		page := must[*pb.ListJobEventsResponse](t)(w.jobs().ListJobEvents(t.Context(), &pb.ListJobEventsRequest{Parent: name, PageSize: 1000, PageToken: token}))
		out = append(out, page.Events...)
		if token = page.NextPageToken; token == "" {
			return out
		}
	}
}

// process is the real program on a store.
type process struct {
	addresses
	cmd  *exec.Cmd
	file string // its address file
	ways [2]way
}

// begin starts the program without waiting for it.
func begin(t testing.TB, store string, args ...string) *process {
	t.Helper()
	p := prepare(t, store, args...)
	if err := p.cmd.Start(); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(p.kill)
	return p
}

// prepare is the program before it is started.
func prepare(t testing.TB, store string, args ...string) *process {
	t.Helper()
	p := &process{file: filepath.Join(t.TempDir(), "addr")}
	p.cmd = exec.Command(filepath.Join(programs, "rowdatumd"), append([]string{"--grpc", "127.0.0.1:0", "--http", "127.0.0.1:0",
		"--store", store, "--adjusters", bundle(), "--addr-file", p.file, "--log", "warn"}, args...)...)
	p.cmd.Stderr = t.Output()
	return p
}

func launch(t testing.TB, store string, args ...string) *process {
	t.Helper()
	p := begin(t, store, args...)
	p.addresses = readAddresses(t, p.file, nil)
	p.ways = waysTo(t, p.addresses)
	return p
}

// kill ends the program hard, as a power cut would.
func (p *process) kill() {
	_ = p.cmd.Process.Kill() // it may be gone
	_ = p.cmd.Wait()
}

// onEveryStore runs a test on SQLite and on PostgreSQL.
func onEveryStore(t *testing.T, test func(t *testing.T, store string)) {
	t.Run("SQLite", func(t *testing.T) { test(t, filepath.Join(t.TempDir(), "rowdatum.db")) })
	t.Run("PostgreSQL", func(t *testing.T) { onPostgres(t, test) })
}

// postgresServer is the environment variable with the URL of a server where databases may be made.
const postgresServer = "ROWDATUM_TEST_POSTGRES"

// onPostgres runs a test on a database of its own, and skips it where there is no server.
func onPostgres(t *testing.T, test func(t *testing.T, store string)) {
	t.Helper()
	server := os.Getenv(postgresServer)
	if server == "" {
		absent.Skip(t, "a PostgreSQL server: "+postgresServer+" is not set (.ci/postgres with go test … starts a server)")
	}
	test(t, newDatabase(t, server))
}

func newDatabase(t testing.TB, server string) string {
	t.Helper()
	name := "rowdatumd_test_" + strings.ReplaceAll(newRequestID(), "-", "")
	exec := func(ctx context.Context, text string) {
		conn, err := pgx.Connect(ctx, server)
		if err != nil {
			t.Fatal(err)
		}
		defer conn.Close(ctx)
		if _, err := conn.Exec(ctx, text); err != nil {
			t.Fatal(err)
		}
	}
	exec(t.Context(), "CREATE DATABASE "+name)
	t.Cleanup(func() { exec(context.Background(), "DROP DATABASE "+name+" WITH (FORCE)") })
	u, err := url.Parse(server)
	if err != nil {
		t.Fatal(err)
	}
	u.Path = "/" + name
	return u.String()
}
