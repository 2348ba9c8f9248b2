package adjustertest

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"os/exec"
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
}

// start runs the program as the service does: gRPC only, a certificate for this one start, nothing of
// the environment but what a program needs to run.
func start(path string) (*program, error) {
	dir, err := os.MkdirTemp("", "exam")
	if err != nil {
		return nil, fmt.Errorf("making a folder for the program's files: %w", err)
	}
	p := &program{dir: dir, cmd: exec.Command(path)}
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
		Logger:           hclog.NewNullLogger(),
		Stderr:           io.Discard,
	})
	if err := p.connect(); err != nil {
		return nil, errors.Join(err, p.stop())
	}
	return p, nil
}

func (p *program) connect() error {
	wire, err := p.host.Client()
	if err != nil {
		return fmt.Errorf("the program did not start as an adjuster: %w", err)
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
		return fmt.Errorf("the health service %q does not answer: %w", plugin.GRPCServiceName, err)
	}
	if h.GetStatus() != grpc_health_v1.HealthCheckResponse_SERVING {
		return fmt.Errorf("the health service says %s, must say SERVING", h.GetStatus())
	}
	return nil
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
	if end := p.cmd.ProcessState; !end.Success() {
		return fmt.Errorf("the program did not end cleanly when asked: %v", end)
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
