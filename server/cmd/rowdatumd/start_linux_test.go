package main

import (
	"io"
	"os"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
	"time"
)

// TestForeignFilesHoldNoStart puts a pipe where a start looks for the marks of runs that were killed.
func TestForeignFilesHoldNoStart(t *testing.T) {
	t.Parallel()
	temp := t.TempDir()
	foreign := filepath.Join(temp, "rowdatum-run-1")
	if err := os.Mkdir(foreign, 0o755); err != nil {
		t.Fatal(err)
	}
	if err := syscall.Mkfifo(filepath.Join(foreign, "in-use"), 0o666); err != nil {
		t.Fatal(err)
	}
	p := prepare(t, filepath.Join(t.TempDir(), "rowdatum.db"))
	p.cmd.Env = append(os.Environ(), "TMPDIR="+temp)
	if err := p.cmd.Start(); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(p.kill)
	readAddresses(t, p.file, nil)
}

// TestStartObeysWhileItHangs: a start that waits for ever for a file ends when it is told to, by a signal or by the end of
// the program that runs it, which may have been killed.
func TestStartObeysWhileItHangs(t *testing.T) {
	t.Parallel()
	for name, end := range map[string]func(p *process, stdin io.Closer) error{
		"a signal":           func(p *process, _ io.Closer) error { return p.cmd.Process.Signal(syscall.SIGTERM) },
		"its owner has died": func(_ *process, stdin io.Closer) error { return stdin.Close() },
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			pipe := filepath.Join(t.TempDir(), "pipe")
			if err := syscall.Mkfifo(pipe, 0o600); err != nil {
				t.Fatal(err)
			}
			p := prepare(t, filepath.Join(t.TempDir(), "rowdatum.db"), "--tls-cert", pipe, "--tls-key", pipe, "--until-stdin-closes")
			said := &strings.Builder{}
			p.cmd.Stderr = said
			stdin, err := p.cmd.StdinPipe()
			if err != nil {
				t.Fatal(err)
			}
			if err := p.cmd.Start(); err != nil {
				t.Fatal(err)
			}
			// It hangs for certain once it has read its flags; a signal before that ends it as any program.
			time.Sleep(time.Second)
			if err := end(p, stdin); err != nil {
				t.Fatal(err)
			}
			late := time.AfterFunc(time.Minute, func() { _ = p.cmd.Process.Kill() })
			err = p.cmd.Wait()
			if !late.Stop() {
				t.Fatal("a start that hangs does not hear that it is to end")
			}
			if err == nil {
				t.Error("it ended as if it had served")
			}
		})
	}
}
