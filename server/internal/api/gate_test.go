package api

import (
	"context"
	"errors"
	"fmt"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"google.golang.org/grpc/metadata"
	"google.golang.org/protobuf/reflect/protoreflect"
	"google.golang.org/protobuf/reflect/protoregistry"

	pb "rowdatum/proto/gen/rowdatum/v1"
	"rowdatum/server/internal/flow"
	"rowdatum/server/internal/store"
	"rowdatum/server/leveling"
)

// clock is a time that tests set.
type clock struct{ now leveling.Micros }

func newFlow(t *testing.T) (*flow.Flow, *clock) {
	t.Helper()
	kept, err := store.Open(t.Context(), filepath.Join(t.TempDir(), "rowdatum.db"), nil)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		if err := kept.Close(); err != nil {
			t.Error(err)
		}
	})
	c := &clock{now: 1e15}
	return &flow.Flow{Store: kept, Now: func() leveling.Micros { return c.now }}, c
}

func carrying(secret string) context.Context {
	return metadata.NewIncomingContext(context.Background(), metadata.Pairs("authorization", "Bearer "+secret))
}

func reason(err error) string {
	if e, ok := errors.AsType[*leveling.Error](err); ok {
		return e.Reason
	}
	return fmt.Sprint(err)
}

// methods are all methods of the contract.
func methods(t *testing.T) (names []string) {
	t.Helper()
	protoregistry.GlobalFiles.RangeFilesByPackage("rowdatum.v1", func(file protoreflect.FileDescriptor) bool {
		for i := range file.Services().Len() {
			service := file.Services().Get(i)
			for k := range service.Methods().Len() {
				names = append(names, string(service.Name())+"/"+string(service.Methods().Get(k).Name()))
			}
		}
		return true
	})
	if len(names) < 30 {
		t.Fatalf("only %d methods found: the test looks at nothing", len(names))
	}
	return names
}

// TestEveryMethodHasARole: a new method cannot be forgotten, nor an old one left behind.
func TestEveryMethodHasARole(t *testing.T) {
	all := map[string]bool{}
	for _, name := range methods(t) {
		all[name] = true
		if _, known := leastRole[name]; !known {
			t.Errorf("nobody has said who may call %s", name)
		}
	}
	for name := range leastRole {
		if !all[name] {
			t.Errorf("%s is no method of the contract", name)
		}
	}
	for name := range sharedMethods {
		if leastRole[name] != flow.Reader {
			t.Errorf("a share may call %s, which not every reader may", name)
		}
	}
}

// TestRoles asks for every method with a key of every role, and of a share.
func TestRoles(t *testing.T) {
	f, _ := newFlow(t)
	g := newGate(Options{Flow: f, RequireKey: true, CallsPerSecond: 1e6, CallBurst: 1e6})
	secrets := map[flow.Role]string{}
	for _, role := range []flow.Role{flow.Reader, flow.Technician, flow.Owner} {
		secret, _, err := f.AddKey(t.Context(), "shop", role, "", 0)
		if err != nil {
			t.Fatal(err)
		}
		secrets[role] = secret
	}
	for _, name := range methods(t) {
		if leastRole[name] == anybody {
			if _, err := g.admit(context.Background(), ourServices+name); err != nil {
				t.Errorf("%s is for anybody, but: %v", name, err)
			}
			continue
		}
		if _, err := g.admit(context.Background(), ourServices+name); reason(err) != "KEY_MISSING" {
			t.Errorf("%s without a key: %v", name, err)
		}
		for role, secret := range secrets {
			key, err := g.admit(carrying(secret), ourServices+name)
			if role < leastRole[name] && reason(err) != "ROLE_TOO_LOW" || role >= leastRole[name] && err != nil {
				t.Errorf("%s as %s: %v", name, roleName[role], err)
			}
			if key.Shop != "shop" {
				t.Errorf("%s: the key is of shop %q", name, key.Shop)
			}
		}
		share := flow.Key{Role: flow.Reader, Job: flow.JobKey{Planter: "p", Job: "j"}}
		if err := mayCall(share, name, leastRole[name]); (err == nil) != sharedMethods[name] {
			t.Errorf("%s with a share link: %v", name, err)
		}
	}
	if _, err := g.admit(carrying(secrets[flow.Owner]), ourServices+"JobService/Invented"); err == nil {
		t.Error("a method that nobody has spoken of was let through")
	}
	for _, open := range []string{"/grpc.health.v1.Health/Check", "/grpc.reflection.v1.ServerReflection/ServerReflectionInfo"} {
		if _, err := g.admit(context.Background(), open); err != nil {
			t.Errorf("%s: %v", open, err)
		}
	}
}

// TestKeysThatAreNotGood are refused, whether a key is asked for or not.
func TestKeysThatAreNotGood(t *testing.T) {
	f, c := newFlow(t)
	revoked, key, err := f.AddKey(t.Context(), "shop", flow.Owner, "", 0)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := f.RevokeKey(t.Context(), key.ID); err != nil {
		t.Fatal(err)
	}
	code, _, err := f.CreatePairing(t.Context(), flow.Caller{Shop: "shop", Role: flow.Owner}, "", flow.Technician, "a phone")
	if err != nil {
		t.Fatal(err)
	}
	phone, phoneKey, err := f.RedeemPairing(t.Context(), "", code)
	if err != nil {
		t.Fatal(err)
	}
	const get = ourServices + "PlanterService/GetPlanter"
	for _, requireKey := range []bool{true, false} {
		g := newGate(Options{Flow: f, RequireKey: requireKey})
		if key, err := g.admit(carrying(phone), get); err != nil || key.Role != flow.Technician || key.Label != "a phone" {
			t.Errorf("a paired phone: %+v, %v", key, err)
		}
		for _, c := range []struct {
			name, want string
			ctx        context.Context
		}{
			{"a key of nobody's", "KEY_WRONG", carrying("rd_WRONG")},
			{"an empty key", "KEY_WRONG", carrying("")},
			{"a revoked key", "KEY_REVOKED", carrying(revoked)},
			{"another scheme", "KEY_WRONG", metadata.NewIncomingContext(context.Background(), metadata.Pairs("authorization", "Basic eDp5"))},
			{"two keys", "KEY_WRONG", metadata.NewIncomingContext(context.Background(), metadata.Pairs("authorization", "Bearer "+phone, "authorization", "Bearer "+phone))},
		} {
			if _, err := g.admit(c.ctx, get); reason(err) != c.want {
				t.Errorf("%s (keys required: %t): %v, want %s", c.name, requireKey, err, c.want)
			}
		}
	}
	c.now = phoneKey.ExpireTime
	if _, err := newGate(Options{Flow: f}).admit(carrying(phone), get); reason(err) != "KEY_EXPIRED" {
		t.Errorf("a key past its time: %v", err)
	}
	local, err := newGate(Options{Flow: f}).admit(context.Background(), get)
	if err != nil || local.Shop != flow.LocalShop || local.Role != flow.Owner {
		t.Errorf("no key on a service of this machine alone: %+v, %v", local, err)
	}
	afar := metadata.NewIncomingContext(context.Background(), metadata.Pairs(KeysOnlyHeader, "1"))
	if _, err := newGate(Options{Flow: f}).admit(afar, get); reason(err) != "KEY_MISSING" {
		t.Errorf("no key through a gateway that others can reach: %v", err)
	}
}

// TestPairing: a code is good once, and not for long.
func TestPairing(t *testing.T) {
	f, c := newFlow(t)
	owner := flow.Caller{Shop: "shop", Role: flow.Owner}
	code, expires, err := f.CreatePairing(t.Context(), owner, "", flow.Reader, "a phone")
	if err != nil {
		t.Fatal(err)
	}
	if expires <= c.now || expires > c.now+leveling.Micros(15*time.Minute/time.Microsecond) {
		t.Errorf("the code lasts %v", time.Duration(expires-c.now)*time.Microsecond)
	}
	if _, key, err := f.RedeemPairing(t.Context(), "", code); err != nil || key.Shop != "shop" || key.Role != flow.Reader {
		t.Errorf("redeeming: %+v, %v", key, err)
	}
	late, expires, err := f.CreatePairing(t.Context(), owner, "", flow.Reader, "a phone")
	if err != nil {
		t.Fatal(err)
	}
	c.now = expires
	for name, code := range map[string]string{"used": code, "too old": late, "wrong": "ABCDEFGHJKLM", "empty": "", "long": strings.Repeat("A", 1<<16)} {
		if _, _, err := f.RedeemPairing(t.Context(), "", code); reason(err) != "CODE_WRONG" {
			t.Errorf("a code that is %s: %v", name, err)
		}
	}
	if _, _, err := f.CreatePairing(t.Context(), flow.Caller{Shop: "shop", Role: flow.Technician}, "", flow.Owner, "a phone"); reason(err) != "INVALID_REQUEST" {
		t.Errorf("a technician made an owner of a phone: %v", err)
	}
}

// TestOwnJob: a share reads its own job and no other.
func TestOwnJob(t *testing.T) {
	share := flow.Key{Job: flow.JobKey{Shop: "s", Planter: "p", Job: "j"}}
	for _, c := range []struct {
		req  any
		mine bool
	}{
		{&pb.GetJobRequest{Name: "planters/p/jobs/j"}, true},
		{&pb.ListJobEventsRequest{Parent: "planters/p/jobs/j"}, true},
		{&pb.WatchJobRequest{Name: "planters/p/jobs/j"}, true},
		{&pb.GetJobSheetRequest{Name: "planters/p/jobs/j"}, true},
		{&pb.GetStyleRequest{Name: "styles/cam-bolt"}, true}, // what the sheet's words are of
		{&pb.ListStylesRequest{}, true},
		{&pb.GetJobRequest{Name: "planters/p/jobs/k"}, false},
		{&pb.GetJobSheetRequest{Name: "planters/p/jobs/k"}, false},
		{&pb.WatchJobRequest{Name: "planters/q/jobs/j"}, false},
		{&pb.ListJobEventsRequest{}, false},
	} {
		if err := ownJob(share, c.req); (err == nil) != c.mine || err != nil && reason(err) != "JOB_NOT_FOUND" {
			t.Errorf("%T %v: %v", c.req, c.req, err)
		}
		if err := ownJob(flow.Key{}, c.req); err != nil {
			t.Errorf("a key of a shop: %v", err)
		}
	}
}

// TestLimits: a key may call so often, wrong keys far less, and what is remembered is bounded.
func TestLimits(t *testing.T) {
	now := time.Unix(1e9, 0)
	l := newLimiter(2, 5)
	for range 5 {
		if wait := l.take("a", now); wait != 0 {
			t.Fatalf("within the burst: wait %v", wait)
		}
	}
	if wait := l.take("a", now); wait <= 0 || wait > time.Second {
		t.Errorf("past the burst: wait %v", wait)
	}
	if wait := l.take("b", now); wait != 0 {
		t.Errorf("another key waits %v", wait)
	}
	if wait := l.take("a", now.Add(time.Second)); wait != 0 {
		t.Errorf("a second later: wait %v", wait)
	}
	for i := range 5 * mostNames {
		l.take(fmt.Sprint(i), now)
	}
	if n := len(l.young) + len(l.old); n > 2*mostNames {
		t.Errorf("%d names are remembered", n)
	}

	f, _ := newFlow(t)
	good, _, err := f.AddKey(t.Context(), "shop", flow.Owner, "", 0)
	if err != nil {
		t.Fatal(err)
	}
	g := newGate(Options{Flow: f, RequireKey: true})
	const get = ourServices + "PlanterService/GetPlanter"
	if _, err := g.admit(carrying(good), get); err != nil {
		t.Fatal(err)
	}
	var last error
	for i := range tryBurst + 5 {
		_, last = g.admit(carrying(fmt.Sprint("wrong", i)), get)
	}
	if leveling.AsError(last).Kind != leveling.TooLarge {
		t.Errorf("guessing goes on: %v", last)
	}
	fresh, _, err := f.AddKey(t.Context(), "shop", flow.Owner, "", 0)
	if err != nil {
		t.Fatal(err)
	}
	for _, key := range []string{good, fresh} { // fresh has never been seen here
		if _, err := g.admit(carrying(key), get); err != nil {
			t.Errorf("a guesser locks out who works there: %v", err)
		}
	}
}
