package adjusters

import (
	"bufio"
	"context"
	"crypto/sha256"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"sync"
	"sync/atomic"
	"syscall"
	"time"

	"github.com/hashicorp/go-hclog"
	"github.com/hashicorp/go-plugin"
	"github.com/hashicorp/go-plugin/runner"
	"go.uber.org/zap"
	"go.uber.org/zap/zapio"
	"google.golang.org/grpc"
	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/health/grpc_health_v1"
	"google.golang.org/grpc/status"

	"rowdatum/adjusters/adjuster"
	adjusterv1 "rowdatum/proto/gen/rowdatum/adjuster/v1"
)

const (
	// politeTime is what an adjuster gets to leave by itself once it was asked to.
	politeTime = time.Second
	// stopTime is when a polite stop that hangs is cut short: the plugin library waits without end on a
	// frozen program.
	stopTime = 2 * time.Second
	// guardEvery is how often a process is held to what it may use; the samples are older than that.
	guardEvery = 200 * time.Millisecond
	// drainTime bounds the reading of what a dead program still had to say; something that it started
	// may hold the pipes open for ever.
	drainTime = 200 * time.Millisecond
)

// process is one run of one program, spoken to. It is the plugin library's runner, so that the service
// itself holds the process: it knows at once when it ends, and can end it without asking the library.
type process struct {
	cmd    *exec.Cmd
	client *plugin.Client
	conn   *grpc.ClientConn
	ask    adjusterv1.AdjusterClient
	health grpc_health_v1.HealthClient

	output    *output
	handshake *io.PipeReader // the first line of standard output; the library reads it
	exited    chan struct{}  // closed when the process is gone and reaped
	readers   sync.WaitGroup // what reads its output
	polite    atomic.Bool    // the library's kill first waits for the program to leave
	slow      atomic.Int32   // calls in a row that ran out of time

	excess func(pid int) string   // what it uses too much of
	greed  atomic.Pointer[string] // why it was ended for that

	mu     sync.Mutex
	pid    int  // 0 before the start
	ended  bool // it is not to start any more, or to run on
	killed bool // it was running when it was ended
}

// launch starts a program and waits until it has shaken hands; ctx bounds that. A program that fails to
// is ended, and so is one of which excess, nil for none, has something to say at any time.
func launch(ctx context.Context, p program, runDir string, out *output, excess func(pid int) string, dial ...grpc.DialOption) (*process, error) {
	r := &process{output: out, exited: make(chan struct{}), excess: excess}
	r.client = plugin.NewClient(&plugin.ClientConfig{
		HandshakeConfig:  adjuster.Handshake,
		Plugins:          plugin.PluginSet{adjuster.PluginName: connection{}},
		AllowedProtocols: []plugin.Protocol{plugin.ProtocolGRPC},
		AutoMTLS:         true,
		SkipHostEnv:      true, // the service's environment holds secrets
		UnixSocketConfig: &plugin.UnixSocketConfig{TempDir: runDir},
		StartTimeout:     24 * time.Hour, // ctx bounds the start
		Logger:           libraryLog(out.log),
		SyncStdout:       out.writer("stdout"),
		SyncStderr:       out.writer("stderr"),
		GRPCDialOptions: append([]grpc.DialOption{grpc.WithDefaultCallOptions(
			grpc.MaxCallRecvMsgSize(adjuster.MaxMessageBytes), grpc.MaxCallSendMsgSize(adjuster.MaxMessageBytes))}, dial...),
		RunnerFunc: func(_ hclog.Logger, given *exec.Cmd, _ string) (runner.Runner, error) {
			return r, r.prepare(p, given.Env)
		},
	})
	defer context.AfterFunc(ctx, r.end)() // the library's own waits have other ends, or none
	err := r.connect()
	if ctx.Err() != nil {
		err = context.Cause(ctx)
	}
	if err != nil {
		r.end()
		r.stop(ctx)
		return nil, r.whyNotStarted(err)
	}
	return r, nil
}

// prepare checks the copy against the sum that was taken with it, and sets up its run. The library's
// check works once for each SecureConfig, so every run has a new one.
func (r *process) prepare(p program, env []string) error {
	same, err := (&plugin.SecureConfig{Checksum: p.sum[:], Hash: sha256.New()}).Check(p.copy)
	if err != nil {
		return fmt.Errorf("reading the program: %w", err)
	}
	if !same {
		return refused("The service's own copy of the program has been changed.")
	}
	// It is called by where its file lies, which is what a list of processes then shows.
	r.cmd = &exec.Cmd{Path: p.copy, Args: []string{p.path}, Env: append(env, passedOn()...), Dir: filepath.Dir(p.copy)}
	setGroup(r.cmd)
	return nil
}

// passedOn is all that an adjuster gets of the service's environment.
func passedOn() []string {
	var env []string
	for _, name := range []string{"PATH", "HOME", "TMPDIR", "SystemRoot"} {
		if value, ok := os.LookupEnv(name); ok {
			env = append(env, name+"="+value)
		}
	}
	return env
}

func (r *process) connect() error {
	protocol, err := r.client.Client()
	if err != nil {
		return err
	}
	conn, err := protocol.Dispense(adjuster.PluginName)
	if err != nil {
		return err
	}
	r.conn = conn.(*grpc.ClientConn)
	r.ask = adjusterv1.NewAdjusterClient(r.conn)
	r.health = grpc_health_v1.NewHealthClient(r.conn)
	return nil
}

// connection is the library's plugin type: it hands out the connection itself.
type connection struct{ plugin.NetRPCUnsupportedPlugin }

func (connection) GRPCServer(*plugin.GRPCBroker, *grpc.Server) error {
	return errors.New("an adjuster is served by its own program")
}

func (connection) GRPCClient(_ context.Context, _ *plugin.GRPCBroker, conn *grpc.ClientConn) (any, error) {
	return conn, nil
}

// whyNotStarted puts a failed start in words for a person, after the process has ended; the cause stays
// in the chain.
func (r *process) whyNotStarted(err error) error {
	_, known := errors.AsType[*fault](err)
	if greed := r.greed.Load(); greed != nil {
		return &fault{reason: *greed, err: err}
	}
	switch {
	case known || errors.Is(err, context.Canceled):
		return err
	case errors.Is(err, context.DeadlineExceeded):
		return &fault{reason: "The program did not start in time.", err: err}
	case errors.Is(err, fs.ErrPermission):
		return &fault{reason: "The program may not be run: the folder for temporary files (TMPDIR), where the service keeps its copy, does not allow programs, or its interpreter may not be run.", err: err}
	case r.ID() == "":
		return &fault{reason: "The program cannot be run on this machine.", err: err}
	case !r.killed || r.cmd.ProcessState.Exited():
		return &fault{reason: "The program ended while starting (" + r.ending() + ").", err: err}
	}
	return &fault{reason: "The program's first words were not an adjuster's: it must print nothing before its handshake, and speak this version of it.", err: err}
}

// ping asks the health service for a sign of life. A program without that service lives as well: it has
// answered.
func (r *process) ping(ctx context.Context, timeout time.Duration) error {
	ctx, cancel := context.WithTimeout(ctx, timeout)
	defer cancel()
	answer, err := r.health.Check(ctx, &grpc_health_v1.HealthCheckRequest{Service: plugin.GRPCServiceName})
	switch status.Code(err) {
	case codes.OK:
	case codes.Unimplemented, codes.NotFound:
		return nil
	default:
		return err
	}
	if answer.Status != grpc_health_v1.HealthCheckResponse_SERVING {
		return fmt.Errorf("it says of itself that it is %s", strings.ToLower(answer.Status.String()))
	}
	return nil
}

// stopped says whether the process was halted by a signal. Only Linux can tell; elsewhere it is found
// by its silence.
func (r *process) stopped() bool {
	text, err := os.ReadFile("/proc/" + r.ID() + "/stat")
	if err != nil {
		return false
	}
	_, after, _ := strings.Cut(string(text), ") ") // pid (name) state …
	return strings.HasPrefix(after, "T")
}

// stop asks the program to leave, ends it if it does not or once hurry is done, and returns when it is
// reaped.
func (r *process) stop(hurry context.Context) {
	r.polite.Store(true)
	released := make(chan struct{})
	go func() { defer close(released); r.client.Kill() }()
	bound := time.NewTimer(stopTime)
	defer bound.Stop()
	select {
	case <-released:
	case <-hurry.Done():
	case <-bound.C:
	}
	r.end()
	if r.conn != nil {
		_ = r.conn.Close() // closed already where the library did it
	}
	<-released
	r.readers.Wait()
	r.output.flush()
}

// end kills the program and whatever it started, and keeps it from starting; nothing happens where it
// is gone.
func (r *process) end() {
	r.polite.Store(false)
	r.mu.Lock()
	defer r.mu.Unlock()
	r.ended = true
	select {
	case <-r.exited:
	default:
		if r.pid != 0 {
			r.killed = true
			killGroup(r.pid)
		}
	}
}

// guard ends the process when it uses too much.
func (r *process) guard() {
	tick := time.NewTicker(guardEvery)
	defer tick.Stop()
	for {
		select {
		case <-r.exited:
			return
		case <-tick.C:
			if why := r.excess(r.cmd.Process.Pid); why != "" {
				r.greed.Store(&why)
				r.end()
				return
			}
		}
	}
}

// ending says how the process ended; it has.
func (r *process) ending() string { return r.cmd.ProcessState.String() }

// death is why a process that has ended must be started again.
func (r *process) death() *fault {
	if greed := r.greed.Load(); greed != nil {
		return &fault{reason: *greed}
	}
	return &fault{reason: "The adjuster ended (" + r.ending() + ")."}
}

// Start runs the program; the library calls it.
func (r *process) Start(context.Context) error {
	out, outEnd, err := os.Pipe()
	if err != nil {
		return err
	}
	errs, errsEnd, err := os.Pipe()
	if err != nil {
		return errors.Join(err, out.Close(), outEnd.Close())
	}
	r.cmd.Stdout, r.cmd.Stderr = outEnd, errsEnd
	err = r.run()
	_, _ = outEnd.Close(), errsEnd.Close() // the child has its own copies
	if err != nil {
		return errors.Join(err, out.Close(), errs.Close())
	}
	first, firstEnd := io.Pipe()
	r.handshake = first
	r.readers.Go(func() { r.readOut(out, firstEnd) })
	r.readers.Go(func() { defer errs.Close(); r.output.copy("stderr", errs) })
	go r.reap(out, errs)
	if r.excess != nil {
		go r.guard()
	}
	return nil
}

// run starts the process, unless it was ended before.
func (r *process) run() error {
	r.mu.Lock()
	defer r.mu.Unlock()
	if r.ended {
		return context.Canceled
	}
	err := r.startCopy()
	if err == nil {
		r.pid = r.cmd.Process.Pid
		firstToGo(r.pid)
	}
	return err
}

// startCopy tries again where the fresh copy is busy: a process that was started elsewhere in the service
// while it was written has it open until it runs its own program.
func (r *process) startCopy() (err error) {
	const tries, apart = 100, 10 * time.Millisecond
	for range tries {
		fresh := &exec.Cmd{Path: r.cmd.Path, Args: r.cmd.Args, Env: r.cmd.Env, Dir: r.cmd.Dir,
			Stdout: r.cmd.Stdout, Stderr: r.cmd.Stderr, SysProcAttr: r.cmd.SysProcAttr}
		r.cmd = fresh
		if err = fresh.Start(); !errors.Is(err, syscall.ETXTBSY) {
			return err
		}
		time.Sleep(apart)
	}
	return err
}

// readOut hands the first line to the library and the rest to the log, so that a program that prints
// never blocks.
func (r *process) readOut(out *os.File, first *io.PipeWriter) {
	defer out.Close()
	buffered := bufio.NewReaderSize(out, 16<<10) // a handshake with its certificate is about 1 KiB
	line, _ := buffered.ReadSlice('\n')
	_, _ = first.Write(line)
	_ = first.Close()
	r.output.copy("stdout", buffered)
}

// reap waits for the process, ends what it left behind, and lets the readers finish. It is over soon after
// the process, and stop waits for that.
func (r *process) reap(pipes ...*os.File) {
	_ = r.cmd.Wait() // its ProcessState says it all
	killGroup(r.cmd.Process.Pid)
	for _, pipe := range pipes {
		_ = pipe.SetReadDeadline(time.Now().Add(drainTime))
	}
	close(r.exited)
}

// Wait returns when the process has ended; the library calls it.
func (r *process) Wait(context.Context) error { <-r.exited; return nil }

// Kill ends the process; the library calls it. Where the service has asked the program to leave, it
// gets the time to: the library itself would give it none.
func (r *process) Kill(context.Context) error {
	if r.polite.Load() {
		select {
		case <-r.exited:
		case <-time.After(politeTime):
		}
	}
	r.end()
	return nil
}

// Stdout gives the library the handshake line and nothing else: it stops reading at a long line, and
// would then block the program.
func (r *process) Stdout() io.ReadCloser { return r.handshake }

// Stderr gives the library nothing: one odd line on standard error makes it panic.
func (r *process) Stderr() io.ReadCloser { return io.NopCloser(strings.NewReader("")) }

// Name is the program's path.
func (r *process) Name() string { return r.cmd.Path }

// ID is the process id, empty before the start.
func (r *process) ID() string {
	r.mu.Lock()
	defer r.mu.Unlock()
	if r.pid == 0 {
		return ""
	}
	return strconv.Itoa(r.pid)
}

// Diagnose adds nothing: the host puts a failed start in its own words.
func (r *process) Diagnose(context.Context) string { return "" }

// PluginToHost leaves addresses as they are: both sides share the machine.
func (r *process) PluginToHost(network, address string) (string, string, error) {
	return network, address, nil
}

// HostToPlugin leaves addresses as they are.
func (r *process) HostToPlugin(network, address string) (string, string, error) {
	return network, address, nil
}

// libraryLog takes the plugin library's own lines at debug: what matters of them, the supervisor says
// itself. Named children are silent, so that nothing of a program's output can reach the library's
// parser.
func libraryLog(log *zap.Logger) hclog.Logger {
	return library{hclog.New(&hclog.LoggerOptions{
		Level: hclog.Debug, DisableTime: true, Output: &zapio.Writer{Log: log, Level: zap.DebugLevel},
	})}
}

type library struct{ hclog.Logger }

// Named returns a logger that is off.
func (library) Named(string) hclog.Logger { return hclog.NewNullLogger() }
