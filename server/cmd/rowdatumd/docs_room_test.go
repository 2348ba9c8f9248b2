package main

import (
	"bytes"
	"context"
	"fmt"
	"io"
	"net/http"
	"net/http/httptest"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"sync"
	"testing"
	"time"

	pb "rowdatum/proto/gen/rowdatum/v1"
	"rowdatum/server/internal/absent"
)

// room is where a reader of the docs sits: a folder as that of the sources, the machine's own folders, and
// where the page wants one, a service at its usual address and somebody who receives what hooks send.
type room struct {
	t    *testing.T
	page string

	dir   string            // the reader's folder, with bin and testdata in it
	root  string            // below it are /etc, /var/lib, /srv and /usr/local
	at    string            // where the shell stands
	input string            // what the reader answers to the next block's questions
	told  map[string]string // what blocks leave open, and what it turned out to be

	service   running
	receiver  *inbox
	following []following
}

func newRoom(t *testing.T) *room {
	r := &room{t: t, dir: t.TempDir(), root: t.TempDir()}
	r.at = r.dir
	r.told = map[string]string{"PATH/OF/ROWDATUM": r.source(""), "./my-adjuster": filepath.Join(r.dir, "bin/adjusters/notchedstop")}
	for _, dir := range []string{"etc/prometheus", "etc/rowdatum", "etc/systemd/system", "var/lib/rowdatum", "var/cache/rowdatum", "srv/backup", "srv/rowdatum", "usr/local/bin", "usr/local/lib/rowdatum"} {
		r.must(os.MkdirAll(filepath.Join(r.root, dir), 0o755))
	}
	r.must(os.MkdirAll(filepath.Join(r.dir, "bin/adjusters"), 0o755))
	built, err := filepath.Glob(filepath.Join(bundle(), "*"))
	r.must(err)
	for _, program := range built {
		r.must(os.Link(program, filepath.Join(r.dir, "bin/adjusters", filepath.Base(program))))
	}
	for name, target := range map[string]string{
		filepath.Join(r.dir, "bin/rowdatum"):                      filepath.Join(programs, "rowdatum"),
		filepath.Join(r.dir, "bin/rowdatumd"):                     r.source("server/cmd/rowdatumd/testdata/docs/rowdatumd"),
		filepath.Join(r.dir, "testdata"):                          r.source("testdata"),
		filepath.Join(r.root, "usr/local/bin/rowdatumd"):          r.source("server/cmd/rowdatumd/testdata/docs/rowdatumd"),
		filepath.Join(r.root, "usr/local/lib/rowdatum/adjusters"): filepath.Join(r.dir, "bin/adjusters"),
		filepath.Join(r.root, "srv/rowdatum/adjusters"):           filepath.Join(r.dir, "bin/adjusters"),
	} {
		r.must(os.Symlink(target, name))
	}
	return r
}

func (r *room) must(err error) {
	r.t.Helper()
	if err != nil {
		r.t.Fatal(err)
	}
}

// source is the place of something in the sources.
func (r *room) source(name string) string {
	r.t.Helper()
	place, err := filepath.Abs(filepath.Join("../../..", name))
	r.must(err)
	return place
}

var wantsService = regexp.MustCompile(`(?m)curl |^rowdatum |EventSource`)

// prepare starts what the page's blocks speak to.
func (r *room) prepare(blocks []block) {
	r.t.Helper()
	for _, b := range blocks {
		if r.service.HTTP == "" && wantsService.MatchString(b.text) {
			r.start()
		}
	}
}

// save saves a block that has the name of a file, where it says or where the reader stands.
func (r *room) save(b block) {
	r.t.Helper()
	name := b.file()
	if name == "" {
		return
	}
	place := filepath.Join(r.at, name)
	if filepath.IsAbs(name) {
		place = r.here(name)
	}
	r.must(os.WriteFile(place, []byte(r.here(b.text)), 0o644))
}

// start starts a service in the reader's folder, on the store that commands there take, and a receiver.
func (r *room) start() {
	r.t.Helper()
	r.receiver = &inbox{}
	door := httptest.NewServer(r.receiver)
	r.t.Cleanup(door.Close)
	r.told["https://shop.example"] = door.URL
	r.must(os.MkdirAll(filepath.Join(r.dir, "data"), 0o755))
	r.service = startWith(r.t, &flags{GRPC: "127.0.0.1:0", HTTP: "127.0.0.1:0", Store: filepath.Join(r.dir, "data/rowdatum.db"), HooksToPrivate: true, HookTimeout: hookTimeout,
		Adjusters: filepath.Join(r.dir, "bin/adjusters"), AddrFile: filepath.Join(r.t.TempDir(), "addr")})
	for _, usual := range []string{"http://127.0.0.1:7480", "https://rowdatum.shop.example:7480"} {
		r.told[usual] = r.service.url("")
	}
}

// here is a text of a page with the addresses and folders of this room in it.
func (r *room) here(text string) string {
	for said, is := range r.told { // none is part of another
		text = strings.ReplaceAll(text, said, is)
	}
	return strings.NewReplacer(
		"127.0.0.1:7480:7480", "127.0.0.1:7480:7480", "127.0.0.1:7480", "127.0.0.1:0", "=:7480", "=:0", "127.0.0.1:7482", "127.0.0.1:0",
		"/etc/", r.root+"/etc/", "/var/lib/", r.root+"/var/lib/", "/srv/", r.root+"/srv/", "/usr/local/", r.root+"/usr/local/",
		"%S/", r.root+"/var/lib/", "%C/", r.root+"/var/cache/",
	).Replace(text)
}

// command is a shell that stands where the one before it ended.
func (r *room) command(ctx context.Context, shell string) *exec.Cmd {
	cmd := exec.CommandContext(ctx, "bash", "-e", "-o", "pipefail", "-c", shell)
	cmd.Dir, cmd.WaitDelay = r.at, time.Second
	for _, variable := range os.Environ() {
		if !strings.HasPrefix(variable, "ROWDATUM_") && !strings.HasPrefix(variable, "OTEL_") {
			cmd.Env = append(cmd.Env, variable)
		}
	}
	stand := r.source("server/cmd/rowdatumd/testdata/docs") // in place of engines that the machine may not have
	cmd.Env = append(cmd.Env, "PROGRAMS="+programs, "PATH="+stand+":"+programs+":"+os.Getenv("PATH"))
	if r.service.HTTP != "" {
		cmd.Env = append(cmd.Env, "ROWDATUM_SERVICE="+r.service.url(""), "SERVICE="+r.service.url(""))
	}
	return cmd
}

// run pastes shell and returns what it prints.
func (r *room) run(shell string) ([]byte, error) {
	ctx, cancel := context.WithTimeout(r.t.Context(), 2*time.Minute)
	defer cancel()
	stands := filepath.Join(r.root, "stands")
	cmd := r.command(ctx, shell+"\npwd > "+stands)
	var complaint bytes.Buffer
	cmd.Stdin, cmd.Stderr, r.input = strings.NewReader(r.input), &complaint, ""
	out, err := cmd.Output()
	if err != nil {
		return out, fmt.Errorf("%w: %s", err, &complaint)
	}
	at, err := os.ReadFile(stands)
	r.at = strings.TrimSpace(string(at))
	return out, err
}

// inbox keeps what hooks send.
type inbox struct {
	mu   sync.Mutex
	came [][]byte
}

func (i *inbox) ServeHTTP(_ http.ResponseWriter, req *http.Request) {
	if body, err := io.ReadAll(req.Body); err == nil {
		i.mu.Lock()
		defer i.mu.Unlock()
		i.came = append(i.came, body)
	}
}

func (i *inbox) all() [][]byte {
	i.mu.Lock()
	defer i.mu.Unlock()
	return i.came
}

// signSpring works the job that the pages speak of to its signature.
func (r *room) signSpring() {
	r.t.Helper()
	w, ctx := waysTo(r.t, r.service.addresses)[0], r.t.Context()
	must[*pb.Planter](r.t)(w.planters().CreatePlanter(ctx, &pb.CreatePlanterRequest{Planter: handles(2), PlanterId: "creek-six"}))
	job := must[*pb.Job](r.t)(w.jobs().CreateJob(ctx, &pb.CreateJobRequest{Parent: "planters/creek-six", JobId: "spring", Person: ada,
		Job: &pb.Job{WorkOrder: "W-1207", ExternalIds: map[string]string{"books": "88-4711"}}}))
	after := func(answer *pb.AppendResponse, err error) { job = must[*pb.AppendResponse](r.t)(answer, err).Job }
	after(w.jobs().TickCautions(ctx, &pb.TickCautionsRequest{Name: job.Name, Person: ada, Ticks: allTicks(job)}))
	after(w.jobs().AddReadings(ctx, &pb.AddReadingsRequest{Name: job.Name, Person: ada, Readings: append(inMM(1, 0, 50), inMM(2, 0, 50)...)}))
	after(w.jobs().PlanJob(ctx, &pb.PlanJobRequest{Name: job.Name, Etag: job.Etag}))
	after(w.jobs().SignJob(ctx, &pb.SignJobRequest{Name: job.Name, Etag: job.Etag, Person: ada}))
}

// received holds what the page says that a hook sends against what the receiver got.
func (r *room) received(b block) {
	r.t.Helper()
	r.signSpring()
	err := fmt.Errorf("nothing came")
	for end := time.Now().Add(patience); err != nil && time.Now().Before(end); time.Sleep(20 * time.Millisecond) {
		for _, body := range r.receiver.all() {
			if err = b.compare(r, body); err == nil {
				break
			}
		}
	}
	if err != nil {
		r.t.Errorf("%s: no hook sends what is shown: %v\n%s", r.page, err, r.receiver.all())
	}
}

// hasNode is false where there is no Node; a test skips by name then.
func (r *room) hasNode() bool {
	r.t.Helper()
	_, err := exec.LookPath("node")
	if err == nil {
		return true
	}
	r.t.Run("an example in JavaScript", func(t *testing.T) { absent.Skip(t, "node, which runs it") })
	return false
}

// script runs a block for browsers in Node, with what a browser has; it shows the job until its signature.
func (r *room) script(b block) {
	r.t.Helper()
	if !r.hasNode() {
		return
	}
	r.signSpring()
	browser, err := os.ReadFile("testdata/docs/browser.mjs")
	r.must(err)
	file := filepath.Join(r.dir, "example.mjs")
	r.must(os.WriteFile(file, append(browser, b.text...), 0o644))
	if out, err := r.run("node " + file); err != nil || !strings.Contains(string(out), "creek-six/jobs/spring SIGNED 10\n") {
		r.t.Errorf("%s: %v\n%s\nshowed\n%s", r.page, err, b.text, out)
	}
}
