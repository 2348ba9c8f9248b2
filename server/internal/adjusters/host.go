package adjusters

import (
	"cmp"
	"context"
	"fmt"
	"slices"
	"strings"
	"sync"
	"time"

	"go.uber.org/zap"
	"google.golang.org/grpc"

	"rowdatum/server/leveling"
)

// Options say how to host. The zero value of everything but Dir works.
type Options struct {
	Dir    string      // the folder with the adjusters; empty means none are installed
	Log    *zap.Logger // nil logs nothing
	RunDir string      // for sockets and copies of the programs, this host's alone, emptied at the start; empty means a fresh one

	StartTimeout time.Duration // from start to a checked description, 10 s
	StartBound   time.Duration // how long Start waits for slow ones, 3 s
	CallTimeout  time.Duration // one question, a restart on the way included, 5 s
	HealWithin   time.Duration // how long a question waits for a restart, 2 s
	PingEvery    time.Duration // signs of life are asked for so often, 300 ms
	PingTimeout  time.Duration // one sign of life, 500 ms
	SilentFor    time.Duration // no sign of life for so long is death, 3 s
	BackoffMin   time.Duration // between starts after the second death, 1 s, then doubling
	BackoffMax   time.Duration // at most, 1 min
	HealthyAfter time.Duration // alive for so long, earlier deaths are forgotten, 5 min
	QuickDeath   time.Duration // dead within so long of its start is a quick death, 10 s
	QuickDeaths  int           // so many quick deaths in a row set a program aside, 5
	CacheBytes   int           // of remembered answers, 64 MiB

	LookEvery    time.Duration // the folder is looked at so often, 200 ms
	Settle       time.Duration // a file that looks the same for so long is taken, 400 ms
	DrainFor     time.Duration // a replaced program may end the calls it has, 20 s
	MemoryBytes  int64         // of one program and what it has started, 512 MiB; where the system tells
	MaxProcesses int           // a program and what it has started, 64; where the system tells

	Meter       Meter             // nil hears nothing
	DialOptions []grpc.DialOption // of the connection to every program, beside the host's own
}

func (o Options) withDefaults() Options {
	if o.Log == nil {
		o.Log = zap.NewNop()
	}
	if o.Meter == nil {
		o.Meter = noMeter{}
	}
	o.StartTimeout = cmp.Or(o.StartTimeout, 10*time.Second)
	o.StartBound = cmp.Or(o.StartBound, 3*time.Second)
	o.CallTimeout = cmp.Or(o.CallTimeout, 5*time.Second)
	o.HealWithin = cmp.Or(o.HealWithin, 2*time.Second)
	o.PingEvery = cmp.Or(o.PingEvery, 300*time.Millisecond)
	o.PingTimeout = cmp.Or(o.PingTimeout, 500*time.Millisecond)
	o.SilentFor = cmp.Or(o.SilentFor, 3*time.Second)
	o.BackoffMin = cmp.Or(o.BackoffMin, time.Second)
	o.BackoffMax = cmp.Or(o.BackoffMax, time.Minute)
	o.HealthyAfter = cmp.Or(o.HealthyAfter, 5*time.Minute)
	o.QuickDeath = cmp.Or(o.QuickDeath, 10*time.Second)
	o.QuickDeaths = cmp.Or(o.QuickDeaths, 5)
	o.CacheBytes = cmp.Or(o.CacheBytes, 64<<20)
	o.LookEvery = cmp.Or(o.LookEvery, 200*time.Millisecond)
	o.Settle = cmp.Or(o.Settle, 400*time.Millisecond)
	o.DrainFor = cmp.Or(o.DrainFor, 20*time.Second) // above the 15 s that a call of the service may take
	o.MemoryBytes = cmp.Or(o.MemoryBytes, 512<<20)
	o.MaxProcesses = cmp.Or(o.MaxProcesses, 64)
	return o
}

// Host keeps the adjusters of one folder. Its methods may be called side by side.
type Host struct {
	options Options
	log     *zap.Logger
	dir     runDir
	cache   *cache
	meter   *meter

	mu    sync.Mutex
	lock  *lock   // of the folder; written by the watcher alone, which reads it freely
	seats []*seat // in the order in which they came; of two with one style the first serves it

	life, hurry          context.Context
	endLife, endPatience context.CancelFunc
	running              sync.WaitGroup // supervisors, those who wait for them, the watcher, the meter
	closed               sync.Once
}

// Start finds the adjusters, starts them side by side, and from then on takes what comes into the folder.
// It returns when each serves or has failed, at the latest after StartBound; a bad adjuster is no error.
// The caller owes Close.
func Start(ctx context.Context, o Options) (_ *Host, err error) {
	h := &Host{options: o.withDefaults(), meter: &meter{}}
	h.log = h.options.Log
	var files []file
	var locked *file
	if o.Dir != "" {
		if files, locked, err = look(o.Dir); err != nil {
			return nil, err
		}
	}
	if h.cache, err = newCache(h.options.CacheBytes); err != nil {
		return nil, err
	}
	if h.dir, err = newRunDir(o.RunDir); err != nil {
		return nil, err
	}
	h.life, h.endLife = context.WithCancel(context.WithoutCancel(ctx))
	h.hurry, h.endPatience = context.WithCancel(context.WithoutCancel(ctx))
	h.lock = readLock(locked)
	if o.Dir != "" {
		h.startMeter()
	}
	for _, p := range h.takeAll(files) {
		h.offer(p)
	}
	h.settled(ctx)
	if err := ctx.Err(); err != nil {
		return nil, cmp.Or(h.Close(ctx), err)
	}
	if o.Dir != "" {
		h.keepLooking(files, locked)
	}
	return h, nil
}

// takeAll takes the programs that are there at the start, side by side.
func (h *Host) takeAll(files []file) []program {
	programs := make([]program, len(files))
	var taken sync.WaitGroup
	for i, f := range files {
		taken.Go(func() { programs[i] = take(f, h.lock, h.dir.copies()) })
	}
	taken.Wait()
	return programs
}

// settled waits for the programs that were there at the start.
func (h *Host) settled(ctx context.Context) {
	ctx, cancel := context.WithTimeout(ctx, h.options.StartBound)
	defer cancel()
	for _, s := range h.seats { // nobody changes them yet
		s.now.settled(ctx)
	}
}

func (h *Host) keepLooking(files []file, locked *file) {
	if locked != nil {
		files = append(files, *locked)
	}
	seen := newFolder(h.options.Settle, files)
	h.running.Go(func() { h.watch(h.life, seen) })
}

// startMeter watches what adjusters use, where the system tells.
func (h *Host) startMeter() {
	if !meters {
		h.log.Info("this system does not tell how much memory adjusters use: it is not watched")
		return
	}
	h.running.Go(func() { h.meter.run(h.life) })
}

// excess says what a program uses too much of, with all that it has started.
func (h *Host) excess(pid int) string { return h.meter.excess(pid, h.options) }

// Close asks every adjuster to leave and ends those that do not, at once when ctx is done. No adjuster
// runs when it returns. Questions still open fail; ask no more.
func (h *Host) Close(ctx context.Context) (err error) {
	h.closed.Do(func() {
		h.endLife()
		stop := context.AfterFunc(ctx, h.endPatience)
		h.running.Wait()
		stop()
		h.endPatience()
		err = h.dir.remove()
	})
	return err
}

// Styles lists the installed styles by id, each with its state. A program that never said its style is
// listed by its file name.
func (h *Host) Styles(ctx context.Context, v leveling.Voice) ([]leveling.Style, error) {
	seats, leave := h.enterAll()
	defer leave()
	styles := make([]leveling.Style, len(seats))
	var asked sync.WaitGroup
	for i, s := range seats {
		asked.Go(func() { styles[i] = s.style(ctx, v) })
	}
	asked.Wait()
	slices.SortFunc(styles, func(a, b leveling.Style) int { return strings.Compare(a.ID, b.ID) })
	return styles, nil
}

// enterAll returns what serves now, for as long as it takes to ask it.
func (h *Host) enterAll() (seats []seat, leave func()) {
	h.mu.Lock()
	defer h.mu.Unlock()
	for _, s := range h.seats {
		s.now.users.enter()
		shown := *s
		if now, _ := s.now.present(); now.description != nil {
			shown.served = h.conflict(s, now.description.style.ID)
		}
		seats = append(seats, shown)
	}
	return seats, func() {
		for _, s := range seats {
			s.now.users.leave()
		}
	}
}

// Style returns one style as Styles lists it, or a NotFound error.
func (h *Host) Style(ctx context.Context, id string, v leveling.Voice) (leveling.Style, error) {
	m, leave := h.enter(ctx, id)
	if m == nil {
		return leveling.Style{}, &leveling.Error{Kind: leveling.NotFound, Reason: "STYLE_NOT_FOUND",
			Message: fmt.Sprintf("There is no style %q. %s", clip(id), h.installed()), Metadata: h.about(id)}
	}
	defer leave()
	return seat{now: m, refused: h.refusedFor(m)}.style(ctx, v), nil
}

// refusedFor is why a newer file than the program's does not serve.
func (h *Host) refusedFor(m *mechanism) string {
	h.mu.Lock()
	defer h.mu.Unlock()
	if s := h.seat(m.program.name); s != nil && s.now == m {
		return s.refused
	}
	return ""
}

// Options answers for every row of the question, in its order. The answer is shared: nobody changes it.
func (h *Host) Options(ctx context.Context, style string, q leveling.OptionsQuestion) ([]leveling.RowOptions, error) {
	m, leave := h.enter(ctx, style)
	if m == nil {
		return nil, h.notInstalled(style)
	}
	defer leave()
	return m.options(ctx, q)
}

// Say gives the words for every choice, in their order; choices index figures.
func (h *Host) Say(ctx context.Context, style string, figures []leveling.JSON, choices []leveling.Choice, v leveling.Voice) ([]leveling.Words, error) {
	m, leave := h.enter(ctx, style)
	if m == nil {
		return nil, h.notInstalled(style)
	}
	defer leave()
	return m.say(ctx, figures, choices, v)
}

func (h *Host) notInstalled(id string) error {
	return &leveling.Error{Kind: leveling.FailedState, Reason: "STYLE_NOT_INSTALLED",
		Message: fmt.Sprintf("The style %q is not installed. %s", clip(id), h.installed()), Metadata: h.about(id)}
}

func (h *Host) about(id string) map[string]string {
	return map[string]string{"style": clip(id), "installed": strings.Join(h.ids(), ", ")}
}

func (h *Host) installed() string {
	ids := h.ids()
	if len(ids) == 0 {
		return "No style is installed."
	}
	return "Installed: " + strings.Join(ids, ", ") + "."
}

func (h *Host) ids() []string {
	h.mu.Lock()
	defer h.mu.Unlock()
	var ids []string
	for _, s := range h.seats {
		ids = append(ids, s.now.id())
	}
	slices.Sort(ids)
	return slices.Compact(ids)
}
