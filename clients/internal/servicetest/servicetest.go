package servicetest

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"time"
)

// Service is one service. Stop and Start may follow each other: its addresses and what it keeps stay.
type Service struct {
	GRPC string // HOST:PORT
	HTTP string // http://HOST:PORT

	folder  string
	command *exec.Cmd
	stdin   io.Closer
	ended   chan struct{} // closed when the process has ended
	said    *bytes.Buffer
}

// styles are the adjusters that it is built with.
var styles = []string{"threadedhandle", "notchedstop", "shimmedarm"}

// New builds the programs and starts the service with three styles.
func New() (*Service, error) {
	folder, err := os.MkdirTemp("", "rowdatum-client-test-")
	if err != nil {
		return nil, err
	}
	s := &Service{GRPC: "127.0.0.1:0", HTTP: "http://127.0.0.1:0", folder: folder}
	if err := s.begin(); err != nil {
		s.End()
		return nil, err
	}
	return s, nil
}

func (s *Service) begin() error {
	if err := s.build(); err != nil {
		return err
	}
	return s.Start()
}

func (s *Service) build() error {
	adjusters := filepath.Join(s.folder, "adjusters")
	if err := os.Mkdir(adjusters, 0o755); err != nil {
		return err
	}
	bundle := []string{"build", "-ldflags=-s -w", "-o", adjusters + "/"}
	for _, style := range styles {
		bundle = append(bundle, "rowdatum/adjusters/"+style)
	}
	for _, args := range [][]string{bundle, {"build", "-ldflags=-s -w", "-o", s.folder, "rowdatum/server/cmd/rowdatumd"}} {
		if out, err := exec.Command("go", args...).CombinedOutput(); err != nil {
			return fmt.Errorf("go %v: %w\n%s", args, err, out)
		}
	}
	return nil
}

// Start starts the service and waits until every style is served.
func (s *Service) Start() error {
	file := filepath.Join(s.folder, "addresses.json")
	if err := os.Remove(file); err != nil && !errors.Is(err, os.ErrNotExist) {
		return err
	}
	s.said = &bytes.Buffer{}
	s.command = exec.Command(filepath.Join(s.folder, "rowdatumd"), "--grpc", s.GRPC, "--http", s.HTTP[len("http://"):],
		"--addr-file", file, "--store", filepath.Join(s.folder, "rowdatum.db"), "--adjusters", filepath.Join(s.folder, "adjusters"),
		"--log", "warn", "--until-stdin-closes")
	s.command.Stderr = s.said
	s.command.WaitDelay = time.Second // for an adjuster that keeps the pipe
	stdin, err := s.command.StdinPipe()
	if err != nil {
		return err
	}
	s.stdin = stdin
	if err := s.command.Start(); err != nil {
		return err
	}
	s.ended = make(chan struct{})
	go func() { s.command.Wait(); close(s.ended) }() // how it ended shows in what it said
	for end := time.Now().Add(20 * time.Second); !s.ready(file); time.Sleep(20 * time.Millisecond) {
		if s.gone() || time.Now().After(end) {
			s.Stop()
			return fmt.Errorf("the service was not ready within 20 s. It said:\n%s", s.said)
		}
	}
	return nil
}

// ready reads the addresses and asks for the styles.
func (s *Service) ready(file string) bool {
	var at struct{ GRPC, HTTP string }
	if text, err := os.ReadFile(file); err != nil || json.Unmarshal(text, &at) != nil {
		return false
	}
	s.GRPC, s.HTTP = at.GRPC, "http://"+at.HTTP
	answer, err := http.Get(s.HTTP + "/v1/styles")
	if err != nil {
		return false
	}
	defer answer.Body.Close()
	var list struct{ Styles []struct{ State string } }
	if json.NewDecoder(answer.Body).Decode(&list) != nil || len(list.Styles) != len(styles) {
		return false
	}
	for _, style := range list.Styles {
		if style.State != "SERVING" {
			return false
		}
	}
	return true
}

// Stop ends the process and waits until it is gone.
func (s *Service) Stop() {
	s.stdin.Close()
	late := time.AfterFunc(10*time.Second, func() { s.command.Process.Kill() })
	defer late.Stop()
	<-s.ended
}

func (s *Service) gone() bool {
	select {
	case <-s.ended:
		return true
	default:
		return false
	}
}

// End stops the service if it runs, and removes all that it kept.
func (s *Service) End() {
	if s.ended != nil && !s.gone() {
		s.Stop()
	}
	os.RemoveAll(s.folder)
}
