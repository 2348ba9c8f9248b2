package main

import (
	"context"
	"encoding/json"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"testing"
	"time"

	"go.uber.org/zap/zaptest"
	"google.golang.org/grpc"
	"google.golang.org/grpc/credentials/insecure"
)

// programs is the folder that holds the built programs: rowdatumd, rowdatum, and the bundle in adjusters/.
var programs string

func TestMain(m *testing.M) {
	os.Exit(func() int {
		dir, err := os.MkdirTemp("", "rowdatumd")
		if err != nil {
			fmt.Fprintln(os.Stderr, err)
			return 1
		}
		defer os.RemoveAll(dir)
		programs = dir
		if err := build(dir); err != nil {
			fmt.Fprintln(os.Stderr, err)
			return 1
		}
		return m.Run()
	}())
}

// build builds what the tests run, or copies it from ROWDATUM_BIN, where `make test` built it once. The folder of
// adjusters is made first: built into one that is not there, a single program would take its name.
func build(dir string) error {
	if built := os.Getenv("ROWDATUM_BIN"); built != "" {
		return os.CopyFS(dir, os.DirFS(built))
	}
	if err := os.Mkdir(filepath.Join(dir, "adjusters"), 0o755); err != nil {
		return err
	}
	for _, args := range [][]string{
		{"build", "-ldflags=-s -w", "-o", filepath.Join(dir, "rowdatumd"), "rowdatum/server/cmd/rowdatumd"},
		{"build", "-ldflags=-s -w", "-o", filepath.Join(dir, "rowdatum"), "rowdatum/clients/cli"},
		{"build", "-ldflags=-s -w", "-o", filepath.Join(dir, "adjusters") + "/", "rowdatum/adjusters/..."},
	} {
		if out, err := exec.Command("go", args...).CombinedOutput(); err != nil {
			return fmt.Errorf("go %v: %w\n%s", args, err, out)
		}
	}
	return nil
}

// running is a service in this process, with its two addresses.
type running struct {
	addresses
	conn *grpc.ClientConn
}

func (r running) url(path string) string { return "http://" + r.HTTP + path }

// start runs the service in this process, as main would, until the test ends.
func start(t *testing.T, adjusters string) running {
	t.Helper()
	dir := t.TempDir()
	f := &flags{GRPC: "127.0.0.1:0", HTTP: "127.0.0.1:0", Store: filepath.Join(dir, "rowdatum.db"), Adjusters: adjusters,
		AddrFile: filepath.Join(dir, "addr")}
	return startWith(t, f)
}

func startWith(t *testing.T, f *flags) running {
	t.Helper()
	ctx, cancel := context.WithCancel(context.Background())
	ended := make(chan error, 1)
	go func() { ended <- run(ctx, f, zaptest.NewLogger(t), func() {}) }()
	t.Cleanup(func() {
		cancel()
		if err := <-ended; err != nil {
			t.Errorf("the service ended with: %v", err)
		}
	})
	r := running{addresses: readAddresses(t, f.AddrFile, ended)}
	if r.GRPC == "" {
		return r
	}
	conn, err := grpc.NewClient(r.GRPC, grpc.WithTransportCredentials(insecure.NewCredentials()))
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { conn.Close() })
	r.conn = conn
	return r
}

// readAddresses waits for the address file.
func readAddresses(t testing.TB, file string, ended <-chan error) (at addresses) {
	t.Helper()
	deadline := time.After(time.Minute)
	for {
		if text, err := os.ReadFile(file); err == nil {
			if err := json.Unmarshal(text, &at); err != nil {
				t.Fatalf("%s: %v", text, err)
			}
			return at
		}
		select {
		case err := <-ended:
			t.Fatalf("the service ended before it was ready: %v", err)
		case <-deadline:
			t.Fatal("the service was not ready within a minute")
		case <-time.After(5 * time.Millisecond):
		}
	}
}
