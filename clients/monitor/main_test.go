package main

import (
	"bytes"
	"context"
	"os"
	"strings"
	"testing"
	"time"

	"google.golang.org/protobuf/types/known/structpb"

	rowdatum "rowdatum/clients/go"
	"rowdatum/clients/internal/service"
	rowdatumv1 "rowdatum/proto/gen/rowdatum/v1"
)

// Two rows, a turn apart, from the opening to the signature, as somebody sees it who looks on.
func TestMonitor(t *testing.T) {
	running, err := service.Built(t.Context(), "threadedhandle")
	if err != nil {
		t.Fatal(err)
	}
	defer running.End()
	ctx, cancel := context.WithTimeout(t.Context(), time.Minute)
	defer cancel()
	client, err := rowdatum.Dial(running.GRPC, rowdatum.Options{})
	if err != nil {
		t.Fatal(err)
	}
	defer client.Close()
	shop := &shop{t, ctx, client}
	planter := shop.planter()
	seen := make(chan struct{})
	look := func() (string, error) {
		out := &screen{job: seen}
		err := run(ctx, []string{"--service", running.GRPC, planter}, out)
		return out.String(), err
	}
	wants(t, "before any job", look, "Two rows of the creek farm (planters/creek-two)", "No job is signed yet.", "No job is open.")
	job := shop.open(planter)
	ended := make(chan struct{})
	go func() { defer close(ended); <-seen; shop.level(job) }()
	wants(t, "a whole job", look, "last: opened", "row 2 read by Ada Quill", "planters/creek-two/jobs/w-1207: signed",
		"signed by Ada Quill on", "datum 50.8 mm, spread 0.0 mm", "1    0.0 mm     even     measured   turns:8")
	<-ended
	if err := run(ctx, []string{"--service", running.GRPC, "none"}, &bytes.Buffer{}); rowdatum.Reason(err) == "" {
		t.Errorf("a planter that is not there: %v", err)
	}
}

// The example stays one to start from.
func TestUnder200Lines(t *testing.T) {
	text, err := os.ReadFile("main.go")
	if lines := strings.Count(string(text), "\n"); err != nil || lines >= 200 {
		t.Errorf("%d lines, %v", lines, err)
	}
}

func wants(t *testing.T, when string, look func() (string, error), wants ...string) {
	t.Helper()
	got, err := look()
	if err != nil {
		t.Errorf("%s: %v", when, err)
	}
	for _, want := range wants {
		if !strings.Contains(got, want) {
			t.Errorf("%s: %q is not in\n%s", when, want, got)
		}
	}
}

// screen keeps what is drawn, and tells when the job is on it.
type screen struct {
	bytes.Buffer
	job  chan struct{}
	told bool
}

func (s *screen) Write(text []byte) (int, error) {
	n, err := s.Buffer.Write(text)
	if !s.told && strings.Contains(s.String(), "last: opened") {
		s.told = true
		close(s.job)
	}
	return n, err
}

// shop does what technicians do.
type shop struct {
	t      *testing.T
	ctx    context.Context
	client *rowdatum.Client
}

func (s *shop) check(err error) {
	s.t.Helper()
	if err != nil {
		s.t.Error(err)
	}
}

func (s *shop) planter() string {
	object := func(fields map[string]any) *structpb.Struct {
		made, err := structpb.NewStruct(fields)
		s.check(err)
		return made
	}
	planter := &rowdatumv1.Planter{DisplayName: "Two rows of the creek farm", Mechanisms: []*rowdatumv1.Mechanism{{
		Id: "handle", Style: "threaded-handle", Figures: object(map[string]any{"mmPerTurn": 6.35, "smallestTurn": 0.25, "totalTurns": 16})}}}
	for row := range int32(2) {
		planter.Rows = append(planter.Rows, &rowdatumv1.PlanterRow{Row: row + 1, Mechanism: "handle", Setting: object(map[string]any{"turns": 8})})
	}
	made, err := s.client.Planters.CreatePlanter(s.ctx, &rowdatumv1.CreatePlanterRequest{PlanterId: "creek-two", Planter: planter})
	s.check(err)
	return made.GetName()
}

func (s *shop) open(planter string) *rowdatumv1.Job {
	job, err := s.client.Jobs.CreateJob(s.ctx, &rowdatumv1.CreateJobRequest{Parent: planter, JobId: "w-1207", Job: &rowdatumv1.Job{}})
	s.check(err)
	return job
}

// level ticks, reads, plans and signs; the rows are even as found.
func (s *shop) level(job *rowdatumv1.Job) {
	ticks := &rowdatumv1.TickCautionsRequest{Name: job.GetName(), Person: "Ada Quill"}
	for _, caution := range job.GetState().GetCautions() {
		ticks.Ticks = append(ticks.Ticks, &rowdatumv1.CautionTick{Caution: caution.GetId()})
	}
	_, err := s.client.Jobs.TickCautions(s.ctx, ticks)
	s.check(err)
	for row := range int32(2) {
		_, err := s.client.Jobs.AddReadings(s.ctx, &rowdatumv1.AddReadingsRequest{Name: job.GetName(), Person: "Ada Quill",
			Readings: []*rowdatumv1.Reading{{Row: row + 1, Value: new(50.8), Unit: rowdatumv1.LengthUnit_MM}}})
		s.check(err)
	}
	job, err = s.client.Jobs.GetJob(s.ctx, &rowdatumv1.GetJobRequest{Name: job.GetName()})
	s.check(err)
	done, err := s.client.Jobs.PlanJob(s.ctx, &rowdatumv1.PlanJobRequest{Name: job.GetName(), Etag: job.GetEtag()})
	s.check(err)
	_, err = s.client.Jobs.SignJob(s.ctx, &rowdatumv1.SignJobRequest{Name: job.GetName(), Etag: done.GetJob().GetEtag(), Person: "Ada Quill"})
	s.check(err)
}
