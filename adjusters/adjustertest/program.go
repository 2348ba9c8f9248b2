package adjustertest

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"os/exec"
	"strings"
	"sync"
	"time"

	"github.com/hashicorp/go-hclog"
	"github.com/hashicorp/go-plugin"
	"google.golang.org/grpc/health/grpc_health_v1"

	"rowdatum/adjusters/adjuster"
	adjusterv1 "rowdatum/proto/gen/rowdatum/adjuster/v1"
)

const (
	startTimeout = 10 * time.Second
	stopTimeout  = 3 * time.Second
)

// program is a running adjuster and the connection to it.
type program struct {
	dir    string // its temporary files; a program that is killed leaves its socket behind
	cmd    *exec.Cmd
	host   *plugin.Client
	wire   *plugin.GRPCClient
	client adjusterv1.AdjusterClient
	stderr *tail
}

// unhealthy is a program that was reached but does not say that it serves.
type unhealthy struct{ error }

// notStarted reports why a program could not be asked anything.
func (e *exam) notStarted(where string, err error) {
	if bad, ok := errors.AsType[unhealthy](err); ok {
		e.found("health", where, "%v", bad)
		return
	}
	e.check("health").Made = false
	e.found("start", where, "%v", err)
}

// start runs the program as the service does: gRPC only, a certificate for this one start, nothing of
// the environment but what a program needs to run.
func start(what Program) (*program, error) {
	dir, err := os.MkdirTemp("", "exam")
	if err != nil {
		return nil, fmt.Errorf("making a folder for the program's files: %w", err)
	}
	p := &program{dir: dir, cmd: exec.Command(what.Path, what.Args...), stderr: &tail{}}
	if len(what.Args) == 0 {
		p.cmd.Dir = dir // as in the service, where nothing lies beside it; arguments may be files from here
	}
	p.cmd.Env = []string{"TMPDIR=" + dir}
	for _, name := range []string{"PATH", "HOME", "SystemRoot"} {
		if v, ok := os.LookupEnv(name); ok {
			p.cmd.Env = append(p.cmd.Env, name+"="+v)
		}
	}
	p.host = plugin.NewClient(&plugin.ClientConfig{
		HandshakeConfig:  adjuster.Handshake,
		Plugins:          plugin.PluginSet{adjuster.PluginName: &adjuster.Plugin{}},
		Cmd:              p.cmd,
		AllowedProtocols: []plugin.Protocol{plugin.ProtocolGRPC},
		AutoMTLS:         true,
		SkipHostEnv:      true,
		StartTimeout:     startTimeout,
		// Off, and not a logger that drops everything: only then does the library leave what the program
		// prints unread, some of which it does not survive.
		Logger: hclog.New(&hclog.LoggerOptions{Level: hclog.Off, Output: io.Discard}),
		Stderr: p.stderr,
	})
	if err := p.connect(); err != nil {
		_ = p.stop() // what it did at the end is no news after that
		return nil, err
	}
	return p, nil
}

func (p *program) connect() error {
	wire, err := p.host.Client()
	if err != nil {
		return fmt.Errorf("the program did not start as an adjuster: %w%s", err, p.stderr)
	}
	p.wire = wire.(*plugin.GRPCClient) // the only protocol allowed
	client, err := p.wire.Dispense(adjuster.PluginName)
	if err != nil {
		return fmt.Errorf("the adjuster could not be reached: %w", err)
	}
	p.client = client.(adjusterv1.AdjusterClient)
	ctx, cancel := context.WithTimeout(context.Background(), startTimeout)
	defer cancel()
	h, err := grpc_health_v1.NewHealthClient(p.wire.Conn).Check(ctx, &grpc_health_v1.HealthCheckRequest{Service: plugin.GRPCServiceName})
	if err != nil {
		return unhealthy{fmt.Errorf("the health service %q does not answer: %w%s", plugin.GRPCServiceName, err, p.stderr)}
	}
	if h.GetStatus() != grpc_health_v1.HealthCheckResponse_SERVING {
		return unhealthy{fmt.Errorf("the health service says %s, must say SERVING", h.GetStatus())}
	}
	return nil
}

// ended says that the program has ended, or does so within a moment.
func (p *program) ended() bool {
	for range 20 {
		if p.host.Exited() {
			return true
		}
		time.Sleep(25 * time.Millisecond)
	}
	return false
}

// ending says how a program has ended.
func (p *program) ending() string {
	if p.cmd.ProcessState == nil {
		return "without a word" + p.stderr.String()
	}
	return p.cmd.ProcessState.String() + p.stderr.String()
}

// stop asks the program to end, and ends it where it does not. The library's own stop waits for ever
// on a program that is stuck.
func (p *program) stop() error {
	defer os.RemoveAll(p.dir)
	if p.cmd.Process == nil {
		return nil
	}
	done := make(chan struct{})
	go func() { defer close(done); p.host.Kill() }()
	select {
	case <-done:
	case <-time.After(stopTimeout):
		err := p.cmd.Process.Kill()
		<-done
		return errors.Join(fmt.Errorf("the program did not end within %v of being asked", stopTimeout), err)
	}
	if end := p.cmd.ProcessState; end == nil || !end.Success() {
		return fmt.Errorf("the program did not end cleanly when asked: %s", p.ending())
	}
	return nil
}

// abandon closes the connection without a word and waits for the program to leave by itself.
func (p *program) abandon(limit time.Duration) error {
	defer os.RemoveAll(p.dir)
	defer p.host.Kill() // clears up after a program that has ended
	if err := p.wire.Conn.Close(); err != nil {
		return errors.Join(err, p.cmd.Process.Kill())
	}
	for until := time.Now().Add(limit); time.Now().Before(until); time.Sleep(50 * time.Millisecond) {
		if p.host.Exited() {
			return nil
		}
	}
	return errors.Join(errStill, p.cmd.Process.Kill())
}

// errStill is a program that should have ended.
var errStill = errors.New("the program is still running; it must leave 10 seconds after its last connection has closed")

// tail keeps the end of what a program prints to standard error.
type tail struct {
	mu   sync.Mutex
	text []byte
}

// maxTail is how much of it is kept.
const maxTail = 1500

// Write keeps the end.
func (t *tail) Write(b []byte) (int, error) {
	t.mu.Lock()
	defer t.mu.Unlock()
	t.text = append(t.text, b...)
	t.text = t.text[max(0, len(t.text)-maxTail):]
	return len(b), nil
}

// String is the end as the end of a sentence, empty where there is none.
func (t *tail) String() string {
	t.mu.Lock()
	defer t.mu.Unlock()
	if text := strings.TrimSpace(strings.ToValidUTF8(string(t.text), "")); text != "" {
		return "; it last printed:\n" + text
	}
	return ""
}
