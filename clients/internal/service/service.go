package service

import (
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
	"time"
)

// Bounds of a service's life.
const (
	maxStart = 20 * time.Second
	maxStop  = 10 * time.Second // it closes its adjusters in order first
)

// Options say what to run.
type Options struct {
	Program   string   // rowdatumd; empty: beside this program, else on the search path
	Adjusters string   // folder; empty: beside the program
	Folder    string   // keeps the store; empty: a new one, removed by End
	Flags     []string // more of them; the last of two counts
	Environ   []string // more variables
}

// Service is one service. Stop and Start may follow each other: its addresses and what it keeps stay.
type Service struct {
	GRPC string // HOST:PORT
	HTTP string // HOST:PORT
	Said *Tail  // the end of what its process wrote to its standard error

	options Options
	folder  string
	ours    bool // the folder, to be removed
	command *exec.Cmd
	stdin   io.Closer
	ended   chan struct{} // closed when the process has ended
}

// Start runs a service and waits until it listens.
func Start(ctx context.Context, o Options) (*Service, error) {
	program, err := find(o.Program)
	if err != nil {
		return nil, err
	}
	o.Program = program
	if o.Adjusters == "" {
		o.Adjusters = filepath.Join(filepath.Dir(o.Program), "adjusters")
	}
	s := &Service{GRPC: "127.0.0.1:0", HTTP: "127.0.0.1:0", Said: &Tail{}, options: o, folder: o.Folder, ours: o.Folder == ""}
	if s.ours {
		folder, err := os.MkdirTemp("", "rowdatum-")
		if err != nil {
			return nil, fmt.Errorf("a folder for the service's files cannot be made: %w", err)
		}
		s.folder = folder
	}
	if err := s.Start(ctx); err != nil {
		s.End()
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

// URL is where its JSON is.
func (s *Service) URL() string { return "http://" + s.HTTP }

// Store is the file in which it keeps what must not be lost, where no flag says otherwise.
func (s *Service) Store() string { return filepath.Join(s.folder, "rowdatum.db") }

// Process is its process, to be treated badly.
func (s *Service) Process() *os.Process { return s.command.Process }

func (s *Service) addressFile() string { return filepath.Join(s.folder, "addresses.json") }

// Start starts it again after Stop or Kill, and waits until it listens.
func (s *Service) Start(ctx context.Context) error {
	if err := os.Remove(s.addressFile()); err != nil && !errors.Is(err, os.ErrNotExist) {
		return err
	}
	if err := s.run(); err != nil {
		return fmt.Errorf("%s does not start: %w", s.options.Program, err)
	}
	if err := s.wait(ctx); err != nil {
		s.Stop()
		return err
	}
	return nil
}

// run starts the process and a goroutine that ends with it.
func (s *Service) run() error {
	flags := []string{"--grpc", s.GRPC, "--http", s.HTTP, "--addr-file", s.addressFile(), "--store", s.Store(),
		"--adjusters", s.options.Adjusters, "--log", "warn", "--until-stdin-closes"}
	s.command = exec.Command(s.options.Program, append(flags, s.options.Flags...)...)
	s.command.Env = append(plainEnviron(), s.options.Environ...)
	s.command.Stderr = s.Said
	s.command.WaitDelay = time.Second // for an adjuster that keeps the pipe
	stdin, err := s.command.StdinPipe()
	if err != nil {
		return err
	}
	if err := s.command.Start(); err != nil {
		return err
	}
	ended := make(chan struct{})
	s.stdin, s.ended = stdin, ended
	go func() {
		s.command.Wait() // how it ended shows in what it wrote
		close(ended)
	}()
	return nil
}

// plainEnviron leaves out the variables that set a service's flags: this one is told all.
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
		if s.readAddresses() {
			return nil
		}
		select {
		case <-ctx.Done():
			return errors.New("stopped before the service was ready")
		case <-s.ended:
			return fmt.Errorf("the service ended at once. It said:\n%s", s.Said)
		case <-limit.C:
			return fmt.Errorf("the service was not ready within %v. It said:\n%s", maxStart, s.Said)
		case <-look.C:
		}
	}
}

// readAddresses reports whether the file with the addresses is there and whole.
func (s *Service) readAddresses() bool {
	text, err := os.ReadFile(s.addressFile())
	if err != nil {
		return false
	}
	var at struct{ GRPC, HTTP string }
	if json.Unmarshal(text, &at) != nil || at.HTTP == "" {
		return false
	}
	s.GRPC, s.HTTP = at.GRPC, at.HTTP
	return true
}

// Stop ends the process and waits until it is gone: by closing its standard input, by force if need be.
func (s *Service) Stop() {
	s.stdin.Close()
	select {
	case <-s.ended:
	case <-time.After(maxStop):
		s.Kill()
	}
}

// Kill ends the process hard and waits until it is gone. Its adjusters find out by themselves.
func (s *Service) Kill() {
	s.command.Process.Kill()
	<-s.ended
	s.stdin.Close()
}

// End stops the service if it runs, and removes what it kept in a folder of its own.
func (s *Service) End() {
	if s.ended != nil {
		s.Stop()
	}
	if s.ours {
		os.RemoveAll(s.folder)
	}
}
