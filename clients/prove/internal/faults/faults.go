package faults

import (
	"context"
	"errors"
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"time"

	"golang.org/x/sync/errgroup"

	"rowdatum/clients/prove/internal/proof"
)

// The styles of the bundle that the faults are tried with.
const (
	handle = "threaded-handle"
	stop   = "notched-stop"
)

// prover strikes with one setting.
type prover struct {
	proof.Setting
	folder   string // of its own, removed at the end
	database *database
}

// outcome is what came of one fault.
type outcome struct {
	fault     string
	times     int
	verdict   verdict
	repeated  int // writes whose answer did not come and that were asked for again
	seen      seen
	watches   seen
	told      int // events that followers were told, once and in order
	toTell    int
	recovered time.Duration // the longest
	never     bool          // it did not
	kept      []kept        // what had to go on
	without   string        // why the fault was not tried
}

// kept is something that had to go on while a fault lasted, or come of it.
type kept struct {
	must        string
	asked, good int
	comment     string
	atMost      float64 // good over asked is at most this; 0: it is 1
}

// fault is one thing that can go wrong.
type fault struct {
	name  string
	times int // in the long form; once in the quick one
	try   func(context.Context, *prover, *outcome) error
}

// portable are the faults that can be tried on any system.
var portable = []fault{
	{"process killed hard, SQLite", 12, killedOnSQLite},
	{"process killed hard, PostgreSQL", 12, killedOnPostgres},
	{"plugin lying", len(lies), lying},
	{"PostgreSQL restarted (fast)", 6, restarted("fast")},
	{"PostgreSQL restarted (immediate)", 6, restarted("immediate")},
	{"connections cut in mid-stream", 60, cut},
	{"malformed requests", 1, malformed},
	{"clock set back", 4, clockSetBack},
}

// Run tries every fault. In the quick form three at a time: how long something took says nothing then.
func Run(ctx context.Context, setting proof.Setting) ([]proof.Table, error) {
	var err error
	if setting.Repository, err = filepath.Abs(setting.Repository); err != nil {
		return nil, err
	}
	folder, err := os.MkdirTemp("", "rowdatum-faults-")
	if err != nil {
		return nil, err
	}
	defer os.RemoveAll(folder)
	if err := os.Chmod(folder, 0o755); err != nil { // the database's own user looks into it
		return nil, err
	}
	p := &prover{setting, folder, newDatabase(setting.Repository, folder)}
	outcomes, err := p.tryAll(ctx, slices.Concat(portable, systems))
	if err := errors.Join(err, p.database.stop()); err != nil {
		return nil, err
	}
	return []proof.Table{struck(outcomes), wentOn(outcomes)}, nil
}

func (p *prover) tryAll(ctx context.Context, faults []fault) ([]*outcome, error) {
	all, trying := errgroup.WithContext(ctx)
	all.SetLimit(1)
	if p.Quick {
		all.SetLimit(3)
	}
	outcomes := make([]*outcome, len(faults))
	for i, f := range faults {
		o := &outcome{fault: f.name, times: f.times}
		if p.Quick {
			o.times = 1
		}
		outcomes[i] = o
		all.Go(func() error {
			begun := time.Now()
			if err := f.try(trying, p, o); err != nil {
				return fmt.Errorf("%s: %w", f.name, err)
			}
			p.Say("%s: %v", f.name, time.Since(begun).Round(100*time.Millisecond))
			return nil
		})
	}
	err := all.Wait()
	return outcomes, errors.Join(err, ctx.Err())
}

func (p *prover) program() string   { return filepath.Join(p.Programs, "rowdatumd") }
func (p *prover) adjusters() string { return filepath.Join(p.Programs, "adjusters") }

// rounds strikes a scene as often as the outcome says, each time under load on a new job. strike returns when the fault is
// over, and from what moment on all is to work again.
func (s *scene) rounds(ctx context.Context, o *outcome, strike func(context.Context, *load) (time.Time, error)) error {
	random := rand.New(rand.NewPCG(8, 5))
	for range o.times {
		l, err := s.begin(ctx, o)
		if err != nil {
			return err
		}
		o.seen.strike()
		o.watches.strike()
		sleep(ctx, 300*time.Millisecond+time.Duration(random.Int64N(int64(500*time.Millisecond))))
		over, err := strike(ctx, l)
		if err != nil {
			l.abandon()
			return err
		}
		took, healed := l.healed(ctx, over)
		o.recovered = max(o.recovered, took)
		o.never = o.never || !healed
		if !healed {
			l.abandon()
			return nil
		}
		sleep(ctx, 200*time.Millisecond)
		if err := l.end(ctx, o); err != nil {
			return err
		}
	}
	return nil
}

// keep takes what callers saw; each of their calls had to be answered.
func (o *outcome) keep(callers ...*caller) {
	for _, c := range callers {
		comment := fmt.Sprintf("longest wait %s", short(time.Duration(c.longest.Load())))
		if c.seen.errors() > 0 {
			comment += "; " + c.seen.String()
		}
		o.kept = append(o.kept, kept{must: c.must, asked: int(c.asked.Load()), good: int(c.good.Load()), comment: comment})
	}
}

// struck is the table of the faults.
func struck(outcomes []*outcome) proof.Table {
	t := proof.Table{
		Title: "Faults under load",
		Notes: []string{
			fmt.Sprintf("The built service is struck while %d clients write notes and readings to one job (half over gRPC, half as JSON over HTTP) and two others follow it. "+
				"A client sends a write again, with the same request id, until it is answered, and keeps in a ledger what the answer acknowledged. "+
				"When all work again, the job's whole log is read and held against the ledger. Each round has a new job.", writers),
			"Ratio: acknowledged events that stand in the log exactly once, in the place and as they were acknowledged, over all acknowledged; what stands in the log though nobody wrote it, or half of a write, counts against it. " +
				"Recovered after: from the end of the fault (for what heals by itself, from its beginning) until every client was answered a new write; the longest of all rounds.",
			"STORE_UNSURE is what a client is told where the disk or the database failed while a commit was on its way: asked again with the same request id, the write is there once.",
		},
		Columns: []string{"fault", "times", "what the writing clients saw", "sent again", "acknowledged", "lost", "not as acknowledged", "recovered after"},
	}
	for _, o := range outcomes {
		if o.without != "" {
			t.Notes = append(t.Notes, fmt.Sprintf("Not tried: %s. %s", o.fault, o.without))
			continue
		}
		recovered, ratio := short(o.recovered), o.verdict.ratio()
		if o.recovered == 0 {
			recovered = "nothing stopped"
		}
		if o.never {
			recovered, ratio = "never", 0
		}
		t.Rows = append(t.Rows, proof.Row{Cells: []string{o.fault, fmt.Sprint(o.times), o.seen.String(), fmt.Sprint(o.repeated), fmt.Sprint(o.verdict.acknowledged),
			fmt.Sprint(o.verdict.lost), fmt.Sprint(o.verdict.twice + o.verdict.strange), recovered}, Ratio: ratio, Goal: proof.AtLeast(1)})
	}
	return t
}

// wentOn is the table of what had to go on meanwhile.
func wentOn(outcomes []*outcome) proof.Table {
	t := proof.Table{
		Title: "What goes on through the faults",
		Notes: []string{
			"What does not need the struck part must not notice; what does must say so, in a way that a client can act on. Ratio: as it must be, over all.",
		},
		Columns: []string{"fault", "what must hold", "of", "as it must be", "seen"},
	}
	for _, o := range outcomes {
		all := o.kept
		if o.toTell > 0 {
			all = append(all, kept{must: "followers are told every event once and in order", asked: o.toTell, good: o.told, comment: o.watches.String()})
		}
		if o.seen.all > 0 {
			all = append(all, kept{must: "writing clients may try again by themselves after an error", asked: o.seen.all, good: o.seen.again})
		}
		for _, k := range all {
			goal := proof.AtLeast(1)
			if k.atMost > 0 {
				goal = proof.AtMost(k.atMost)
			}
			t.Rows = append(t.Rows, proof.Row{Cells: []string{o.fault, k.must, fmt.Sprint(k.asked), fmt.Sprint(k.good), k.comment},
				Ratio: float64(k.good) / float64(k.asked), Goal: goal})
		}
	}
	return t
}
