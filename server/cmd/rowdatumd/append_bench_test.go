package main

import (
	"context"
	"net"
	"slices"
	"sync"
	"testing"
	"time"

	"go.uber.org/zap"
	"google.golang.org/grpc"

	pb "rowdatum/proto/gen/rowdatum/v1"
	"rowdatum/server/internal/api"
)

const (
	benchCallers = 16
	appendsEach  = 25 // of one caller in one run, to a job of its own
	benchRuns    = 7  // at least, of either
)

// BenchmarkAppendOverGRPC compares durable appends over gRPC at 16 callers with a bare gRPC server that
// answers each call with what the service answered and does nothing else: ratio is the median of
// alternated runs, 1 is as fast as the echo. p99 is of the durable appends.
func BenchmarkAppendOverGRPC(b *testing.B) {
	service := assemble(b, zap.NewNop(), api.WatchTimes{}, 0)
	ours := service.ways[0]
	must[*pb.Planter](b)(ours.planters().CreatePlanter(b.Context(), &pb.CreatePlanterRequest{Planter: depot(b), PlanterId: "p"}))
	jobs := openJobs(b, ours)
	answer := must[*pb.AppendResponse](b)(ours.jobs().AddReadings(b.Context(), benchReading(jobs[0], 0)))
	bare := echo(b, answer)

	var ratios, rates []float64
	var waits []time.Duration
	run := func() {
		jobs = openJobs(b, ours) // a job has tens of readings, not thousands
		took, each := appendAll(b, ours, jobs)
		bareTook, _ := appendAll(b, bare, jobs)
		waits = append(waits, each...)
		ratios = append(ratios, bareTook.Seconds()/took.Seconds())
		rates = append(rates, benchCallers*appendsEach/took.Seconds())
	}
	for b.Loop() {
		run()
	}
	for len(ratios) < benchRuns {
		run()
	}
	slices.Sort(waits)
	b.ReportMetric(middle(ratios), "ratio")
	b.ReportMetric(middle(rates), "appends/s")
	b.ReportMetric(float64(waits[len(waits)*99/100].Microseconds())/1000, "p99-ms")
}

func middle(all []float64) float64 {
	slices.Sort(all)
	return all[len(all)/2]
}

func openJobs(b *testing.B, w way) (names []string) {
	b.Helper()
	for range benchCallers {
		job := must[*pb.Job](b)(w.jobs().CreateJob(b.Context(), &pb.CreateJobRequest{Parent: "planters/p", Job: &pb.Job{}}))
		names = append(names, job.Name)
	}
	return names
}

func benchReading(job string, n int) *pb.AddReadingsRequest {
	return &pb.AddReadingsRequest{Name: job, RequestId: newRequestID(), Person: ada, Readings: inMM(int32(n%16)+1, 0, 50)}
}

// appendAll has every caller append to its own job, and returns the time of it all and of each append.
func appendAll(b *testing.B, w way, jobs []string) (took time.Duration, waits []time.Duration) {
	b.Helper()
	var wait sync.WaitGroup
	each := make([][]time.Duration, len(jobs))
	begun := time.Now()
	for i, job := range jobs {
		wait.Go(func() {
			for n := range appendsEach {
				start := time.Now()
				if _, err := w.jobs().AddReadings(b.Context(), benchReading(job, n)); err != nil {
					b.Error(err)
					return
				}
				each[i] = append(each[i], time.Since(start))
			}
		})
	}
	wait.Wait()
	return time.Since(begun), slices.Concat(each...)
}

// echoing answers every append with the same answer.
type echoing struct {
	pb.UnimplementedJobServiceServer
	answer *pb.AppendResponse
}

func (e *echoing) AddReadings(context.Context, *pb.AddReadingsRequest) (*pb.AppendResponse, error) {
	return e.answer, nil
}

func echo(b *testing.B, answer *pb.AppendResponse) way {
	b.Helper()
	listener := must[net.Listener](b)(net.Listen("tcp", "127.0.0.1:0"))
	server := grpc.NewServer()
	pb.RegisterJobServiceServer(server, &echoing{answer: answer})
	served := make(chan error, 1)
	go func() { served <- server.Serve(listener) }()
	b.Cleanup(func() {
		server.Stop()
		if err := <-served; err != nil {
			b.Error(err)
		}
	})
	return waysTo(b, addresses{GRPC: listener.Addr().String()})[0]
}
