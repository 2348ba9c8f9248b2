package adjusters_test

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"sync/atomic"
	"syscall"
	"testing"
	"time"

	"go.uber.org/zap"

	"rowdatum/server/internal/adjusters"
	"rowdatum/server/leveling"
)

// served is how soon a file that is put into the folder must be served, or refused: ten times the two seconds that are
// promised, because a test may share the machine with others. Each test logs how long it took.
const served = 20 * time.Second

// soon is how long a test waits for what no time is promised for: the machine may be busy.
const soon = 20 * time.Second

// version writes a version of the test adjuster, in place: over a file that is there, and may be running.
func version(t testing.TB, file, marks string) {
	t.Helper()
	from, err := os.Open(misbehaving)
	must(t, err)
	defer from.Close()
	to, err := os.OpenFile(file, os.O_WRONLY|os.O_CREATE|os.O_TRUNC, 0o755)
	must(t, err)
	_, err = io.Copy(to, from)
	must(t, err)
	_, err = to.WriteString("#test " + marks + " ")
	must(t, errors.Join(err, to.Close()))
}

// renamed puts a version into the folder by renaming it.
func renamed(t testing.TB, file, marks string) {
	t.Helper()
	part := filepath.Join(filepath.Dir(file), ".part")
	version(t, part, marks)
	must(t, os.Rename(part, file))
}

// effect is what one turn does by the program that serves.
func (h hosted) effect(ctx context.Context, fault string) (float64, error) {
	rows, err := h.Options(ctx, "handle", ask(fault, 8))
	if err != nil {
		return 0, err
	}
	return rows[0].Options[9].EffectMm, nil
}

// asked is a host that is asked for two styles all the while: none of the questions may fail. The program of the one,
// steady, stays; that of the other, handle, comes and goes in file.
type asked struct {
	hosted
	dir, file string
	there     atomic.Bool // whether handle is asked for
}

func askedAllTheWhile(t *testing.T) *asked {
	t.Helper()
	dir := install(t, "steady")
	h := &asked{hosted: host(t, adjusters.Options{Dir: dir, BackoffMin: 50 * time.Millisecond}), dir: dir, file: filepath.Join(dir, "handle")}
	ctx, stop := context.WithCancel(t.Context())
	var load sync.WaitGroup
	var count atomic.Int64
	for worker := range 3 {
		load.Go(func() {
			for n := 0; ctx.Err() == nil; n++ {
				style := []string{"steady", "handle"}[(worker+n)%2]
				if style == "handle" && !h.there.Load() {
					continue
				}
				q := ask([]string{"", "slow"}[n%2], n%41)
				q.Figures[0] = leveling.JSON(strings.Replace(string(q.Figures[0]), "6.35", fmt.Sprintf("%d.%d", worker+1, n), 1))
				if _, err := h.Options(ctx, style, q); err != nil && ctx.Err() == nil {
					t.Errorf("%s: %v", style, err)
				}
				count.Add(1)
				time.Sleep(time.Millisecond)
			}
		})
	}
	t.Cleanup(func() {
		stop()
		load.Wait()
		t.Logf("%d questions", count.Load())
	})
	return h
}

// serves waits until handle moves a row so far.
func (h *asked) serves(t *testing.T, what string, wantMm float64) {
	t.Helper()
	took := within(t, served, what, func() bool {
		mm, err := h.effect(t.Context(), "")
		return err == nil && mm == wantMm
	})
	h.there.Store(true)
	t.Logf("%s: served after %v", what, took)
}

// TestHotDrop: a style that comes into the folder is served, and so is each new version of it, however it is put there.
func TestHotDrop(t *testing.T) {
	t.Parallel()
	h := askedAllTheWhile(t)
	for _, c := range []struct {
		name  string
		put   func(t testing.TB, file, marks string)
		marks string
		mm    float64
	}{
		{"new", version, "version=1.0.0", 6.35},
		{"renamed over it", renamed, "version=2.0.0", 12.7},
		{"written over it", version, "version=1.0.0", 6.35},
		{"written over it again", version, "version=2.1.0", 12.7},
	} {
		c.put(t, h.file, c.marks)
		h.serves(t, c.name, c.mm)
		within(t, soon, "the one before ends", func() bool { return len(pidsOf(h.dir, "handle")) == 1 })
	}
}

// TestBadVersionsChangeNothing: a newer file that is no good is refused with its reason, the process before it goes on, and
// is started again when it dies, although its file is gone.
func TestBadVersionsChangeNothing(t *testing.T) {
	t.Parallel()
	h := askedAllTheWhile(t)
	version(t, h.file, "version=2.1.0")
	h.serves(t, "good", 12.7)
	refusals := 0
	for marks, why := range map[string]string{
		"fault=touch-zero":                "its touchSeconds is 0",
		"fault=exit-at-start":             "ended while starting (exit status 3)",
		"fault=banner":                    "first words were not an adjuster's",
		"version=3.0.0 style=steady":      `Its style "steady" is served by the program steady`,
		"fault=endless-schema style=fine": "refers to itself without end",
	} {
		pid := pidOf(t, h.dir, "handle")
		renamed(t, h.file, marks)
		refusals++
		h.refuses(t, marks, why, pid, refusals)
	}
	styles, err := h.Styles(t.Context(), leveling.Voice{})
	must(t, err)
	if len(styles) != 2 {
		t.Errorf("%d styles are listed, want 2", len(styles))
	}
	pid := pidOf(t, h.dir, "handle")
	must(t, syscall.Kill(pid, syscall.SIGKILL))
	within(t, soon, "the old one is started again", func() bool { return h.replaced(t, h.dir, "handle", pid) })
	renamed(t, h.file, "version=2.1.0")
	within(t, soon, "nothing is wrong any more", func() bool {
		state, reason := h.state(t, "handle")
		return state == leveling.Serving && reason == ""
	})
}

// refuses waits until the file that came last is refused, as the so many-th; process pid must go on.
func (h *asked) refuses(t *testing.T, marks, why string, pid, refusals int) {
	t.Helper()
	took := within(t, served, marks, func() bool {
		state, reason := h.state(t, "handle")
		return state == leveling.Serving && strings.Contains(reason, "A newer file of it is refused: ") && strings.Contains(reason, why)
	})
	t.Logf("%s: refused after %v", marks, took)
	if mm, err := h.effect(t.Context(), ""); err != nil || mm != 12.7 {
		t.Errorf("%s: the old one answers %v, %v", marks, mm, err)
	}
	if now := pidsOf(h.dir, "handle"); !slices.Contains(now, pid) {
		t.Errorf("%s: the old one was started again", marks)
	}
	within(t, 10*time.Second, "the bad one is given up", func() bool {
		said := h.log.FilterMessage("a newer adjuster is refused, the one before it goes on").FilterField(zap.String("style", "handle"))
		return said.Len() == refusals && slices.Equal(pidsOf(h.dir, "handle"), []int{pid})
	})
}

// TestStyleEndsWithItsFile: a program that is removed from the folder ends, and its style with it.
func TestStyleEndsWithItsFile(t *testing.T) {
	t.Parallel()
	h := askedAllTheWhile(t)
	version(t, h.file, "version=2.1.0")
	h.serves(t, "new", 12.7)
	h.there.Store(false)
	time.Sleep(500 * time.Millisecond) // those who ask it have their answers
	must(t, os.Remove(h.file))
	within(t, soon, "the style ends with its file", func() bool {
		_, err := h.Style(t.Context(), "handle", leveling.Voice{})
		return leveling.AsError(err).Reason == "STYLE_NOT_FOUND" && len(pidsOf(h.dir, "handle")) == 0
	})
}

// TestHold: what is asked for one call of the service is asked of one program, which ends after it.
func TestHold(t *testing.T) {
	t.Parallel()
	dir := install(t, "handle")
	h := host(t, adjusters.Options{Dir: dir})
	ctx, end := context.WithCancel(t.Context())
	defer end()
	call := h.Hold(ctx)
	old := pidOf(t, dir, "handle")
	q := ask("", 8)
	rows, err := h.Options(call, "handle", q)
	must(t, err)
	renamed(t, filepath.Join(dir, "handle"), "version=2.0.0")
	within(t, soon, "others get the new one", func() bool {
		mm, err := h.effect(t.Context(), "")
		return err == nil && mm == 12.7
	})
	said, err := h.Say(call, "handle", q.Figures, []leveling.Choice{{RowSetting: q.Rows[0], Option: rows[0].Options[9]}}, leveling.Voice{})
	must(t, err)
	if said[0].Say != "Turn the handle 1 turns." {
		t.Errorf("the words are another's than the options: %q", said[0].Say)
	}
	if style, err := h.Style(call, "handle", leveling.Voice{}); err != nil || style.Version != "1.0.0" {
		t.Errorf("%q, %v", style.Version, err)
	}
	if mm, err := h.effect(call, "print"); err != nil || mm != 6.35 { // not asked before
		t.Errorf("the call gets %v, %v", mm, err)
	}
	if !slices.Contains(pidsOf(dir, "handle"), old) {
		t.Error("the old one has ended before the call")
	}
	end()
	within(t, soon, "the old one ends with the call", func() bool { return !slices.Contains(pidsOf(dir, "handle"), old) })
	if mm, err := h.effect(call, ""); err == nil && mm != 12.7 {
		t.Errorf("a call that is over gets %v", mm)
	}
}

// TestHeldTooLong: a call that never ends does not keep a program.
func TestHeldTooLong(t *testing.T) {
	t.Parallel()
	dir := install(t, "handle")
	h := host(t, adjusters.Options{Dir: dir, DrainFor: 100 * time.Millisecond})
	call := h.Hold(t.Context())
	_, err := h.effect(call, "")
	must(t, err)
	must(t, os.Remove(filepath.Join(dir, "handle")))
	within(t, soon, "it is ended", func() bool { return len(pidsOf(dir, "handle")) == 0 })
	_, err = h.effect(call, "print")
	wantError(t, err, leveling.Unavailable, "ADJUSTER_DOWN", "being stopped")
}

// TestSlowCopy: a file that is still being copied is not touched.
func TestSlowCopy(t *testing.T) {
	t.Parallel()
	dir := install(t)
	h := host(t, adjusters.Options{Dir: dir})
	program, err := os.ReadFile(misbehaving)
	must(t, err)
	to, err := os.OpenFile(filepath.Join(dir, "handle"), os.O_WRONLY|os.O_CREATE, 0o755)
	must(t, err)
	for part := range slices.Chunk(program, len(program)/9) {
		_, err = to.Write(part)
		must(t, err)
		time.Sleep(100 * time.Millisecond)
		if styles, err := h.Styles(t.Context(), leveling.Voice{}); err != nil || len(styles) > 0 {
			t.Fatalf("half a file is a style: %v, %v", styles, err)
		}
	}
	must(t, to.Close())
	within(t, soon, "the whole file is served", func() bool { _, err := h.effect(t.Context(), ""); return err == nil })
	if wrong := h.log.FilterLevelExact(zap.ErrorLevel).Len(); wrong > 0 {
		t.Errorf("%d errors in the log", wrong)
	}
}

// TestBrokenOffCopy: a file that goes again before it was taken, as a copy's temporary name does, is nobody's program.
func TestBrokenOffCopy(t *testing.T) {
	t.Parallel()
	dir := install(t)
	h := host(t, adjusters.Options{Dir: dir, LookEvery: 20 * time.Millisecond})
	for range 3 {
		part := filepath.Join(dir, "handle.part")
		must(t, os.WriteFile(part, []byte("half"), 0o755))
		time.Sleep(100 * time.Millisecond) // it is seen
		must(t, os.Remove(part))
		time.Sleep(600 * time.Millisecond) // it is missed
	}
	version(t, filepath.Join(dir, "handle"), "")
	within(t, soon, "what comes after is served", func() bool { _, err := h.effect(t.Context(), ""); return err == nil })
	if n := h.log.FilterMessage("adjuster is gone from the folder and ends").Len(); n > 0 {
		t.Errorf("%d programs are said to have ended", n)
	}
}

// TestTwin: a file whose style another file serves waits until that one is gone.
func TestTwin(t *testing.T) {
	t.Parallel()
	dir := install(t, "b-handle")
	h := host(t, adjusters.Options{Dir: dir})
	fresh, replaced := filepath.Join(dir, "a-handle"), filepath.Join(dir, "b-other")
	renamed(t, fresh, "style=b-handle")
	renamed(t, replaced, "version=1.0.0")
	list := func() (all []string) {
		styles, err := h.Styles(t.Context(), leveling.Voice{})
		must(t, err)
		for _, s := range styles {
			all = append(all, fmt.Sprintf("%s %d %s %s", s.ID, s.State, s.Version, s.StateReason))
		}
		return all
	}
	const taken = `Its style "b-handle" is served by the program b-handle; remove one of the two.`
	want := func(what string, lines ...string) {
		t.Helper()
		within(t, soon, what, func() bool { return slices.Equal(list(), lines) })
	}
	want("the newcomer does not serve, though its name comes first", "a-handle 4  "+taken, "b-handle 2 1.0.0 ", "b-other 2 1.0.0 ")
	within(t, soon, "the log says so", func() bool { return h.log.FilterField(zap.String("reason", taken)).Len() > 0 })
	renamed(t, replaced, "version=2.0.0 style=b-handle")
	want("a newer file may not take it either", "a-handle 4  "+taken, "b-handle 2 1.0.0 ", "b-other 2 1.0.0 A newer file of it is refused: "+taken)
	must(t, os.Remove(fresh))
	must(t, os.Remove(filepath.Join(dir, "b-handle")))
	want("what waited serves", "b-handle 2 2.0.0 ")
}

// TestLock: where there is a lock, only what it names is run, and a change of it counts at once.
func TestLock(t *testing.T) {
	t.Parallel()
	dir := install(t, "known")
	file, stranger := filepath.Join(dir, "handle"), filepath.Join(dir, "stranger")
	version(t, file, "version=1.0.0")
	version(t, stranger, "version=1.0.0")
	lines, err := adjusters.Lock(dir)
	must(t, err)
	if len(lines) != 3 || lines[0].File != "handle" {
		t.Errorf("%v", lines)
	}
	lockFile := filepath.Join(dir, adjusters.LockName)
	text, err := os.ReadFile(lockFile)
	must(t, err)
	must(t, os.WriteFile(lockFile, text[:strings.LastIndex(string(text), "\n")-len("stranger")-66], 0o644)) // all but the last line
	script := filepath.Join(dir, "script")
	must(t, os.WriteFile(script, []byte("#!/bin/sh\nexec "+misbehaving+"\n"), 0o755))
	h := host(t, adjusters.Options{Dir: dir})
	is := func(id string, state leveling.StyleState, words string) func() bool {
		return func() bool {
			s, err := h.Style(t.Context(), id, leveling.Voice{})
			return err == nil && s.State == state && strings.Contains(s.StateReason, words) && (words != "" || s.StateReason == "")
		}
	}
	const unnamed, differs = "This program is not in adjusters.lock", "its checksum differs"
	within(t, soon, "what is named serves", is("handle", leveling.Serving, ""))
	within(t, soon, "what is not named is refused", is("stranger", leveling.Quarantined, unnamed))
	within(t, soon, "a script is itself checked, not its interpreter", is("script", leveling.Quarantined, unnamed))
	if h.log.FilterMessage("adjuster is set aside").FilterField(zap.String("style", "stranger")).Len() != 1 {
		t.Errorf("the log does not say it: %v", messages(h.log))
	}
	renamed(t, filepath.Join(dir, "late"), "version=1.0.0")
	within(t, soon, "what comes later is refused", is("late", leveling.Quarantined, unnamed))
	renamed(t, file, "version=2.0.0")
	within(t, soon, "another version is refused, the old one stays", is("handle", leveling.Serving, differs))
	if mm, err := h.effect(t.Context(), ""); err != nil || mm != 6.35 {
		t.Errorf("%v, %v", mm, err)
	}

	must(t, os.Remove(script))
	_, err = adjusters.Lock(dir)
	must(t, err)
	within(t, soon, "written again, all serve", func() bool {
		mm, err := h.effect(t.Context(), "")
		return err == nil && mm == 12.7 && is("late", leveling.Serving, "")() && is("stranger", leveling.Serving, "")()
	})

	must(t, os.WriteFile(lockFile, []byte("no lock\n"), 0o644))
	renamed(t, filepath.Join(dir, "later"), "version=1.0.0")
	within(t, soon, "a lock that cannot be read lets nothing in", is("later", leveling.Quarantined, "adjusters.lock cannot be read: line 1 is not"))
	within(t, soon, "and ends nothing", is("late", leveling.Serving, "cannot be read"))

	must(t, os.Chmod(lockFile, 0o666))
	within(t, soon, "nor one that others can write", is("later", leveling.Quarantined, "adjusters.lock does not count: This file can be written by others"))

	part := filepath.Join(dir, ".part")
	must(t, os.WriteFile(part, text[:66+len("handle\n")], 0o644)) // names the first version
	must(t, os.Rename(part, lockFile))
	within(t, soon, "what is no longer named ends", func() bool {
		return is("known", leveling.Quarantined, unnamed)() && is("handle", leveling.Quarantined, differs)() && len(running(t, dir)) == 0
	})

	must(t, os.Remove(lockFile))
	within(t, soon, "unlocked, all serve", func() bool {
		return is("known", leveling.Serving, "")() && is("handle", leveling.Serving, "")() && is("later", leveling.Serving, "")()
	})
}

// TestLockRefuses: what others can write is not locked, and an old lock stays as it is.
func TestLockRefuses(t *testing.T) {
	dir := install(t, "good")
	_, err := adjusters.Lock(dir)
	must(t, err)
	before, err := os.ReadFile(filepath.Join(dir, adjusters.LockName))
	must(t, err)
	must(t, os.WriteFile(filepath.Join(dir, "open"), []byte("#!/bin/sh\n"), 0o755))
	must(t, os.Chmod(filepath.Join(dir, "open"), 0o777))
	if _, err := adjusters.Lock(dir); err == nil || !strings.Contains(err.Error(), "open: This file can be written by others") {
		t.Errorf("got %v", err)
	}
	after, err := os.ReadFile(filepath.Join(dir, adjusters.LockName))
	must(t, err)
	if string(before) != string(after) {
		t.Errorf("the lock is\n%s", after)
	}
}

// TestLinks: a link is followed, but not to where others could put another file.
func TestLinks(t *testing.T) {
	t.Parallel()
	dir, safe, open := install(t), install(t, "handle"), install(t, "open-handle")
	must(t, os.Chmod(open, 0o777))
	must(t, os.Symlink(filepath.Join(safe, "handle"), filepath.Join(dir, "handle")))
	must(t, os.Symlink(filepath.Join(open, "open-handle"), filepath.Join(dir, "open-handle")))
	h := host(t, adjusters.Options{Dir: dir})
	if state, reason := h.state(t, "handle"); state != leveling.Serving {
		t.Errorf("%v %s", state, reason)
	}
	if state, reason := h.state(t, "open-handle"); state != leveling.Quarantined || !strings.Contains(reason, "lies in a folder that can be written by others") {
		t.Errorf("%v %s", state, reason)
	}
}

// TestRightsTakenAway: what was refused for its rights serves once they are right.
func TestRightsTakenAway(t *testing.T) {
	t.Parallel()
	dir := install(t)
	version(t, filepath.Join(dir, "handle"), "version=1.0.0")
	must(t, os.Chmod(dir, 0o777))
	h := host(t, adjusters.Options{Dir: dir})
	if state, _ := h.state(t, "handle"); state != leveling.Quarantined {
		t.Errorf("%v", state)
	}
	must(t, os.Chmod(dir, 0o755))
	within(t, soon, "it serves", func() bool { _, err := h.effect(t.Context(), ""); return err == nil })
	must(t, os.Chmod(dir, 0o775))
	version(t, filepath.Join(dir, "handle"), "version=2.0.0")
	within(t, soon, "nothing new is taken", func() bool {
		state, reason := h.state(t, "handle")
		return state == leveling.Serving && strings.Contains(reason, "folder can be written by others")
	})
	if mm, err := h.effect(t.Context(), ""); err != nil || mm != 6.35 {
		t.Errorf("%v, %v", mm, err)
	}
}
