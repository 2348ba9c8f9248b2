package api

import (
	"context"
	"fmt"
	"net"
	"net/netip"
	"slices"
	"strings"
	"testing"
	"time"

	"go.uber.org/zap"
	"go.uber.org/zap/zapcore"
	"go.uber.org/zap/zaptest/observer"
	"google.golang.org/genproto/googleapis/rpc/errdetails"
	"google.golang.org/grpc"
	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/metadata"
	"google.golang.org/grpc/peer"
	"google.golang.org/grpc/status"

	pb "rowdatum/proto/gen/rowdatum/v1"
	"rowdatum/server/internal/flow"
	"rowdatum/server/internal/qrsvg"
	"rowdatum/server/leveling"
)

// TestPlaces: who is counted together. Only the gateway of the same process and a proxy that is named are believed about others.
func TestPlaces(t *testing.T) {
	g := newGate(Options{TrustedProxies: []netip.Prefix{netip.MustParsePrefix("10.8.0.0/24")}})
	tcp := func(ip string) net.Addr { return &net.TCPAddr{IP: net.ParseIP(ip), Port: 4711} }
	inside := &net.UnixAddr{Name: "bufconn", Net: insideNetwork}
	for _, c := range []struct {
		name      string
		from      net.Addr
		forwarded []string
		want      string
	}{
		{"IPv4", tcp("192.168.1.20"), nil, "192.168.1.20"},
		{"IPv4 within IPv6", tcp("::ffff:192.168.1.20"), nil, "192.168.1.20"},
		{"IPv6 is a network", tcp("2001:db8:1:2:3:4:5:6"), nil, "2001:db8:1:2::/64"},
		{"a caller that tells tales", tcp("192.168.1.20"), []string{"10.0.0.1"}, "192.168.1.20"},
		{"the gateway of this process", inside, []string{"10.0.0.1"}, "10.0.0.1"},
		{"what the gateway itself adds comes last", inside, []string{"10.0.0.9", "10.0.0.1"}, "10.0.0.1"},
		{"the gateway about an IPv6 caller", inside, []string{"2001:db8:1:2::7"}, "2001:db8:1:2::/64"},
		{"the gateway about nobody", inside, nil, insideNetwork},
		{"the gateway about something else", inside, []string{"@"}, "elsewhere"},
		{"a proxy that is named", tcp("10.8.0.1"), []string{"192.0.2.7"}, "192.0.2.7"},
		{"what a caller told the proxy", tcp("10.8.0.1"), []string{"198.51.100.1", "203.0.113.3, 192.0.2.7"}, "192.0.2.7"},
		{"a proxy that says nothing", tcp("10.8.0.1"), nil, "10.8.0.1"},
		{"a proxy that says no address", tcp("10.8.0.1"), []string{"unknown"}, "10.8.0.1"},
		{"a proxy of another network", tcp("10.9.0.1"), []string{"192.0.2.7"}, "10.9.0.1"},
	} {
		ctx := peer.NewContext(context.Background(), &peer.Peer{Addr: c.from})
		for _, f := range c.forwarded {
			md, _ := metadata.FromIncomingContext(ctx)
			ctx = metadata.NewIncomingContext(ctx, metadata.Join(md, metadata.Pairs("x-forwarded-for", f)))
		}
		if got := g.placeOf(ctx); got != c.want {
			t.Errorf("%s: %q, want %q", c.name, got, c.want)
		}
	}
}

// TestPairingPicture: the picture leads to the address that the caller used, and nowhere else.
func TestPairingPicture(t *testing.T) {
	f, _ := newFlow(t)
	access := &Access{Flow: f}
	for _, c := range []struct{ host, scheme, site string }{
		{"shop-pc.local:7480", "https", "https://shop-pc.local:7480"},
		{"192.168.1.20:7480", "http", "http://192.168.1.20:7480"},
		{"[fd00::1]:7480", "", "http://[fd00::1]:7480"},
		{"shop-pc.local", "javascript", "http://shop-pc.local"},
		{"", "", ""},
		{"elsewhere.example/x?", "https", ""},
		{"ann@elsewhere.example", "https", ""},
		{":7480", "http", ""},
		{strings.Repeat("a", 300), "http", ""},
	} {
		md := metadata.MD{}
		if c.host != "" {
			md.Set("x-forwarded-host", c.host)
		}
		if c.scheme != "" {
			md.Set("x-forwarded-proto", c.scheme)
		}
		ctx := metadata.NewIncomingContext(withKey(context.Background(), flow.LocalKey()), md)
		got, err := access.CreatePairing(ctx, &pb.CreatePairingRequest{Role: pb.Role_READER, Label: "a phone"})
		if err != nil {
			t.Errorf("%q: %v", c.host, err)
			continue
		}
		want := ""
		if c.site != "" {
			if want, err = qrsvg.Draw(c.site + "/pair#" + got.GetCode()); err != nil {
				t.Fatal(err)
			}
		}
		if got.GetQrSvg() != want || got.GetPath() != "/pair#"+got.GetCode() {
			t.Errorf("%q, %q: path %q, and another picture than that of %q", c.host, c.scheme, got.GetPath(), c.site)
		}
	}
}

// waiting is a stream whose caller sends nothing and stays.
type waiting struct {
	grpc.ServerStream
	ctx context.Context
}

func (w waiting) Context() context.Context { return w.ctx }

// TestStreamEndsWithItsKey: a revoked key ends what it has begun, and says why; the caller's leaving ends
// the looking.
func TestStreamEndsWithItsKey(t *testing.T) {
	f, _ := newFlow(t)
	secret, key, err := f.AddKey(t.Context(), "shop", flow.Reader, "a phone", 0)
	if err != nil {
		t.Fatal(err)
	}
	g := newGate(Options{Flow: f, RequireKey: true})
	g.recheck = 5 * time.Millisecond
	begun := make(chan struct{}, 1)
	watch := func(ctx context.Context) error {
		return stream(g, Options{Log: zap.NewNop(), Meter: noMeter{}})(nil, waiting{ctx: ctx}, &grpc.StreamServerInfo{FullMethod: ourServices + "JobService/WatchJob"},
			func(_ any, s grpc.ServerStream) error {
				if who := callerOf(s.Context()); who.Shop != "shop" {
					t.Errorf("the stream is of %+v", who)
				}
				begun <- struct{}{}
				<-s.Context().Done()
				return s.Context().Err()
			})
	}
	leaving, leave := context.WithCancel(carrying(secret))
	ended := make(chan error, 1)
	go func() { ended <- watch(leaving) }()
	<-begun
	leave()
	if err := <-ended; status.Code(err) != codes.Canceled {
		t.Errorf("a caller that left: %v", err)
	}
	go func() { ended <- watch(carrying(secret)) }()
	<-begun
	select {
	case err := <-ended:
		t.Fatalf("a stream with a good key ended: %v", err)
	case <-time.After(10 * g.recheck):
	}
	if _, err := f.RevokeKey(t.Context(), key.ID); err != nil {
		t.Fatal(err)
	}
	select {
	case err := <-ended:
		if status.Code(err) != codes.Unauthenticated {
			t.Errorf("a stream whose key was revoked: %v", err)
		}
	case <-time.After(10 * time.Second):
		t.Fatal("a stream outlives its key")
	}
}

// TestTooManyCallsSayWhen: the refusal carries the pause that the gateway turns into Retry-After, and speaks
// its reader's language.
func TestTooManyCallsSayWhen(t *testing.T) {
	f, _ := newFlow(t)
	g := newGate(Options{Flow: f})
	var last error
	for range tryBurst + 1 {
		_, last = g.admit(context.Background(), ourServices+"AccessService/RedeemPairing")
	}
	last = statusError(last, leveling.Voice{Language: leveling.Spanish})
	var reason string
	var pause time.Duration
	for _, d := range status.Convert(last).Details() {
		switch d := d.(type) {
		case *errdetails.ErrorInfo:
			reason = d.GetReason()
		case *errdetails.RetryInfo:
			pause = d.GetRetryDelay().AsDuration()
		}
	}
	if status.Code(last) != codes.ResourceExhausted || reason != "TOO_MANY_CALLS" || pause <= 0 || pause > 2*time.Second ||
		status.Convert(last).Message() != "Demasiadas llamadas a la vez; espere un momento." {
		t.Errorf("%v, reason %q, pause %v", last, reason, pause)
	}
}

// TestLogNamesTheKey, and never its secret.
func TestLogNamesTheKey(t *testing.T) {
	f, _ := newFlow(t)
	secret, _, err := f.AddKey(t.Context(), "shop", flow.Reader, "Ada's phone", 0)
	if err != nil {
		t.Fatal(err)
	}
	core, lines := observer.New(zapcore.DebugLevel)
	through := unary(newGate(Options{Flow: f, CallsPerSecond: 1, CallBurst: 2}), Options{Log: zap.New(core), Deadline: time.Second, Meter: noMeter{}})
	call := func(secret, method string) {
		info := &grpc.UnaryServerInfo{FullMethod: ourServices + method}
		_, _ = through(carrying(secret), nil, info, func(context.Context, any) (any, error) { return nil, nil })
	}
	call(secret, "PlanterService/GetPlanter")    // passes
	call(secret, "PlanterService/DeletePlanter") // too high
	call(secret, "PlanterService/GetPlanter")    // too often
	wrong := "rd_" + strings.Repeat("W", 26)
	call(wrong, "PlanterService/GetPlanter")
	if lines.Len() != 4 {
		t.Fatalf("%d lines for 4 calls", lines.Len())
	}
	for i, line := range lines.All() {
		said := fmt.Sprint(line.Message, line.ContextMap())
		if strings.Contains(said, secret) || strings.Contains(said, wrong) {
			t.Errorf("a secret is in the log: %s", said)
		}
		if named := line.ContextMap()["shop"] == "shop" && line.ContextMap()["key"] == "Ada's phone"; named != (i < 3) {
			t.Errorf("line %d names shop and key: %t: %s", i, named, said)
		}
	}
}

// TestWatchersAreBounded: one shop's watchers leave room for other shops', and all of them for calls.
func TestWatchersAreBounded(t *testing.T) {
	if mostWatchers >= maxStreams {
		t.Errorf("%d watchers leave no room for calls on a connection of %d streams", mostWatchers, maxStreams)
	}
	var w watchers
	var leave []func()
	enterWith := func(key flow.Key) bool {
		left, err := w.enter(key)
		if err != nil {
			if leveling.AsError(err).Kind != leveling.TooLarge {
				t.Error(err)
			}
			return false
		}
		leave = append(leave, left)
		return true
	}
	phones := 0
	enter := func(shop string) bool {
		phones++
		return enterWith(flow.Key{Shop: shop, ID: fmt.Sprint("phone-", phones/4)})
	}
	share := flow.Key{Shop: "east", ID: "share", Job: flow.JobKey{Planter: "p", Job: "j"}}
	for i := range mostWatchersOfShare {
		if !enterWith(share) {
			t.Fatalf("watcher %d of a link was refused", i)
		}
	}
	if enterWith(share) {
		t.Error("one link takes the watches of its shop")
	}
	for i := range mostWatchersOfKey {
		if !enterWith(flow.Key{Shop: "east", ID: "program"}) {
			t.Fatalf("watcher %d of a key was refused", i)
		}
	}
	if enterWith(flow.Key{Shop: "east", ID: "program"}) {
		t.Error("one key takes the watches of its shop")
	}
	if !enter("east") {
		t.Error("a link and a program keep out the shop's phones")
	}
	for i := range mostWatchersOfShop {
		if !enter("north") {
			t.Fatalf("watcher %d was refused", i)
		}
	}
	if enter("north") {
		t.Error("one shop has more watchers than one may have")
	}
	if !enter("south") {
		t.Error("one shop's watchers keep out another's")
	}
	leave[len(leave)-2]() // the last of north
	if leave = slices.Delete(leave, len(leave)-2, len(leave)-1); !enter("north") {
		t.Error("who left still counts")
	}
	for i := 0; len(leave) < mostWatchers; i++ {
		if !enter(fmt.Sprint("shop-", i%100)) {
			t.Fatalf("refused after %d", len(leave))
		}
	}
	if enter("west") {
		t.Error("there is no bound over all shops")
	}
	for _, left := range leave {
		left()
	}
	if w.all != 0 || len(w.byShop) != 0 || len(w.byKey) != 0 {
		t.Errorf("all have left, and %d in %d shops are counted", w.all, len(w.byShop))
	}
}

// TestWrittenIsInTheLog: a write that went well is a line at Info that tells who, what and by which request;
// a call without an id gets one, in the line as in the trail. Reads are quiet. All is metered.
func TestWrittenIsInTheLog(t *testing.T) {
	f, _ := newFlow(t)
	secret, _, err := f.AddKey(t.Context(), "shop", flow.Technician, "Ada's phone", 0)
	if err != nil {
		t.Fatal(err)
	}
	core, lines := observer.New(zapcore.InfoLevel)
	var m countingMeter
	through := unary(newGate(Options{Flow: f}), Options{Log: zap.New(core), Deadline: time.Second, Meter: &m})
	named := metadata.NewIncomingContext(context.Background(), metadata.Pairs("authorization", "Bearer "+secret, "x-request-id", "mine"))
	var ids []string
	call := func(ctx context.Context, method string, answer any) {
		info := &grpc.UnaryServerInfo{FullMethod: ourServices + method}
		if _, err := through(ctx, &pb.CreateFixtureRequest{}, info, func(ctx context.Context, _ any) (any, error) {
			ids = append(ids, requestOf(ctx, "", &pb.CreateFixtureRequest{}).LogID)
			return answer, nil
		}); err != nil {
			t.Fatal(err)
		}
	}
	call(carrying(secret), "FixtureService/GetFixture", &pb.Fixture{Name: "fixtures/box"})
	call(carrying(secret), "FixtureService/CreateFixture", &pb.Fixture{Name: "fixtures/box"})
	call(named, "FixtureService/CreateFixture", &pb.Fixture{Name: "fixtures/box"})
	if lines.Len() != 2 {
		t.Fatalf("%d lines for two writes and a read", lines.Len())
	}
	for i, line := range lines.All() {
		said := line.ContextMap()
		if line.Message != "written" || said["requestId"] != ids[i+1] || ids[i+1] == "" || said["shop"] != "shop" || said["key"] != "Ada's phone" ||
			said["resource"] != "fixtures/box" || said["method"] != "/rowdatum.v1.FixtureService/CreateFixture" {
			t.Errorf("%s %v, the trail has %q", line.Message, said, ids[i+1])
		}
	}
	if !writes(ourServices + "AccessService/EndSession") {
		t.Error("a reader who ends the key of a phone is not in the log")
	}
	if ids[0] == ids[1] || ids[2] != "mine" {
		t.Errorf("request ids %q", ids)
	}
	if want := "/rowdatum.v1.FixtureService/GetFixture OK"; len(m) != 3 || m[0] != want {
		t.Errorf("metered %q", m)
	}
}

type countingMeter []string

func (m *countingMeter) Call(method, code string, _ bool, _ time.Duration) {
	*m = append(*m, method+" "+code)
}
func (m *countingMeter) Stream(int) {}
