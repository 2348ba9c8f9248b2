package service_test

import (
	"bufio"
	"context"
	"fmt"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"rowdatum/clients/internal/service"
)

// TestMain lets the test's own program stand in for the service: FAKE_SERVICE says how it behaves.
func TestMain(m *testing.M) {
	switch os.Getenv("FAKE_SERVICE") {
	case "":
		os.Exit(m.Run())
	case "good":
		os.WriteFile(argument("--addr-file"), []byte(`{"grpc": "127.0.0.1:1", "http": "127.0.0.1:2"}`), 0o600)
		io.Copy(io.Discard, os.Stdin)
		if gone := os.Getenv("FAKE_GONE"); gone != "" {
			os.WriteFile(gone, nil, 0o600)
		}
	case "parent":
		os.Setenv("FAKE_SERVICE", "good")
		if _, err := service.Start(context.Background(), service.Options{Program: os.Args[0]}); err == nil {
			fmt.Println("ready")
		}
		time.Sleep(time.Minute)
	case "broken":
		fmt.Fprintln(os.Stderr, strings.Repeat("x", 20000)+"the folder of adjusters is missing")
		os.Exit(1)
	case "slow":
		os.WriteFile(argument("--addr-file"), []byte(`{"http": "127.`), 0o600) // half written
		io.Copy(io.Discard, os.Stdin)
	case "told":
		told := fmt.Sprint(os.Args[1:], os.Getenv("ROWDATUM_KEYS"))
		os.WriteFile(argument("--addr-file"), fmt.Appendf(nil, `{"http": %q}`, told), 0o600)
		io.Copy(io.Discard, os.Stdin)
	}
}

func argument(flag string) string { return os.Args[slices.Index(os.Args, flag)+1] }

func start(t *testing.T, behaves string) (*service.Service, error) {
	t.Helper()
	t.Setenv("FAKE_SERVICE", behaves)
	t.Setenv("TMPDIR", t.TempDir())
	return service.Start(t.Context(), service.Options{Program: os.Args[0], Adjusters: "ADJUSTERS"})
}

func noFolderIsLeft(t *testing.T) {
	t.Helper()
	left, err := os.ReadDir(os.TempDir())
	if err != nil || len(left) > 0 {
		t.Errorf("left behind: %v, %v", left, err)
	}
}

func TestStartAndStop(t *testing.T) {
	running, err := start(t, "good")
	if err != nil {
		t.Fatal(err)
	}
	if running.URL() != "http://127.0.0.1:2" {
		t.Errorf("got %s", running.URL())
	}
	began := time.Now()
	running.End()
	if took := time.Since(began); took > 5*time.Second {
		t.Errorf("a service that watches its standard input took %v to stop", took)
	}
	noFolderIsLeft(t)
}

func TestServiceIsToldEverything(t *testing.T) {
	t.Setenv("ROWDATUM_KEYS", "secret")
	running, err := start(t, "told")
	if err != nil {
		t.Fatal(err)
	}
	defer running.End()
	for _, want := range []string{"--grpc 127.0.0.1:0", "--http 127.0.0.1:0", "--adjusters ADJUSTERS", "--log warn", "--until-stdin-closes", "rowdatum.db"} {
		if !strings.Contains(running.URL(), want) {
			t.Errorf("the service was not told %q: %s", want, running.URL())
		}
	}
	if strings.Contains(running.URL(), "secret") {
		t.Error("the service saw a variable that sets another service's flags")
	}
}

func TestServiceThatFailsIsQuoted(t *testing.T) {
	_, err := start(t, "broken")
	if err == nil || !strings.HasSuffix(err.Error(), "the folder of adjusters is missing") || len(err.Error()) > 9000 {
		t.Errorf("got %.200v", err)
	}
	noFolderIsLeft(t)
}

func TestProgramThatIsNotThere(t *testing.T) {
	t.Setenv("TMPDIR", t.TempDir())
	if _, err := service.Start(t.Context(), service.Options{Program: "/no/such/program"}); err == nil {
		t.Error("started a program that is not there")
	}
	noFolderIsLeft(t)
}

func TestNoProgramAtAll(t *testing.T) {
	t.Setenv("PATH", t.TempDir())
	_, err := service.Start(t.Context(), service.Options{})
	if err == nil || !strings.Contains(err.Error(), "name a running service with --service") {
		t.Errorf("got %v", err)
	}
}

func TestStartGivesUpWithItsCaller(t *testing.T) {
	t.Setenv("FAKE_SERVICE", "slow")
	t.Setenv("TMPDIR", t.TempDir())
	ctx, cancel := context.WithTimeout(t.Context(), 200*time.Millisecond)
	defer cancel()
	_, err := service.Start(ctx, service.Options{Program: os.Args[0]})
	if err == nil || !strings.Contains(err.Error(), "stopped before") {
		t.Errorf("got %v", err)
	}
	noFolderIsLeft(t)
}

// TestServiceGoesWithItsOwner kills the program that started a service, so hard that it cannot stop it.
func TestServiceGoesWithItsOwner(t *testing.T) {
	gone := filepath.Join(t.TempDir(), "gone")
	owner := exec.Command(os.Args[0])
	owner.Env = append(os.Environ(), "FAKE_SERVICE=parent", "FAKE_GONE="+gone, "TMPDIR="+t.TempDir())
	stdout, err := owner.StdoutPipe()
	if err != nil {
		t.Fatal(err)
	}
	if err := owner.Start(); err != nil {
		t.Fatal(err)
	}
	if ready, err := bufio.NewReader(stdout).ReadString('\n'); ready != "ready\n" {
		t.Fatalf("got %q, %v", ready, err)
	}
	if err := owner.Process.Kill(); err != nil {
		t.Fatal(err)
	}
	owner.Wait() // killed
	for end := time.Now().Add(10 * time.Second); ; time.Sleep(10 * time.Millisecond) {
		if _, err := os.Stat(gone); err == nil {
			return
		}
		if time.Now().After(end) {
			t.Fatal("the service outlived the program that started it")
		}
	}
}
