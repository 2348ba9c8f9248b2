package adjusters

import (
	"context"
	"errors"
	"fmt"
	"sync"
	"sync/atomic"
	"time"

	"go.uber.org/zap"

	"rowdatum/server/leveling"
)

// fault is why a program does not serve.
type fault struct {
	reason string // one sentence for a person
	final  bool   // starting it again cannot help
	err    error  // the cause, for the log
}

func refused(reason string) error { return &fault{reason: reason, final: true} }

func (f *fault) Error() string {
	if f.err == nil {
		return f.reason
	}
	return f.reason + " (" + f.err.Error() + ")"
}

func (f *fault) Unwrap() error { return f.err }

// condition is what everybody may know of a program; it is replaced whole.
type condition struct {
	state       leveling.StyleState
	reason      string       // why it is not serving, for a person
	description *description // the last one; nil until it has said what it is
	process     *process     // nil unless serving
	nextLaunch  time.Time    // when it is started again, if later than now
}

// supervisor keeps one program alive. One goroutine, run, owns the program; everybody else reads the
// condition and may say that something is suspicious.
type supervisor struct {
	program program
	options Options
	runDir  string
	log     *zap.Logger
	excess  func(pid int) string
	suspect chan struct{} // one token: look at once

	restarts atomic.Uint64

	mu      sync.Mutex
	now     condition
	changed chan struct{} // closed when now is replaced
}

func newSupervisor(p program, o Options, runDir string, excess func(pid int) string) *supervisor {
	return &supervisor{
		program: p, options: o, runDir: runDir, excess: excess,
		log:     o.Log.With(zap.String("style", p.name)),
		suspect: make(chan struct{}, 1),
		now:     condition{state: leveling.Starting, reason: "The adjuster is starting."},
		changed: make(chan struct{}),
	}
}

// present returns the condition and a channel that is closed when it changes.
func (s *supervisor) present() (condition, <-chan struct{}) {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.now, s.changed
}

func (s *supervisor) set(next condition) {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.now = next
	close(s.changed)
	s.changed = make(chan struct{})
}

// suspicious makes the supervisor look at the program at once.
func (s *supervisor) suspicious() {
	select {
	case s.suspect <- struct{}{}:
	default: // it is about to look
	}
}

// settled returns when the first start has succeeded or failed, or ctx is done.
func (s *supervisor) settled(ctx context.Context) {
	for {
		now, changed := s.present()
		if now.state != leveling.Starting {
			return
		}
		select {
		case <-changed:
		case <-ctx.Done():
			return
		}
	}
}

// run owns the program until life ends; once hurry is done as well, it does not wait for the program to
// leave by itself.
func (s *supervisor) run(life, hurry context.Context) {
	if s.program.refused != "" {
		s.giveUp(refused(s.program.refused))
		return
	}
	var past deaths
	for {
		launched := time.Now()
		err := s.once(life, hurry)
		if life.Err() != nil {
			return
		}
		pause, again := past.next(s.options, err, time.Since(launched))
		if !again {
			s.giveUp(err)
			return
		}
		s.restarts.Add(1)
		s.restarting(err, pause)
		select {
		case <-time.After(pause):
		case <-life.Done():
			return
		}
	}
}

// once starts the program, serves until it fails or life ends, and stops it.
func (s *supervisor) once(life, hurry context.Context) error {
	process, description, err := s.start(life)
	if err != nil {
		return err
	}
	s.set(condition{state: leveling.Serving, description: description, process: process})
	s.log.Info("adjuster serves", zap.String("pid", process.ID()), zap.String("version", description.style.Version))
	err = s.watch(life, process)
	if err != nil { // those who ask must not be sent to it any more
		s.restarting(err, 0)
		process.end()
	}
	process.stop(hurry)
	if err == nil && process.killed && hurry.Err() == nil {
		s.log.Warn("adjuster did not leave when asked, and was ended")
	}
	return err
}

// start launches the program and asks what it is.
func (s *supervisor) start(life context.Context) (*process, *description, error) {
	ctx, cancel := context.WithTimeout(life, s.options.StartTimeout)
	defer cancel()
	process, err := launch(ctx, s.program, s.runDir, &output{log: s.log}, s.excess, s.options.DialOptions...)
	if err != nil {
		return nil, nil, err
	}
	description, err := describe(ctx, process, s.program)
	if greed := process.greed.Load(); greed != nil {
		err = &fault{reason: *greed, err: err}
	}
	if before, _ := s.present(); err == nil && before.description != nil && before.description.style.ID != description.style.ID {
		err = refused(fmt.Sprintf("It called itself %q before and now %q.", before.description.style.ID, description.style.ID))
	}
	if err != nil {
		process.end()
		process.stop(ctx)
		return nil, nil, err
	}
	return process, description, nil
}

// watch returns nil when life ends, else why the program must be started again: it is gone, halted,
// silent, or no call gets an answer.
func (s *supervisor) watch(life context.Context, p *process) error {
	tick := time.NewTicker(s.options.PingEvery)
	defer tick.Stop()
	heard := time.Now()
	for {
		select {
		case <-life.Done():
			return nil
		case <-p.exited:
			return p.death()
		case <-s.suspect:
		case <-tick.C:
		}
		if p.slow.Load() >= slowCalls {
			return &fault{reason: "The adjuster no longer answers."}
		}
		err := p.ping(life, s.options.PingTimeout)
		switch {
		case err == nil:
			heard = time.Now()
		case p.stopped():
			return &fault{reason: "The adjuster was halted.", err: err}
		case time.Since(heard) > s.options.SilentFor && life.Err() == nil:
			return &fault{reason: "The adjuster gives no sign of life.", err: err}
		}
	}
}

func (s *supervisor) restarting(err error, pause time.Duration) {
	now, _ := s.present()
	next := condition{state: leveling.Restarting, reason: reason(err) + " It is being started again.",
		description: now.description, nextLaunch: time.Now().Add(pause)}
	if now.state != leveling.Restarting || now.reason != next.reason {
		s.log.Warn("adjuster is down and will be started again", zap.Error(err))
	}
	s.set(next)
}

func (s *supervisor) giveUp(err error) {
	now, _ := s.present()
	s.log.Error("adjuster is set aside", zap.Error(err))
	s.set(condition{state: leveling.Quarantined, description: now.description,
		reason: reason(err) + " It is set aside until its file changes or the service is restarted."})
}

// reason is what a person is told of err.
func reason(err error) string {
	if f, ok := errors.AsType[*fault](err); ok {
		return f.reason
	}
	return "The adjuster failed."
}

// deaths is what back-off remembers.
type deaths struct {
	count int // since it was last healthy for long
	quick int // in a row, each soon after its start
}

// next says how long to pause after a death, and whether to start again at all. The first restart is
// immediate; from the second death on, starts lie at least the back-off apart. A program that lived
// longer than that is started again at once.
func (d *deaths) next(o Options, err error, lived time.Duration) (pause time.Duration, again bool) {
	if f, ok := errors.AsType[*fault](err); ok && f.final {
		return 0, false
	}
	if lived >= o.HealthyAfter {
		*d = deaths{}
	}
	d.count++
	d.quick++
	if lived >= o.QuickDeath {
		d.quick = 0
	}
	if d.quick >= o.QuickDeaths {
		return 0, false
	}
	if d.count == 1 {
		return 0, true
	}
	apart := min(o.BackoffMax, o.BackoffMin<<min(d.count-2, 20))
	return max(0, apart-lived), true
}
