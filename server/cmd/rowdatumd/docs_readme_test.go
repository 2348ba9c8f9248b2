package main

import (
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	pb "rowdatum/proto/gen/rowdatum/v1"
)

// TestReadme does what every block of the README says. What `make demo` and `make test` do is CI's own.
func TestReadme(t *testing.T) {
	t.Parallel()
	r := newRoom(t)
	r.page = "README.md"
	r.start()
	blocks := blocksOf(t, r.source("README.md"))
	if len(blocks) < 8 {
		t.Fatalf("%d blocks: the test looks at nothing", len(blocks))
	}
	var printed []byte
	for _, b := range blocks {
		printed = r.readme(b, printed)
	}
}

// readme does one block, and returns what it prints; printed is what the block before it printed. A block that
// begins with none of these words has nobody who does it.
func (r *room) readme(b block, printed []byte) []byte {
	r.t.Helper()
	first, _, _ := strings.Cut(strings.TrimSpace(b.text), " ")
	switch {
	case slices.Contains([]string{"make", "curl", "bin/rowdatum", "bin/rowdatumd"}, first):
		return r.commands(b)
	case strings.HasPrefix(first, "planter,"):
		r.must(os.WriteFile(filepath.Join(r.dir, "six.csv"), []byte(b.text), 0o644))
		return r.commands(block{text: "bin/rowdatum plan six.csv"})
	case first == "row":
		if err := b.compare(r, printed); err != nil {
			r.t.Errorf("README.md: %v\n%s", err, printed)
		}
	case first == "func":
		r.quoted(b, "adjusters/adjuster/example_test.go")
	default:
		r.t.Errorf("README.md: nobody does this block:\n%s", b.text)
	}
	return nil
}

// commands runs a block. What is built is there already: of make, only that it knows the target.
func (r *room) commands(b block) []byte {
	r.t.Helper()
	r.before(b)
	var shell strings.Builder
	for line := range strings.Lines(b.text) {
		switch command := strings.Fields(line); command[0] {
		case "make":
			if out, err := exec.Command("make", "-n", "-C", r.source(""), command[1]).CombinedOutput(); err != nil {
				r.t.Errorf("README.md: make %s: %v %s", command[1], err, out)
			}
		case "bin/rowdatumd": // the reader's own is at the usual address all the while, on the usual store
			shell.WriteString("bin/rowdatumd --store another.db\n")
		default:
			shell.WriteString(line)
		}
	}
	out, err := r.run(r.here(shell.String()))
	if err != nil || strings.HasPrefix(string(out), `{"code"`) {
		r.t.Fatalf("README.md: %v\n%s\n%s", err, &shell, out)
	}
	return out
}

// before brings what a block takes for granted: who answers a walk, a signed job, the files of a reader.
func (r *room) before(b block) {
	r.t.Helper()
	switch {
	case strings.Contains(b.text, "job walk "):
		r.input = "y\ny\ny\ny\ny\nin\n1 13/16\n2\n" // and is called away
	case strings.Contains(b.text, "rowdatum sheet "):
		r.signWalked("planters/depot-sixteen/jobs/spring")
		for name, text := range map[string]string{
			"seeds.csv":    "row,seed 1 (in),seed 2 (in),seed 3 (in)\n1,2,1 7/8,2 1/16\n2,1 15/16,2,2\n",
			"readings.csv": "row,person,value (in)\n1,Ada,2\n1,Ada,2 1/16\n5,Ada,2 1/4\n5,Ada,2 3/16\n9,Ada,1 7/8\n9,Ada,1 7/8\n",
		} {
			r.must(os.WriteFile(filepath.Join(r.dir, name), []byte(text), 0o644))
		}
		_, err := r.run("bin/rowdatum fixture add 'Tape in a window' --kind window --id tape")
		r.must(err)
	}
}

// signWalked ends the job that the walk began.
func (r *room) signWalked(name string) {
	r.t.Helper()
	w, ctx := waysTo(r.t, r.service.addresses)[0], r.t.Context()
	job := must[*pb.Job](r.t)(w.jobs().GetJob(ctx, &pb.GetJobRequest{Name: name}))
	if job.State.Rows[1].Readings != 1 || job.State.Cautions[4].Person != "Ada" {
		r.t.Fatalf("README.md: the walk left %v", job.State.Rows[:2])
	}
	var readings []*pb.Reading
	for _, row := range job.State.Rows {
		readings = append(readings, inMM(row.Row, 0, 50.8, 50.8, 50.8, 50.8)...)
	}
	after := func(answer *pb.AppendResponse, err error) { job = must[*pb.AppendResponse](r.t)(answer, err).Job }
	after(w.jobs().AddReadings(ctx, &pb.AddReadingsRequest{Name: name, Person: ada, Readings: readings}))
	after(w.jobs().PlanJob(ctx, &pb.PlanJobRequest{Name: name, Etag: job.Etag}))
	after(w.jobs().SignJob(ctx, &pb.SignJobRequest{Name: name, Etag: job.Etag, Person: ada}))
}

// quoted looks for every line of a block in the file that it is from.
func (r *room) quoted(b block, from string) {
	r.t.Helper()
	source, err := os.ReadFile(r.source(from))
	r.must(err)
	for line := range strings.Lines(b.text) {
		if line = strings.TrimSpace(line); !strings.Contains(string(source), line) {
			r.t.Errorf("README.md: %q is not in %s", line, from)
		}
	}
}
