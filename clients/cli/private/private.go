package private

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"strings"
	"sync"
	"time"
)

// Bounds of a service's life.
const (
	maxStart = 15 * time.Second
	maxStop  = 10 * time.Second // it closes its adjusters in order first
)

// Options say what to run. Zero values find it beside this program, else on the search path.
type Options struct {
	Program   string // rowdatumd
	Adjusters string // folder; beside the program
}

// Service is one running service.
type Service struct {
	URL string // http://127.0.0.1:…

	command *exec.Cmd
	stdin   io.Closer
	ended   chan struct{} // closed when the process has ended
	stderr  *tail
	folder  string
}

// Start runs a service and waits until it listens.
func Start(ctx context.Context, o Options) (*Service, error) {
	program, err := find(o.Program)
	if err != nil {
		return nil, err
	}
	if o.Adjusters == "" {
		o.Adjusters = filepath.Join(filepath.Dir(program), "adjusters")
	}
	folder, err := os.MkdirTemp("", "rowdatum-")
	if err != nil {
		return nil, fmt.Errorf("a folder for the service's files cannot be made: %w", err)
	}
	s := &Service{ended: make(chan struct{}), stderr: &tail{}, folder: folder}
	if err := s.run(program, o.Adjusters); err != nil {
		os.RemoveAll(folder)
		return nil, fmt.Errorf("%s does not start: %w", program, err)
	}
	if err := s.wait(ctx); err != nil {
		s.Stop()
		return nil, err
	}
	return s, nil
}

// find returns the service's program.
func find(program string) (string, error) {
	if program != "" {
		return program, nil
	}
	name := "rowdatumd"
	if runtime.GOOS == "windows" {
		name += ".exe"
	}
	if self, err := os.Executable(); err == nil {
		beside := filepath.Join(filepath.Dir(self), name)
		if _, err := os.Stat(beside); err == nil {
			return beside, nil
		}
	}
	if found, err := exec.LookPath(name); err == nil {
		return filepath.Abs(found)
	}
	return "", errors.New("rowdatumd stands neither beside this program nor on the search path; name a running service with --service")
}

func (s *Service) addressFile() string { return filepath.Join(s.folder, "address.json") }

// run starts the process and a goroutine that ends with it.
func (s *Service) run(program, adjusters string) error {
	s.command = exec.Command(program,
		"--grpc", "127.0.0.1:0", "--http", "127.0.0.1:0", "--addr-file", s.addressFile(),
		"--store", filepath.Join(s.folder, "rowdatum.db"), "--adjusters", adjusters,
		"--log", "warn", "--until-stdin-closes")
	s.command.Env = plainEnviron()
	s.command.Stderr = s.stderr
	s.command.WaitDelay = time.Second // for a grandchild that keeps the pipe
	stdin, err := s.command.StdinPipe()
	if err != nil {
		return err
	}
	s.stdin = stdin
	if err := s.command.Start(); err != nil {
		return err
	}
	go func() {
		s.command.Wait() // how it ended shows in what it wrote
		close(s.ended)
	}()
	return nil
}

// plainEnviron leaves out the variables that set a service's flags: a private service is told all.
func plainEnviron() []string {
	var environ []string
	for _, variable := range os.Environ() {
		if !strings.HasPrefix(variable, "ROWDATUM_") {
			environ = append(environ, variable)
		}
	}
	return environ
}

// wait returns when the service has written where it listens.
func (s *Service) wait(ctx context.Context) error {
	limit := time.NewTimer(maxStart)
	defer limit.Stop()
	const pause = 10 * time.Millisecond
	look := time.NewTicker(pause)
	defer look.Stop()
	for {
		if s.readAddress() {
			return nil
		}
		select {
		case <-ctx.Done():
			return errors.New("stopped before the private service was ready")
		case <-s.ended:
			return fmt.Errorf("the private service ended at once. It said:\n%s", s.stderr)
		case <-limit.C:
			return fmt.Errorf("the private service was not ready within %v. It said:\n%s", maxStart, s.stderr)
		case <-look.C:
		}
	}
}

// readAddress reports whether the address file is there and whole.
func (s *Service) readAddress() bool {
	text, err := os.ReadFile(s.addressFile())
	if err != nil {
		return false
	}
	var address struct {
		HTTP string `json:"http"`
	}
	if json.Unmarshal(text, &address) != nil || address.HTTP == "" {
		return false
	}
	s.URL = "http://" + address.HTTP
	return true
}

// Stop ends the service and waits until it is gone: by closing its standard input, by force if need be.
func (s *Service) Stop() {
	s.stdin.Close()
	select {
	case <-s.ended:
	case <-time.After(maxStop):
		s.command.Process.Kill()
		<-s.ended
	}
	os.RemoveAll(s.folder)
}

// tail keeps the end of what was written to it, enough to say why a service failed.
type tail struct {
	mu   sync.Mutex
	kept bytes.Buffer
}

const maxTail = 8 << 10

// Write never fails.
func (t *tail) Write(text []byte) (int, error) {
	t.mu.Lock()
	defer t.mu.Unlock()
	t.kept.Write(text)
	if over := t.kept.Len() - maxTail; over > 0 {
		t.kept.Next(over)
	}
	return len(text), nil
}

// String returns what was kept.
func (t *tail) String() string {
	t.mu.Lock()
	defer t.mu.Unlock()
	if text := strings.TrimSpace(t.kept.String()); text != "" {
		return text
	}
	return "(nothing)"
}
