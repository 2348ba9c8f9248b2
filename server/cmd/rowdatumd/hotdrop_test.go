package main

import (
	"context"
	"encoding/json"
	"fmt"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"google.golang.org/protobuf/types/known/structpb"

	pb "rowdatum/proto/gen/rowdatum/v1"
)

// servedWithin is how soon a program that is put into the folder must be served, or refused: ten times the two seconds
// that are promised, because a test may share the machine with others. It logs how long it took.
const servedWithin = 20 * time.Second

// author is somebody who writes an adjuster outside these sources.
type author struct{ sources string }

// newAuthor makes the module as an author would.
func newAuthor(t *testing.T, style string) author {
	t.Helper()
	a := author{filepath.Join(t.TempDir(), style)}
	inShell(t, ".", filepath.Join(programs, "rowdatum"), "adjuster", "new", style, "--sdk", "../../..", "--into", a.sources)
	return a
}

func inShell(t *testing.T, dir, program string, args ...string) {
	t.Helper()
	cmd := exec.Command(program, args...)
	cmd.Dir = dir
	if out, err := cmd.CombinedOutput(); err != nil {
		t.Fatalf("%s %v: %v\n%s", program, args, err, out)
	}
}

// change writes a new version: its figure counts for more.
func (a author) change(t *testing.T, file, from, to string) {
	t.Helper()
	path := filepath.Join(a.sources, file)
	text, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	changed := regexp.MustCompile(from).ReplaceAllLiteral(text, []byte(to))
	if string(changed) == string(text) {
		t.Fatalf("%s has no %s", file, from)
	}
	if err := os.WriteFile(path, changed, 0o644); err != nil {
		t.Fatal(err)
	}
}

// install builds the program and copies it over whatever is there.
func (a author) install(t *testing.T, folder string) (put time.Time) {
	t.Helper()
	built := filepath.Join(t.TempDir(), "built")
	inShell(t, a.sources, "go", "build", "-ldflags=-s -w", "-o", built, ".")
	inShell(t, ".", "cp", built, filepath.Join(folder, filepath.Base(a.sources)))
	return time.Now()
}

// jacks is a plan of two rows on the author's style, the second 20 mm too shallow: four steps. n makes its
// figures ones that nobody has asked for before.
func jacks(style string, n int64) *pb.ComputePlanRequest {
	figures, _ := structpb.NewStruct(map[string]any{"mmPerStep": 5 + float64(n)/1e6, "steps": 20.0})
	at, _ := structpb.NewStruct(map[string]any{"step": 10.0})
	return &pb.ComputePlanRequest{
		Fixture:    &pb.FixtureFigures{ResolutionMm: with(0.1), RepeatabilityMm: with(0.1)},
		Aim:        &pb.Aim{Kind: pb.Aim_SET_DEPTH, DatumMm: with(60.0), ToleranceMm: with(2.0)},
		Mechanisms: []*pb.Mechanism{{Id: "m", Style: style, Figures: figures}},
		Rows: []*pb.RowReadings{
			{Row: 1, Mechanism: "m", Setting: at, ReadingsMm: []float64{60}},
			{Row: 2, Mechanism: "m", Setting: at, ReadingsMm: []float64{40}},
		},
	}
}

// TestHotDrop: into a service under load comes a style that it has never seen, then a new version of it, then
// a bad one. No plan fails, each version is planned with in time, and the bad one changes nothing.
func TestHotDrop(t *testing.T) {
	const style = "shop-jack"
	folder := t.TempDir()
	inShell(t, ".", "cp", "-r", bundle()+"/.", folder)
	if err := os.Chmod(folder, 0o755); err != nil {
		t.Fatal(err)
	}
	service := start(t, folder)
	plans := pb.NewPlanServiceClient(service.conn)
	writer := newAuthor(t, style)

	ctx, stop := context.WithCancel(t.Context())
	var working sync.WaitGroup
	defer working.Wait()
	defer stop()
	var asked atomic.Int64
	bundled := &load{request: func(n int64) *pb.ComputePlanRequest { return oneRow("notched-stop", n, "mmPerNotch", "notches") }}
	ofJacks := &load{request: func(int64) *pb.ComputePlanRequest { return jacks(style, asked.Add(1)) }}
	working.Go(func() { bundled.run(ctx, plans) })

	steps := func() float64 {
		plan, err := plans.ComputePlan(t.Context(), jacks(style, 0))
		if err != nil {
			return 0
		}
		return plan.GetRows()[1].GetMove().GetCount()
	}
	waitFor := func(what string, put time.Time, good func() bool) {
		t.Helper()
		for !good() {
			if time.Since(put) > servedWithin {
				t.Fatalf("%s: not within %v: %s", what, servedWithin, listed(t, service, style))
			}
			time.Sleep(20 * time.Millisecond)
		}
		t.Logf("%s after %v", what, time.Since(put).Round(time.Millisecond))
	}

	waitFor("planned with", writer.install(t, folder), func() bool { return steps() == 4 })
	working.Go(func() { ofJacks.run(ctx, plans) })

	writer.change(t, "mechanism.go", `DepthMm: f\.MmPerStep \*`, "DepthMm: 2 * f.MmPerStep *")
	writer.change(t, "words.go", `Version: "[^"]*"`, `Version: "0.2.0"`)
	waitFor("new version planned with", writer.install(t, folder), func() bool { return steps() == 2 })

	banner := "package main\n\nimport \"fmt\"\n\nfunc init() { fmt.Println(\"Welcome\") }\n"
	if err := os.WriteFile(filepath.Join(writer.sources, "banner.go"), []byte(banner), 0o644); err != nil {
		t.Fatal(err)
	}
	waitFor("bad version refused", writer.install(t, folder), func() bool {
		is := listed(t, service, style)
		return is.State == "SERVING" && is.Version == "0.2.0" &&
			strings.Contains(is.StateReason, "A newer file of it is refused: The program's first words were not an adjuster's")
	})
	if got := steps(); got != 2 {
		t.Errorf("the plan says %v steps, want 2", got)
	}
	stop()
	working.Wait()
	for name, l := range map[string]*load{"bundled": bundled, "the author's": ofJacks} {
		t.Logf("%s: %d plans, longest wait %v", name, l.answered.Load(), time.Duration(l.longest.Load()))
		if l.failed.Load() > 0 || l.answered.Load() == 0 {
			t.Errorf("%s: %d plans failed, %d were answered", name, l.failed.Load(), l.answered.Load())
		}
	}
}

// listedStyle is what GET /v1/styles says of one style.
type listedStyle struct{ Name, Version, State, StateReason string }

func listed(t *testing.T, service running, style string) listedStyle {
	t.Helper()
	answer, err := http.Get(service.url("/v1/styles"))
	if err != nil {
		t.Fatal(err)
	}
	defer answer.Body.Close()
	var all struct{ Styles []listedStyle }
	if err := json.NewDecoder(answer.Body).Decode(&all); err != nil {
		t.Fatal(err)
	}
	for _, s := range all.Styles {
		if s.Name == "styles/"+style {
			return s
		}
	}
	return listedStyle{StateReason: fmt.Sprintf("not among %d styles", len(all.Styles))}
}

// TestLockCommand: the service runs what the command has locked, and nothing that came later.
func TestLockCommand(t *testing.T) {
	t.Parallel()
	folder := t.TempDir()
	inShell(t, ".", "cp", "-r", bundle()+"/.", folder)
	if err := os.Chmod(folder, 0o755); err != nil {
		t.Fatal(err)
	}
	said, err := exec.Command(filepath.Join(programs, "rowdatumd"), "adjuster", "lock", "--adjusters", folder).Output()
	if err != nil {
		t.Fatal(err)
	}
	text, err := os.ReadFile(filepath.Join(folder, "adjusters.lock"))
	if err != nil || string(said) != string(text) || strings.Count(string(text), "\n") == 0 {
		t.Errorf("printed\n%s\nwritten\n%s(%v)", said, text, err)
	}
	inShell(t, ".", "cp", filepath.Join(folder, "notchedstop"), filepath.Join(folder, "unknown"))
	service := start(t, folder)
	if is := listed(t, service, "unknown"); is.State != "QUARANTINED" || !strings.Contains(is.StateReason, "not in adjusters.lock") {
		t.Errorf("%+v", is)
	}
	if is := listed(t, service, "notched-stop"); is.State != "SERVING" {
		t.Errorf("%+v", is)
	}
}
