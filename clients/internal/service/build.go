package service

import (
	"context"
	"encoding/json"
	"fmt"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"time"
)

// Build builds rowdatumd into a folder, and the named adjusters' packages (threadedhandle, notchedstop, …) into its folder adjusters.
func Build(ctx context.Context, folder string, styles ...string) error {
	if err := os.Mkdir(filepath.Join(folder, "adjusters"), 0o755); err != nil {
		return err
	}
	for _, style := range styles {
		if err := BuildProgram(ctx, folder, "adjusters/"+style, "rowdatum/adjusters/"+style); err != nil {
			return err
		}
	}
	return BuildProgram(ctx, folder, "rowdatumd", "rowdatum/server/cmd/rowdatumd")
}

// BuildProgram builds a package into the named program of a folder, or copies it from ROWDATUM_BIN, where `make test` has
// built all programs once.
func BuildProgram(ctx context.Context, folder, name, pkg string) error {
	program := filepath.Join(folder, name)
	if built := os.Getenv("ROWDATUM_BIN"); built != "" {
		content, err := os.ReadFile(filepath.Join(built, name))
		if err != nil {
			return err
		}
		return os.WriteFile(program, content, 0o755)
	}
	if out, err := exec.CommandContext(ctx, "go", "build", "-ldflags=-s -w", "-o", program, pkg).CombinedOutput(); err != nil {
		return fmt.Errorf("go build %s: %w\n%s", pkg, err, out)
	}
	return nil
}

// Built builds the programs, runs them in a folder of their own, and waits until the named adjusters are served.
func Built(ctx context.Context, styles ...string) (*Service, error) {
	folder, err := os.MkdirTemp("", "rowdatum-built-")
	if err != nil {
		return nil, err
	}
	s, err := built(ctx, folder, styles)
	if err != nil {
		os.RemoveAll(folder)
	}
	return s, err
}

func built(ctx context.Context, folder string, styles []string) (*Service, error) {
	if err := Build(ctx, folder, styles...); err != nil {
		return nil, err
	}
	s, err := Start(ctx, Options{Program: filepath.Join(folder, "rowdatumd"), Folder: folder})
	if err != nil {
		return nil, err
	}
	s.ours = true
	if err := s.Serving(ctx); err != nil {
		s.End()
		return nil, err
	}
	return s, nil
}

// Serving waits until every program in its folder of adjusters is served.
func (s *Service) Serving(ctx context.Context) error {
	adjusters, err := os.ReadDir(s.options.Adjusters)
	if err != nil {
		return err
	}
	ctx, cancel := context.WithTimeout(ctx, maxStart)
	defer cancel()
	for {
		if n, err := s.served(ctx); err == nil && n >= len(adjusters) {
			return nil
		}
		select {
		case <-ctx.Done():
			return fmt.Errorf("not all of %d styles were served within %v. The service said:\n%s", len(adjusters), maxStart, s.Said)
		case <-time.After(20 * time.Millisecond):
		}
	}
}

// served counts the styles that are ready.
func (s *Service) served(ctx context.Context) (n int, err error) {
	request, err := http.NewRequestWithContext(ctx, http.MethodGet, s.URL()+"/v1/styles", nil)
	if err != nil {
		return 0, err
	}
	answer, err := http.DefaultClient.Do(request)
	if err != nil {
		return 0, err
	}
	defer answer.Body.Close()
	var list struct{ Styles []struct{ State string } }
	if err := json.NewDecoder(answer.Body).Decode(&list); err != nil {
		return 0, err
	}
	for _, style := range list.Styles {
		if style.State == "SERVING" {
			n++
		}
	}
	return n, nil
}
