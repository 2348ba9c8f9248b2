package hooks

import (
	"cmp"
	"context"
	"math/rand/v2"
	"net/http"
	"sync"
	"time"

	"go.uber.org/zap"

	"rowdatum/server/internal/flow"
	"rowdatum/server/leveling"
)

// Options of a Deliverer. Store and Now are required.
type Options struct {
	Store     flow.Store
	Now       func() leveling.Micros // the clock
	Log       *zap.Logger            // nil is silent
	Meter     Meter                  // nil counts nothing
	ToPrivate bool                   // send to this machine and into private networks too
	Timeout   time.Duration          // of one attempt; 0 is 10 s

	Look   time.Duration                    // so often it is looked for what is due; 0 is 1 s
	Pause  func(attempts int) time.Duration // after so many attempts that failed; nil is 1 s, doubling to 1 h
	GiveUp time.Duration                    // after the first attempt; 0 is 3 days
}

// Meter hears of what becomes of deliveries. Its methods return at once.
type Meter interface {
	// TryFailed hears of each attempt that the receiver did not take.
	TryFailed()
	// Delivered and GivenUp hear of each delivery that ended, once that is written down.
	Delivered()
	GivenUp()
}

type noMeter struct{}

func (noMeter) TryFailed() {}
func (noMeter) Delivered() {}
func (noMeter) GivenUp()   {}

// Choices of ours.
const (
	usualTimeout = 10 * time.Second
	usualLook    = time.Second
	usualGiveUp  = 72 * time.Hour
	shortPause   = 2 * time.Second // the first, of which a random half is taken off
	longPause    = time.Hour
	longestPause = 24 * time.Hour   // that a receiver may ask for
	claimGrace   = 10 * time.Second // a claim's beyond an attempt: for writing down what came of it
	keepBound    = 5 * time.Second
	storeAway    = 10 * time.Second // until a store that did not answer is asked again

	mostAtOnce     = 64 // deliveries on their way from this process
	mostAtOnceHook = 8  // of one hook: one that hangs leaves room for others

	keptFor   = 30 * 24 * time.Hour // what has ended
	tidyEvery = time.Hour
	tidyMost  = 10_000
)

// Deliverer sends what is due until it is closed.
type Deliverer struct {
	Options
	client *http.Client
	ctx    context.Context
	cancel context.CancelFunc
	wake   chan struct{} // something has ended
	work   sync.WaitGroup

	mu      sync.Mutex
	running map[place]int // deliveries on their way, by hook
	all     int
}

type place struct{ shop, hook string }

// Start begins to deliver.
func Start(o Options) *Deliverer {
	o.Timeout, o.Look, o.GiveUp = cmp.Or(o.Timeout, usualTimeout), cmp.Or(o.Look, usualLook), cmp.Or(o.GiveUp, usualGiveUp)
	if o.Log == nil {
		o.Log = zap.NewNop()
	}
	if o.Meter == nil {
		o.Meter = noMeter{}
	}
	if o.Pause == nil {
		o.Pause = usualPause
	}
	d := &Deliverer{Options: o, client: newClient(o.ToPrivate), wake: make(chan struct{}, 1), running: map[place]int{}}
	d.ctx, d.cancel = context.WithCancel(context.Background())
	d.work.Go(d.deliver)
	d.work.Go(d.tidy)
	return d
}

// Close ends what is on its way and waits for it; it is due again at once, for whoever comes next.
func (d *Deliverer) Close() {
	d.cancel()
	d.work.Wait()
	d.client.CloseIdleConnections()
}

// deliver looks for what is due, again whenever something has ended.
func (d *Deliverer) deliver() {
	for d.ctx.Err() == nil {
		wait := d.Look
		if err := d.round(); err != nil && d.ctx.Err() == nil {
			d.Log.Warn("hooks could not be looked after", zap.Error(err))
			wait = storeAway
		}
		select {
		case <-d.ctx.Done():
		case <-d.wake:
		case <-time.After(wait):
		}
	}
}

// round takes what is due and there is room for.
func (d *Deliverer) round() error {
	var hooks []flow.Hook
	err := d.Store.Read(d.ctx, func(v flow.View) (err error) {
		hooks, err = v.DueHooks(d.Now())
		return err
	})
	if err != nil {
		return err
	}
	// Where there is no room for all, none is always the last.
	rand.Shuffle(len(hooks), func(i, k int) { hooks[i], hooks[k] = hooks[k], hooks[i] })
	for _, h := range hooks {
		if err := d.take(h); err != nil {
			return err
		}
	}
	return nil
}

// take claims what is due of one hook and sends it.
func (d *Deliverer) take(h flow.Hook) error {
	room := d.room(h)
	if h.Paused || room <= 0 {
		return nil
	}
	var claimed []flow.Delivery
	err := d.Store.Write(d.ctx, func(tx flow.Tx) (err error) {
		now := d.Now()
		claimed, err = tx.ClaimDeliveries(h.Shop, h.ID, now, now+micros(d.Timeout+claimGrace), room)
		return err
	})
	if err != nil {
		return err
	}
	for _, x := range claimed {
		d.count(h, 1)
		d.work.Go(func() { d.send(h, x) })
	}
	return nil
}

func (d *Deliverer) room(h flow.Hook) int {
	d.mu.Lock()
	defer d.mu.Unlock()
	return min(mostAtOnceHook-d.running[place{h.Shop, h.ID}], mostAtOnce-d.all)
}

func (d *Deliverer) count(h flow.Hook, n int) {
	d.mu.Lock()
	defer d.mu.Unlock()
	at := place{h.Shop, h.ID}
	d.all += n
	if d.running[at] += n; d.running[at] == 0 {
		delete(d.running, at)
	}
}

// send makes one attempt and keeps what came of it.
func (d *Deliverer) send(h flow.Hook, x flow.Delivery) {
	claim := x.DueTime
	got := d.post(d.ctx, h, x)
	now := d.Now()
	if got.problem != "" && d.ctx.Err() != nil {
		x.DueTime = now // the attempt was cut off by us, and does not count
	} else {
		if got.problem != "" {
			d.Meter.TryFailed()
		}
		x = d.after(x, got, now)
	}
	d.note(x)
	ctx, cancel := context.WithTimeout(context.WithoutCancel(d.ctx), keepBound)
	defer cancel()
	err := d.Store.Write(ctx, func(tx flow.Tx) error { return tx.KeepDelivery(x, claim, now) })
	switch {
	case err == nil:
		d.ended(x)
	case leveling.AsError(err).Kind != leveling.Stale: // stale: the hook is gone, or somebody else has it
		d.Log.Warn("what came of a delivery was not kept; it is sent again", append(about(x), zap.Error(err))...)
	}
	d.count(h, -1)
	select {
	case d.wake <- struct{}{}:
	default: // it will look
	}
}

// ended counts a delivery that has ended.
func (d *Deliverer) ended(x flow.Delivery) {
	switch x.State {
	case flow.Delivered:
		d.Meter.Delivered()
	case flow.Dead:
		d.Meter.GivenUp()
	}
}

// after is a delivery after one more attempt.
func (d *Deliverer) after(x flow.Delivery, got answer, now leveling.Micros) flow.Delivery {
	x.Attempts, x.FirstTime, x.LastStatus, x.LastProblem = x.Attempts+1, cmp.Or(x.FirstTime, now), got.status, got.problem
	next := now + micros(max(d.Pause(x.Attempts), got.wait))
	switch {
	case got.problem == "":
		x.State, x.DueTime, x.EndTime = flow.Delivered, 0, now
	case next > x.FirstTime+micros(d.GiveUp):
		x.State, x.DueTime, x.EndTime = flow.Dead, 0, now
	default:
		x.DueTime = next
	}
	return x
}

// usualPause doubles with every attempt; a random half keeps many from coming back at once.
func usualPause(attempts int) time.Duration {
	pause := longPause
	if doublings := attempts - 1; doublings < 12 { // 2 s × 2¹² is more than the longest
		pause = min(shortPause<<doublings, longPause)
	}
	return pause/2 + rand.N(pause/2)
}

// note logs a delivery that failed; the address is the shop's own affair and may hold a secret.
func (d *Deliverer) note(x flow.Delivery) {
	switch {
	case x.State == flow.Dead:
		d.Log.Warn("a delivery was given up", about(x)...)
	case x.State == flow.Waiting && x.Attempts == 1:
		d.Log.Info("a delivery failed and is tried again", about(x)...)
	}
}

func about(x flow.Delivery) []zap.Field {
	return []zap.Field{zap.String("shop", x.Shop), zap.String("hook", x.Hook), zap.String("delivery", x.ID), zap.String("job", x.Job),
		zap.Int("attempts", x.Attempts), zap.Int("status", x.LastStatus), zap.String("problem", x.LastProblem)}
}

// tidy forgets what ended long ago.
func (d *Deliverer) tidy() {
	again := time.NewTicker(tidyEvery)
	defer again.Stop()
	for {
		select {
		case <-d.ctx.Done():
			return
		case <-again.C:
			err := d.Store.Write(d.ctx, func(tx flow.Tx) error { return tx.DropDeliveries(d.Now()-micros(keptFor), tidyMost) })
			if err != nil && d.ctx.Err() == nil {
				d.Log.Warn("old deliveries were not cleared away", zap.Error(err))
			}
		}
	}
}

func micros(d time.Duration) leveling.Micros { return leveling.Micros(d.Microseconds()) }
