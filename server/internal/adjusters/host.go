package adjusters

import (
	"cmp"
	"context"
	"fmt"
	"os"
	"path/filepath"
	"runtime"
	"slices"
	"strings"
	"sync"
	"time"

	"go.uber.org/zap"

	"rowdatum/server/leveling"
)

// Options say how to host. The zero value of everything but Dir works.
type Options struct {
	Dir    string      // the folder with the adjusters; empty means none are installed
	Log    *zap.Logger // nil logs nothing
	RunDir string      // for sockets, this host's alone, emptied at the start; empty means a fresh one

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
}

func (o Options) withDefaults() Options {
	if o.Log == nil {
		o.Log = zap.NewNop()
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
	return o
}

// Host keeps the adjusters of one folder. Its methods may be called side by side.
type Host struct {
	mechanisms []*mechanism // by program name
	runDir     string
	ownRunDir  bool
	inUse      *os.File // locked while this host lives; nil with a given run folder

	endLife, endPatience context.CancelFunc
	running              sync.WaitGroup // one supervisor each
	closed               sync.Once
}

// Start finds the adjusters and starts them side by side. It returns when each serves or has failed, at
// the latest after StartBound; a bad adjuster is no error. The caller owes Close.
func Start(ctx context.Context, o Options) (*Host, error) {
	o = o.withDefaults()
	var programs []program
	if o.Dir != "" {
		var err error
		if programs, err = scan(o.Dir); err != nil {
			return nil, err
		}
	}
	cache, err := newCache(o.CacheBytes)
	if err != nil {
		return nil, err
	}
	h := &Host{}
	if err := h.prepareRunDir(o.RunDir); err != nil {
		return nil, err
	}
	life, endLife := context.WithCancel(context.WithoutCancel(ctx))
	hurry, endPatience := context.WithCancel(context.WithoutCancel(ctx))
	h.endLife, h.endPatience = endLife, endPatience
	for _, p := range programs {
		m := &mechanism{supervisor: newSupervisor(p, o, h.runDir), life: life, cache: cache}
		h.mechanisms = append(h.mechanisms, m)
		h.running.Go(func() { m.run(life, hurry) })
	}
	bounded, cancel := context.WithTimeout(ctx, o.StartBound)
	defer cancel()
	for _, m := range h.mechanisms {
		m.settled(bounded)
	}
	if err := ctx.Err(); err != nil {
		return nil, cmp.Or(h.Close(ctx), err)
	}
	return h, nil
}

// maxRunDir leaves room for the socket's own name: a socket's whole path has about 100 bytes.
const maxRunDir = 60

// prepareRunDir makes the folder for sockets, empty of what a run that was killed has left.
func (h *Host) prepareRunDir(dir string) (err error) {
	if dir == "" {
		h.ownRunDir = true
		return h.makeRunDir(shortTempDir())
	}
	if h.runDir, err = filepath.Abs(dir); err != nil {
		return err
	}
	if len(h.runDir) > maxRunDir {
		return fmt.Errorf("the run folder %s is too long for a socket's path, at most %d bytes are possible", h.runDir, maxRunDir)
	}
	if err := os.MkdirAll(h.runDir, 0o700); err != nil {
		return fmt.Errorf("the run folder: %w", err)
	}
	return h.emptyRunDir()
}

const (
	runDirPrefix = "rowdatum-run-"
	lockName     = "in-use"
)

// makeRunDir makes a fresh folder that is marked as in use, and removes those of runs that were killed.
func (h *Host) makeRunDir(base string) (err error) {
	left, err := filepath.Glob(filepath.Join(base, runDirPrefix+"*"))
	if err != nil {
		return err
	}
	for _, dir := range left {
		removeUnused(dir)
	}
	if h.runDir, err = os.MkdirTemp(base, runDirPrefix); err != nil {
		return err
	}
	if h.inUse, err = os.Create(filepath.Join(h.runDir, lockName)); err != nil {
		return err
	}
	hold(h.inUse)
	return nil
}

// removeUnused removes the folder of a run that has ended. What cannot be opened is somebody else's.
func removeUnused(dir string) {
	mark, err := os.Open(filepath.Join(dir, lockName))
	if err != nil {
		return
	}
	defer mark.Close()
	if hold(mark) {
		_ = os.RemoveAll(dir) // the next start tries again
	}
}

// shortTempDir is the folder for temporary files, or /tmp where that one's own path is so long that no
// socket fits below it. Windows has no such sockets.
func shortTempDir() string {
	const ownName = len("/" + runDirPrefix + "1234567890")
	if dir := os.TempDir(); len(dir)+ownName <= maxRunDir || runtime.GOOS == "windows" {
		return dir
	}
	return "/tmp"
}

// emptyRunDir removes the socket folders, which the plugin library names so.
func (h *Host) emptyRunDir() error {
	left, err := os.ReadDir(h.runDir)
	for _, entry := range left {
		if strings.HasPrefix(entry.Name(), "plugin-dir") {
			err = cmp.Or(err, os.RemoveAll(filepath.Join(h.runDir, entry.Name())))
		}
	}
	return err
}

// Close asks every adjuster to leave and ends those that do not, at once when ctx is done. No adjuster
// runs when it returns. Questions still open fail; ask no more.
func (h *Host) Close(ctx context.Context) (err error) {
	h.closed.Do(func() {
		h.endLife()
		stop := context.AfterFunc(ctx, h.endPatience)
		h.running.Wait()
		stop()
		h.endPatience()
		if h.ownRunDir {
			err = cmp.Or(h.inUse.Close(), os.RemoveAll(h.runDir))
		} else {
			err = h.emptyRunDir()
		}
	})
	return err
}

// Styles lists the installed styles by id, each with its state. A program that never said its style is
// listed by its file name.
func (h *Host) Styles(ctx context.Context, language string) ([]leveling.Style, error) {
	styles := make([]leveling.Style, len(h.mechanisms))
	var asked sync.WaitGroup
	for i, m := range h.mechanisms {
		asked.Go(func() { styles[i] = m.style(ctx, language) })
	}
	asked.Wait()
	for i, m := range h.mechanisms {
		if first := h.first(m.id()); first != m {
			styles[i] = leveling.Style{ID: m.program.name, State: leveling.Quarantined,
				StateReason: fmt.Sprintf("Its style %q is served by the program %s; remove one of the two.", m.id(), first.program.name)}
		}
	}
	slices.SortFunc(styles, func(a, b leveling.Style) int { return strings.Compare(a.ID, b.ID) })
	return styles, nil
}

// Style returns one style as Styles lists it, or a NotFound error.
func (h *Host) Style(ctx context.Context, id, language string) (leveling.Style, error) {
	if m := h.first(id); m != nil {
		return m.style(ctx, language), nil
	}
	return leveling.Style{}, &leveling.Error{Kind: leveling.NotFound, Reason: "STYLE_NOT_FOUND",
		Message: fmt.Sprintf("There is no style %q. %s", clip(id), h.installed()), Metadata: h.about(id)}
}

// Options answers for every row of the question, in its order.
func (h *Host) Options(ctx context.Context, style string, q leveling.OptionsQuestion) ([]leveling.RowOptions, error) {
	m, err := h.find(style)
	if err != nil {
		return nil, err
	}
	return m.options(ctx, q)
}

// Say gives the words for every choice, in their order; choices index figures.
func (h *Host) Say(ctx context.Context, style string, figures []leveling.JSON, choices []leveling.Choice, language string) ([]leveling.Words, error) {
	m, err := h.find(style)
	if err != nil {
		return nil, err
	}
	return m.say(ctx, figures, choices, language)
}

// first returns the mechanism of a style: of two programs with one style, the first by name.
func (h *Host) first(id string) *mechanism {
	for _, m := range h.mechanisms {
		if m.id() == id {
			return m
		}
	}
	return nil
}

func (h *Host) find(id string) (*mechanism, error) {
	if m := h.first(id); m != nil {
		return m, nil
	}
	return nil, &leveling.Error{Kind: leveling.FailedState, Reason: "STYLE_NOT_INSTALLED",
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
	var ids []string
	for _, m := range h.mechanisms {
		ids = append(ids, m.id())
	}
	slices.Sort(ids)
	return slices.Compact(ids)
}
