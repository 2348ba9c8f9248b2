package load

import (
	"fmt"
	"os"
	"strings"
	"testing"
	"time"

	"google.golang.org/protobuf/proto"

	"rowdatum/clients/internal/service"
	"rowdatum/clients/prove/internal/proof"
	rowdatumv1 "rowdatum/proto/gen/rowdatum/v1"
)

// TestMain is the echo where this program is started as that.
func TestMain(m *testing.M) {
	if !Asked() {
		os.Exit(m.Run())
	}
	if err := Echo(os.Stdin, os.Stdout); err != nil {
		fmt.Fprintln(os.Stderr, err)
		os.Exit(1)
	}
}

// TestRun is the short form of everything. A part itself fails where a watcher misses or doubles an event or a job is not
// signed; how fast things were is not judged here, only that the memory of neither side has doubled.
func TestRun(t *testing.T) {
	programs := t.TempDir()
	if err := service.Build(t.Context(), programs, "threadedhandle"); err != nil {
		t.Fatal(err)
	}
	var tables []proof.Table
	for _, part := range []proof.Part{Speeds, Memory, Bounds} {
		said, err := part(t.Context(), proof.Setting{Programs: programs, Quick: true, Say: t.Logf})
		if err != nil {
			t.Fatal(err)
		}
		tables = append(tables, said...)
	}
	rows := map[string]int{"Plans over gRPC": len(callers), "Plans as JSON over HTTP": len(callers), "Watchers of one job": 1, "Jobs at once": 2, "Memory under a mixed load": 2, "Watches of the largest job through links": 1}
	for _, table := range tables {
		if len(table.Rows) != rows[table.Title] {
			t.Errorf("%s: %d rows, want %d", table.Title, len(table.Rows), rows[table.Title])
		}
		delete(rows, table.Title)
		for _, row := range table.Rows {
			if len(row.Cells) != len(table.Columns) || !(row.Ratio > 0) {
				t.Errorf("%s: %v, ratio %v", table.Title, row.Cells, row.Ratio)
			}
			if !strings.HasPrefix(table.Title, "Plans") && row.Missed() {
				t.Errorf("%s: %v, ratio %v", table.Title, row.Cells, row.Ratio)
			}
		}
	}
	if len(rows) > 0 {
		t.Errorf("nothing is said of %v", rows)
	}
}

// TestEchoAnswers: the echo gives back what it was told, one answer after the other, and nothing to other methods.
func TestEchoAnswers(t *testing.T) {
	if _, err := startEcho(t.Context(), script{"/rowdatum.v1.PlanService/NoSuch": {encoded(t, 1)}}); err == nil || !strings.Contains(err.Error(), "the echo does not start") {
		t.Errorf("a method that is not there: got %v", err)
	}
	e, err := startEcho(t.Context(), script{rowdatumv1.PlanService_ComputePlan_FullMethodName: {encoded(t, 1), encoded(t, 2)}})
	if err != nil {
		t.Fatal(err)
	}
	defer e.end()
	conn, err := dial(e.GRPC)
	if err != nil {
		t.Fatal(err)
	}
	defer conn.Close()
	seen := map[float64]int{}
	for range 4 {
		plan, err := rowdatumv1.NewPlanServiceClient(conn).ComputePlan(t.Context(), planRequests(1, 1)[0])
		if err != nil {
			t.Fatal(err)
		}
		seen[plan.GetDatumMm()]++
	}
	if seen[1] != 2 || seen[2] != 2 {
		t.Errorf("answers seen: %v, want each of two twice", seen)
	}
	if used, err := processor(e.pid()); err != nil || used > time.Minute {
		t.Errorf("the echo has used %v, %v", used, err)
	}
}

func encoded(t *testing.T, datumMm float64) []byte {
	t.Helper()
	text, err := proto.Marshal(&rowdatumv1.Plan{DatumMm: datumMm})
	if err != nil {
		t.Fatal(err)
	}
	return text
}

func TestQuantile(t *testing.T) {
	all := []time.Duration{4, 1, 3, 2, 5}
	if got := []time.Duration{quantile(all, 0), quantile(all, 0.5), quantile(all, 1), quantile(nil, 0.5)}; got[0] != 1 || got[1] != 3 || got[2] != 5 || got[3] != 0 {
		t.Errorf("got %v", got)
	}
	if got := median([]float64{3, 1, 2, 10}); got != 2.5 {
		t.Errorf("median %v, want 2.5", got)
	}
}
