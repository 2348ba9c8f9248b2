package main

import (
	"bytes"
	"context"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"sync"
	"sync/atomic"
	"syscall"
	"testing"
	"time"

	"google.golang.org/grpc"
	"google.golang.org/protobuf/types/known/structpb"

	pb "rowdatum/proto/gen/rowdatum/v1"
)

// children returns the running processes whose parent is pid, by program name.
func children(t testing.TB, pid int) map[string]int {
	t.Helper()
	found := map[string]int{}
	stats, err := filepath.Glob("/proc/[0-9]*/stat")
	if err != nil {
		t.Fatal(err)
	}
	for _, path := range stats {
		text, err := os.ReadFile(path)
		if err != nil {
			continue // it has just ended
		}
		// pid (name) state ppid …; the name may hold anything.
		open, end := bytes.IndexByte(text, '('), bytes.LastIndexByte(text, ')')
		rest := strings.Fields(string(text[end+1:]))
		if rest[0] != "Z" && rest[1] == strconv.Itoa(pid) {
			child, err := strconv.Atoi(strings.TrimSpace(string(text[:open])))
			if err != nil {
				t.Fatal(err)
			}
			found[string(text[open+1:end])] = child
		}
	}
	return found
}

func alive(pid int) bool { return syscall.Kill(pid, 0) == nil }

// program starts the real rowdatumd with the bundle and returns it with its adjusters, once ready.
func program(t testing.TB, stdin io.Reader, args ...string) (*exec.Cmd, map[string]int) {
	t.Helper()
	dir := t.TempDir()
	addr := filepath.Join(dir, "addr")
	cmd := exec.Command(filepath.Join(programs, "rowdatumd"), append([]string{"--grpc", "127.0.0.1:0", "--http", "127.0.0.1:0",
		"--store", filepath.Join(dir, "rowdatum.db"), "--adjusters", bundle(), "--addr-file", addr, "--log", "warn"}, args...)...)
	cmd.Stdin, cmd.Stderr = stdin, t.Output()
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { cmd.Process.Kill(); cmd.Wait() })
	readAddresses(t, addr, nil)
	running := children(t, cmd.Process.Pid)
	if installed, err := os.ReadDir(bundle()); err != nil || len(installed) == 0 || len(running) != len(installed) {
		t.Fatalf("the service runs %v, want one each of %v (%v)", running, installed, err)
	}
	return cmd, running
}

func waitGone(t *testing.T, pids map[string]int, within time.Duration) {
	t.Helper()
	deadline := time.Now().Add(within)
	for name, pid := range pids {
		for alive(pid) {
			if time.Now().After(deadline) {
				t.Errorf("%s (%d) is still there after %v", name, pid, within)
				break
			}
			time.Sleep(20 * time.Millisecond)
		}
	}
}

// orphansLeave is how long adjusters may outlive a service that was killed hard.
const orphansLeave = 15 * time.Second

func TestKilledServiceLeavesNoAdjuster(t *testing.T) {
	t.Parallel()
	cmd, adjusters := program(t, nil)
	if err := cmd.Process.Kill(); err != nil {
		t.Fatal(err)
	}
	waitGone(t, adjusters, orphansLeave)
}

func TestServiceStopsInOrder(t *testing.T) {
	t.Parallel()
	cmd, adjusters := program(t, nil)
	if err := cmd.Process.Signal(syscall.SIGTERM); err != nil {
		t.Fatal(err)
	}
	if err := cmd.Wait(); err != nil {
		t.Errorf("it ended with %v", err)
	}
	waitGone(t, adjusters, 0)
}

func TestServiceStopsWhenStdinCloses(t *testing.T) {
	t.Parallel()
	in, out, err := os.Pipe()
	if err != nil {
		t.Fatal(err)
	}
	defer in.Close()
	cmd, adjusters := program(t, in, "--until-stdin-closes")
	if err := out.Close(); err != nil {
		t.Fatal(err)
	}
	if err := cmd.Wait(); err != nil {
		t.Errorf("it ended with %v", err)
	}
	waitGone(t, adjusters, 0)
}

// heals is how long plans that need a killed or frozen adjuster may fail or wait.
const heals = 2 * time.Second

// TestHealsUnderLoad kills and freezes an adjuster while plans are asked for without a pause. Plans that
// do not need it never fail; those that do are answered again within two seconds.
func TestHealsUnderLoad(t *testing.T) {
	service := start(t, bundle())
	plans := pb.NewPlanServiceClient(service.conn)
	for _, hit := range []struct {
		name   string
		signal syscall.Signal
	}{{"killed", syscall.SIGKILL}, {"frozen", syscall.SIGSTOP}} {
		t.Run(hit.name, func(t *testing.T) {
			ctx, cancel := context.WithCancel(t.Context())
			others := &load{request: func(n int64) *pb.ComputePlanRequest { return oneRow("notched-stop", n, "mmPerNotch", "notches") }}
			needing := &load{request: func(n int64) *pb.ComputePlanRequest {
				return oneRow("threaded-handle", n, "mmPerTurn", "smallestTurn", "totalTurns")
			}}
			var wait sync.WaitGroup
			for _, l := range []*load{others, others, needing, needing} {
				wait.Go(func() { l.run(ctx, plans) })
			}
			pause(t, 300*time.Millisecond)
			victim := children(t, os.Getpid())["threadedhandle"]
			if victim == 0 {
				t.Fatal("no threadedhandle is running")
			}
			struck := time.Now()
			if err := syscall.Kill(victim, hit.signal); err != nil {
				t.Fatal(err)
			}
			pause(t, heals)
			before := needing.answered.Load()
			pause(t, time.Second)
			cancel()
			wait.Wait()

			if n := others.failed.Load(); n > 0 {
				t.Errorf("%d of %d plans that do not need the adjuster failed", n, others.answered.Load()+n)
			}
			if others.answered.Load() == 0 || needing.answered.Load() == before {
				t.Errorf("too little was answered: %d plans without the adjuster, %d with it after it should have healed",
					others.answered.Load(), needing.answered.Load()-before)
			}
			if last := needing.lastFailure(); !last.IsZero() && last.Sub(struck) > heals {
				t.Errorf("plans that need the adjuster still failed %v after it was %s", last.Sub(struck), hit.name)
			}
			if alive(victim) {
				waitGone(t, map[string]int{"the struck adjuster": victim}, heals)
			}
			t.Logf("%s: plans with it %d answered, %d failed; without it %d answered, longest wait %v", hit.name,
				needing.answered.Load(), needing.failed.Load(), others.answered.Load(), time.Duration(others.longest.Load()))
		})
	}
}

func pause(t *testing.T, d time.Duration) {
	t.Helper()
	select {
	case <-time.After(d):
	case <-t.Context().Done():
		t.Fatal(t.Context().Err())
	}
}

// load asks for one plan after another, each with figures that nobody has asked for before.
type load struct {
	request                     func(n int64) *pb.ComputePlanRequest
	asked, answered, failed     atomic.Int64
	longest, lastFailureAtNanos atomic.Int64
}

func (l *load) run(ctx context.Context, plans pb.PlanServiceClient) {
	for ctx.Err() == nil {
		begun := time.Now()
		_, err := plans.ComputePlan(ctx, l.request(l.asked.Add(1)), grpc.WaitForReady(true))
		if ctx.Err() != nil {
			return
		}
		if err != nil {
			l.failed.Add(1)
			l.lastFailureAtNanos.Store(time.Now().UnixNano())
			continue
		}
		l.answered.Add(1)
		l.longest.Store(max(l.longest.Load(), int64(time.Since(begun))))
	}
}

func (l *load) lastFailure() time.Time {
	if at := l.lastFailureAtNanos.Load(); at != 0 {
		return time.Unix(0, at)
	}
	return time.Time{}
}

var serial atomic.Int64 // figures stay new from one test to the next

func oneRow(style string, n int64, figures ...string) *pb.ComputePlanRequest {
	usual := map[string]float64{"mmPerNotch": 4, "notches": 20, "mmPerTurn": 4, "smallestTurn": 0.25, "totalTurns": 16}
	usual[figures[0]] += float64(serial.Add(1)) / 1e6
	given := &structpb.Struct{Fields: map[string]*structpb.Value{}}
	for _, figure := range figures {
		given.Fields[figure] = structpb.NewNumberValue(usual[figure])
	}
	return &pb.ComputePlanRequest{
		Mechanisms: []*pb.Mechanism{{Id: "m", Style: style, Figures: given}},
		Rows:       []*pb.RowReadings{{Row: 1, Mechanism: "m", ReadingsMm: []float64{50 + float64(n%10)}}},
	}
}

// BenchmarkReady is the time from starting the service to its being ready with its three adjusters, in times of its process
// when it only says how it is called.
func BenchmarkReady(b *testing.B) {
	begun := time.Now()
	const rounds = 5
	for range rounds {
		if out, err := exec.Command(filepath.Join(programs, "rowdatumd"), "--help").CombinedOutput(); err != nil {
			b.Fatal(err, string(out))
		}
	}
	base := float64(time.Since(begun)) / rounds
	b.ResetTimer()
	defer func() { b.ReportMetric(float64(b.Elapsed())/float64(b.N)/base, "x-process") }()
	for b.Loop() {
		cmd, _ := program(b, nil)
		b.StopTimer()
		if err := cmd.Process.Kill(); err != nil {
			b.Fatal(err)
		}
		b.StartTimer()
	}
}
