package flow_test

import (
	"bytes"
	"strings"
	"testing"

	"rowdatum/server/internal/flow"
	"rowdatum/server/internal/store"
	"rowdatum/server/leveling"
)

var owner = flow.Caller{Shop: "north", Role: flow.Owner}

// Request ids.
const (
	firstID  = "3f2b8c1e-9d64-4a57-8f20-1c5b7e9a0d43"
	secondID = "5c0d7a12-0b4e-4f6a-9a3d-7d1f2e8b6c90"
)

func books() flow.Hook {
	return flow.Hook{URL: "https://shop.example/rowdatum", Events: []flow.HookEvent{flow.JobSigned}}
}

func must[T any](t *testing.T) func(T, error) T {
	return func(x T, err error) T {
		t.Helper()
		if err != nil {
			t.Fatal(err)
		}
		return x
	}
}

// remembered is what is kept of the first answer to a request.
func remembered(t *testing.T, kept *store.Store, id string) []byte {
	t.Helper()
	var a flow.Answer
	err := kept.Read(t.Context(), func(v flow.View) (err error) {
		var ok bool
		if a, ok, err = v.Answer("north", id); !ok {
			t.Errorf("nothing is remembered of request %s", id)
		}
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	return a.Response
}

// TestRememberedHookAnswers: a repeat tells the secret of the first answer, and none once the hook no longer signs
// with it; what is remembered holds no secret.
func TestRememberedHookAnswers(t *testing.T) {
	f, kept, _ := onStore(t)
	at := noon
	f.Now = func() leveling.Micros { return at }
	create := func() flow.Hook {
		t.Helper()
		return must[flow.Hook](t)(f.CreateHook(t.Context(), owner, flow.Request{ID: firstID}, "", books()))
	}
	made := create()
	rotate := func(id string) flow.Hook {
		t.Helper()
		return must[flow.Hook](t)(f.RotateHookSecret(t.Context(), owner, flow.Request{ID: id}, made.ID))
	}
	if again := create(); again.ID != made.ID || again.Secret != made.Secret || !strings.HasPrefix(made.Secret, "whsec_") {
		t.Fatalf("made %+v, and again %+v", made, again)
	}
	rotated := rotate(secondID)
	if rotated.Secret == made.Secret || rotated.OldUntil != noon+days(1) {
		t.Fatalf("rotated to %+v", rotated)
	}
	for _, c := range []struct {
		when           leveling.Micros
		created, later string
	}{{noon, made.Secret, rotated.Secret}, {noon + days(1) - 1, made.Secret, rotated.Secret}, {noon + days(1), "", rotated.Secret}} {
		at = c.when
		if got := create(); got.Secret != c.created || got.Revision != 1 {
			t.Errorf("%d µs after, the repeated create tells %q at revision %d, want %q at 1", at-noon, got.Secret, got.Revision, c.created)
		}
		if got := rotate(secondID); got.Secret != c.later || got.Revision != 2 {
			t.Errorf("%d µs after, the repeated rotation tells %q at revision %d, want %q at 2", at-noon, got.Secret, got.Revision, c.later)
		}
	}
	for _, id := range []string{firstID, secondID} {
		answer := remembered(t, kept, id)
		if bytes.Contains(answer, []byte(made.Secret[6:])) || bytes.Contains(answer, []byte(rotated.Secret[6:])) || !bytes.Contains(answer, []byte("shop.example")) {
			t.Errorf("of request %s is remembered %s", id, answer)
		}
	}
	if err := f.DeleteHook(t.Context(), owner, flow.Request{}, made.ID, ""); err != nil {
		t.Fatal(err)
	}
	if got := rotate(secondID); got.Secret != "" || got.URL != books().URL {
		t.Errorf("of a hook that is gone: %+v", got)
	}
}

// TestUpdateTellsNoSecret: a change keeps the hook's secret, and neither tells nor remembers it.
func TestUpdateTellsNoSecret(t *testing.T) {
	f, kept, _ := onStore(t)
	made := must[flow.Hook](t)(f.CreateHook(t.Context(), owner, flow.Request{}, "books", books()))
	for range 2 {
		changed := must[flow.Hook](t)(f.UpdateHook(t.Context(), owner, flow.Request{ID: firstID}, "books", "", func(h flow.Hook) (flow.Hook, error) {
			h.Paused = true
			return h, nil
		}))
		if changed.Secret != "" || !changed.Paused || changed.Revision != 2 {
			t.Errorf("changed to %+v", changed)
		}
	}
	if present := must[flow.Hook](t)(f.Hook(t.Context(), owner, "books")); present.Secret != made.Secret || !present.Paused {
		t.Errorf("the hook is now %+v", present)
	}
	if answer := remembered(t, kept, firstID); bytes.Contains(answer, []byte(made.Secret[6:])) {
		t.Errorf("remembered: %s", answer)
	}
}
