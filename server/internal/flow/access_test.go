package flow_test

import (
	"bytes"
	"errors"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"rowdatum/server/internal/flow"
	"rowdatum/server/internal/store"
	"rowdatum/server/leveling"
	"rowdatum/server/leveling/job"
)

const noon = leveling.Micros(1_800_000_000_000_000)

func days(n int) leveling.Micros {
	return leveling.Micros(n) * leveling.Micros(24*time.Hour/time.Microsecond)
}

// onStore is a flow on a store of its own, whose clock stands at noon.
func onStore(t *testing.T) (f *flow.Flow, kept *store.Store, dir string) {
	t.Helper()
	dir = t.TempDir()
	kept, err := store.Open(t.Context(), filepath.Join(dir, "rowdatum.db"), nil)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		if err := kept.Close(); err != nil {
			t.Error(err)
		}
	})
	return &flow.Flow{Store: kept, Now: func() leveling.Micros { return noon }}, kept, dir
}

func reason(err error) string {
	if err == nil {
		return ""
	}
	return leveling.AsError(err).Reason
}

// TestSecretsAreNotKept looks for them in every byte that the store has written.
func TestSecretsAreNotKept(t *testing.T) {
	f, kept, dir := onStore(t)
	secret, key, err := f.AddKey(t.Context(), "north", flow.Owner, "Ada", 0)
	if err != nil {
		t.Fatal(err)
	}
	code, _, err := f.CreatePairing(t.Context(), key.Caller(), "", flow.Reader, "a phone")
	if err != nil {
		t.Fatal(err)
	}
	other, _, err := f.CreatePairing(t.Context(), key.Caller(), "", flow.Reader, "a phone")
	if err != nil {
		t.Fatal(err)
	}
	phone, _, err := f.RedeemPairing(t.Context(), "", other)
	if err != nil {
		t.Fatal(err)
	}
	if err := kept.Probe(t.Context()); err != nil {
		t.Fatal(err)
	}
	files, err := filepath.Glob(filepath.Join(dir, "*"))
	if err != nil {
		t.Fatal(err)
	}
	label := false
	for _, file := range files {
		text, err := os.ReadFile(file)
		if err != nil {
			t.Fatal(err)
		}
		label = label || bytes.Contains(text, []byte("Ada"))
		for _, s := range []string{secret, code, other, phone} {
			if bytes.Contains(text, []byte(s)) || bytes.Contains(text, []byte(strings.TrimPrefix(s, "rd_"))) {
				t.Errorf("%s holds the secret %s", filepath.Base(file), s)
			}
		}
	}
	if !label {
		t.Error("the key's label was not found either: the test looks at nothing")
	}
}

func TestAddKeyIsChecked(t *testing.T) {
	f, _, _ := onStore(t)
	for name, c := range map[string]struct {
		shop  string
		role  flow.Role
		label string
		ok    bool
	}{
		"good":             {"north", flow.Reader, "", true},
		"no shop":          {"", flow.Reader, "", false},
		"a shop in words":  {"Shop North", flow.Reader, "", false},
		"no role":          {"north", 0, "", false},
		"above the owner":  {"north", flow.Owner + 1, "", false},
		"a label too long": {"north", flow.Reader, strings.Repeat("x", leveling.MaxExternalIDSize+1), false},
	} {
		if _, _, err := f.AddKey(t.Context(), c.shop, c.role, c.label, 0); (err == nil) != c.ok {
			t.Errorf("%s: %v", name, err)
		}
	}
	if _, err := f.RevokeKey(t.Context(), "nobodys"); reason(err) != "KEY_NOT_FOUND" {
		t.Errorf("revoking no key: %v", err)
	}
}

// TestGuarded: keys that open nothing guard nothing.
func TestGuarded(t *testing.T) {
	f, kept, _ := onStore(t)
	guarded := func() bool {
		yes, err := f.Guarded(t.Context())
		if err != nil {
			t.Fatal(err)
		}
		return yes
	}
	if guarded() {
		t.Error("an empty store is guarded")
	}
	put := func(k flow.Key) {
		if err := kept.Write(t.Context(), func(tx flow.Tx) error { return tx.PutKey(k) }); err != nil {
			t.Fatal(err)
		}
	}
	put(flow.Key{ID: "past", Shop: "north", Role: flow.Owner, Hash: "1", ExpireTime: noon})
	put(flow.Key{ID: "revoked", Shop: "north", Role: flow.Owner, Hash: "2", RevokeTime: noon - 1})
	put(flow.Key{ID: "share", Shop: "north", Role: flow.Reader, Hash: "3", Job: flow.JobKey{Shop: "north", Planter: "p", Job: "j"}})
	if guarded() {
		t.Error("keys that open nothing guard")
	}
	put(flow.Key{ID: "good", Shop: "south", Role: flow.Reader, Hash: "4", ExpireTime: noon + 1})
	if !guarded() {
		t.Error("a good key does not guard")
	}
}

// TestCodeIsRedeemedOnce by twenty phones at the same moment.
func TestCodeIsRedeemedOnce(t *testing.T) {
	f, _, _ := onStore(t)
	code, _, err := f.CreatePairing(t.Context(), flow.Caller{Shop: "north", Role: flow.Owner}, "", flow.Technician, "a phone")
	if err != nil {
		t.Fatal(err)
	}
	var work sync.WaitGroup
	var mu sync.Mutex
	won, lost := 0, 0
	for range 20 {
		work.Go(func() {
			_, _, err := f.RedeemPairing(t.Context(), "", code)
			mu.Lock()
			defer mu.Unlock()
			switch {
			case err == nil:
				won++
			case reason(err) == "CODE_WRONG":
				lost++
			default:
				t.Error(err)
			}
		})
	}
	work.Wait()
	if won != 1 || lost != 19 {
		t.Errorf("%d phones were paired and %d refused", won, lost)
	}
	keys, err := f.Keys(t.Context(), "north")
	if err != nil || len(keys) != 1 {
		t.Errorf("%d keys, %v", len(keys), err)
	}
}

// TestPairingsAreBounded: a shop has so many codes open at once, another shop's do not count, and those that ended neither.
func TestPairingsAreBounded(t *testing.T) {
	f, _, _ := onStore(t)
	now := noon
	f.Now = func() leveling.Micros { return now }
	pair := func(shop string) error {
		_, _, err := f.CreatePairing(t.Context(), flow.Caller{Shop: shop, Role: flow.Owner}, "", flow.Reader, "a phone")
		return err
	}
	for i := range 100 {
		if err := pair("north"); err != nil {
			t.Fatalf("code %d: %v", i, err)
		}
	}
	if err := pair("north"); reason(err) != "PAIRINGS_FULL" {
		t.Errorf("one code too many: %v", err)
	}
	if err := pair("south"); err != nil {
		t.Errorf("another shop's: %v", err)
	}
	now += leveling.Micros(11 * time.Minute / time.Microsecond)
	if err := pair("north"); err != nil {
		t.Errorf("after the codes have ended: %v", err)
	}
}

// TestShares: a link reads a job of its own shop, for a time.
func TestShares(t *testing.T) {
	f, kept, _ := onStore(t)
	north, south := flow.Caller{Shop: "north", Role: flow.Technician, Label: "Ada"}, flow.Caller{Shop: "south", Role: flow.Owner}
	key := flow.JobKey{Shop: "north", Planter: "p", Job: "j"}
	if err := kept.Write(t.Context(), func(tx flow.Tx) error {
		return errors.Join(tx.PutPlanter("north", leveling.Planter{ID: "p", Revision: 1}),
			tx.PutJob(flow.JobHead{JobKey: key, Stage: job.StageOpen, Revision: 1, CreateTime: noon, UpdateTime: noon}, []job.Event{{Revision: 1, Opened: &job.Opened{}}}))
	}); err != nil {
		t.Fatal(err)
	}
	for name, c := range map[string]struct {
		who     flow.Caller
		job     flow.JobKey
		expires leveling.Micros
		ends    leveling.Micros
		reason  string
	}{
		"left out":     {north, key, 0, noon + days(30), ""},
		"a day":        {north, key, noon + days(1), noon + days(1), ""},
		"the longest":  {north, key, noon + days(400), noon + days(400), ""},
		"too long":     {north, key, noon + days(400) + 1, 0, "INVALID_REQUEST"},
		"past":         {north, key, noon, 0, "INVALID_REQUEST"},
		"no such job":  {north, flow.JobKey{Shop: "north", Planter: "p", Job: "k"}, 0, 0, "JOB_NOT_FOUND"},
		"another shop": {south, flow.JobKey{Shop: "south", Planter: "p", Job: "j"}, 0, 0, "JOB_NOT_FOUND"},
	} {
		secret, made, err := f.CreateShare(t.Context(), c.who, "log-1", c.job, c.expires)
		if reason(err) != c.reason {
			t.Errorf("%s: %v, want reason %q", name, err, c.reason)
			continue
		}
		if err != nil {
			continue
		}
		if made.ExpireTime != c.ends {
			t.Errorf("%s: ends at %v, want %v", name, made.ExpireTime, c.ends)
		}
		found, err := f.Authenticate(t.Context(), secret)
		if err != nil || found.Role != flow.Reader || found.Job != key {
			t.Errorf("%s: the link is the key %+v, %v", name, found, err)
		}
	}
	trail, _, err := f.AuditEntries(t.Context(), north, flow.Query{Limit: 10})
	if err != nil || len(trail) != 3 || trail[0].Method != "CreateShare" || trail[0].Resource != "planters/p/jobs/j" || trail[0].KeyLabel != "Ada" || trail[0].RequestID != "log-1" {
		t.Errorf("the trail of three links: %+v, %v", trail, err)
	}
	if theirs, _, err := f.AuditEntries(t.Context(), south, flow.Query{Limit: 10}); err != nil || len(theirs) != 0 {
		t.Errorf("another shop sees the trail: %+v, %v", theirs, err)
	}
}

// TestKeysAreInTheTrail: adding and revoking at the machine is written down too.
func TestKeysAreInTheTrail(t *testing.T) {
	f, _, _ := onStore(t)
	_, key, err := f.AddKey(t.Context(), "north", flow.Owner, "Ada", 0)
	if err != nil {
		t.Fatal(err)
	}
	for range 2 { // what was revoked stays so, and is told once
		if _, err := f.RevokeKey(t.Context(), key.ID); err != nil {
			t.Fatal(err)
		}
	}
	trail, _, err := f.AuditEntries(t.Context(), key.Caller(), flow.Query{Limit: 10})
	if err != nil || len(trail) != 2 || trail[0].Method != "RevokeKey" || trail[1].Method != "AddKey" || trail[1].Resource != "keys/"+key.ID {
		t.Errorf("the trail: %+v, %v", trail, err)
	}
}

// TestEndSession: a phone ends its own key, once; nobody else's, and no key that pairing did not make.
func TestEndSession(t *testing.T) {
	f, _, _ := onStore(t)
	_, owner, err := f.AddKey(t.Context(), "north", flow.Owner, "Ada", 0)
	if err != nil {
		t.Fatal(err)
	}
	pair := func(role flow.Role) (string, flow.Key) {
		code, _, err := f.CreatePairing(t.Context(), owner.Caller(), "", role, "a phone")
		if err != nil {
			t.Fatal(err)
		}
		secret, key, err := f.RedeemPairing(t.Context(), "", code)
		if err != nil {
			t.Fatal(err)
		}
		return secret, key
	}
	stays, _ := pair(flow.Technician)
	for _, role := range []flow.Role{flow.Reader, flow.Technician, flow.Owner} {
		secret, key := pair(role)
		for range 2 { // two calls that passed the door together
			if err := f.EndSession(t.Context(), key, "log-1"); err != nil {
				t.Errorf("role %d: %v", role, err)
			}
		}
		if _, err := f.Authenticate(t.Context(), secret); reason(err) != "KEY_REVOKED" {
			t.Errorf("role %d: the key that ended: %v", role, err)
		}
		trail, _, err := f.AuditEntries(t.Context(), owner.Caller(), flow.Query{Limit: 2})
		if err != nil || trail[0].Method != "EndSession" || trail[0].Resource != "keys/"+key.ID || trail[0].KeyLabel != "a phone" || trail[0].RequestID != "log-1" || trail[1].Method != "RedeemPairing" {
			t.Errorf("role %d: the trail: %+v, %v", role, trail, err)
		}
	}
	if _, err := f.Authenticate(t.Context(), stays); err != nil {
		t.Errorf("another phone: %v", err)
	}
	share := flow.Key{ID: "abc", Shop: "north", Role: flow.Reader, Job: flow.JobKey{Shop: "north", Planter: "p", Job: "j"}}
	for name, key := range map[string]flow.Key{"made at the machine": owner, "a share": share, "none": flow.LocalKey()} {
		if err := f.EndSession(t.Context(), key, ""); reason(err) != "KEY_NOT_PAIRED" {
			t.Errorf("%s: %v", name, err)
		}
	}
	keys, err := f.Keys(t.Context(), "north")
	if err != nil {
		t.Fatal(err)
	}
	for _, k := range keys {
		if k.ID == owner.ID && k.RevokeTime != 0 {
			t.Error("the owner's key was revoked")
		}
	}
}
