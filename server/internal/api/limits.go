package api

import (
	"context"
	"net/netip"
	"slices"
	"strings"
	"sync"
	"time"

	"golang.org/x/time/rate"
	"google.golang.org/grpc/metadata"
	"google.golang.org/grpc/peer"

	"rowdatum/server/internal/flow"
)

// What one key may call where Options does not say: far more than a person does, less than a loop gone
// wild.
const (
	usualCallsPerSecond = 50
	usualCallBurst      = 200
)

// What one place may try without a good key: enough for a crew that pairs its phones.
const (
	triesPerSecond = 0.5
	tryBurst       = 20
)

// mostNames bounds what a limiter remembers: twice this many names.
const mostNames = 4096

// limiter gives each name a bucket of tokens that fills at a steady rate.
type limiter struct {
	each  rate.Limit
	burst int
	most  int

	mu         sync.Mutex
	young, old map[string]*rate.Limiter // who is not seen while young fills is forgotten with old
}

func newLimiter(perSecond float64, burst int) *limiter {
	return &limiter{each: rate.Limit(perSecond), burst: burst, most: mostNames, young: map[string]*rate.Limiter{}}
}

// take takes a token, or tells how long it is until there is one.
func (l *limiter) take(name string, now time.Time) (wait time.Duration) {
	taken := l.bucket(name).ReserveN(now, 1)
	if wait = taken.DelayFrom(now); wait > 0 {
		taken.CancelAt(now)
	}
	return wait
}

func (l *limiter) bucket(name string) *rate.Limiter {
	l.mu.Lock()
	defer l.mu.Unlock()
	if b := l.young[name]; b != nil {
		return b
	}
	b := l.old[name]
	if b == nil {
		b = rate.NewLimiter(l.each, l.burst)
	}
	if len(l.young) >= l.most {
		l.old, l.young = l.young, map[string]*rate.Limiter{}
	}
	l.young[name] = b
	return b
}

// How many streams may be open at once: in this process, of one shop, which is far more than it has phones, and of one key, so
// that one phone or program leaves room for the shop's others. Each holds a little memory and a slot on its connection.
const (
	mostWatchers        = 3072
	mostWatchersOfShop  = 512
	mostWatchersOfKey   = 256
	mostWatchersOfShare = 8 // the key of a link: whoever has the link shares them
	// watchAgain is when somebody may have left.
	watchAgain = 10 * time.Second
)

// watchers counts open streams by shop and by key.
type watchers struct {
	mu     sync.Mutex
	all    int
	byShop map[string]int
	byKey  map[watcherKey]int
}

type watcherKey struct{ shop, id string }

// enter counts a stream until leave is called, or refuses it. Callers without a key are the local owner, whom only the shop's
// bound holds.
func (w *watchers) enter(key flow.Key) (leave func(), err error) {
	most := mostWatchersOfKey
	switch {
	case isShare(key):
		most = mostWatchersOfShare
	case key.ID == "":
		most = mostWatchersOfShop
	}
	id := watcherKey{key.Shop, key.ID}
	w.mu.Lock()
	defer w.mu.Unlock()
	if w.all >= mostWatchers || w.byShop[key.Shop] >= mostWatchersOfShop || w.byKey[id] >= most {
		return nil, tooManyCalls(watchAgain)
	}
	if w.byShop == nil {
		w.byShop, w.byKey = map[string]int{}, map[watcherKey]int{}
	}
	w.all++
	w.byShop[key.Shop]++
	w.byKey[id]++
	return func() { w.leave(id) }, nil
}

func (w *watchers) leave(id watcherKey) {
	w.mu.Lock()
	defer w.mu.Unlock()
	w.all--
	if w.byShop[id.shop]--; w.byShop[id.shop] == 0 {
		delete(w.byShop, id.shop)
	}
	if w.byKey[id]--; w.byKey[id] == 0 {
		delete(w.byKey, id)
	}
}

// insideNetwork is the network of the gateway in the same process.
const insideNetwork = "bufconn"

// placeOf is where a call comes from. Only the gateway of the same process and the proxies that were named are believed
// about others, and of what a proxy sends only the last hop: that is the one that it has added itself.
func (g *gate) placeOf(ctx context.Context) string {
	from, ok := peer.FromContext(ctx)
	if !ok {
		return ""
	}
	if from.Addr.Network() == insideNetwork {
		if hop := lastHop(ctx); hop != "" {
			return network(hop)
		}
		return insideNetwork
	}
	at, err := netip.ParseAddrPort(from.Addr.String())
	if err != nil {
		return from.Addr.String()
	}
	if hop, err := netip.ParseAddr(lastHop(ctx)); err == nil && within(g.proxies, at.Addr()) {
		return network(hop.String())
	}
	return network(at.Addr().String())
}

// lastHop is the last address of X-Forwarded-For, however many lines it came in.
func lastHop(ctx context.Context) string {
	list := strings.Join(metadata.ValueFromIncomingContext(ctx, "x-forwarded-for"), ",")
	return strings.TrimSpace(list[strings.LastIndex(list, ",")+1:])
}

func within(networks []netip.Prefix, address netip.Addr) bool {
	address = address.Unmap().WithZone("")
	return slices.ContainsFunc(networks, func(n netip.Prefix) bool { return n.Contains(address) })
}

// subnetBits is what one IPv6 customer has at least: addresses within it cost nothing.
const subnetBits = 64

func network(address string) string {
	ip, err := netip.ParseAddr(address)
	if err != nil {
		return "elsewhere"
	}
	if ip = ip.Unmap().WithZone(""); ip.Is6() {
		if net, err := ip.Prefix(subnetBits); err == nil {
			return net.String()
		}
	}
	return ip.String()
}
