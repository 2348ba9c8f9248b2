package store

import (
	"path/filepath"
	"strings"
	"testing"

	"rowdatum/server/internal/flow"
	"rowdatum/server/leveling"
)

func TestRefusedPlaces(t *testing.T) {
	for _, place := range []string{"", "mysql://x/y", "http://x", "file://x"} {
		_, err := Open(t.Context(), place, nil)
		if e := leveling.AsError(err); err == nil || e.Kind != leveling.Unavailable || !strings.Contains(err.Error(), "postgres://") {
			t.Errorf("%q: %v", place, err)
		}
	}
}

// TestBeside adds a key beside a running service, which sees it, and backs it up.
func TestBeside(t *testing.T) {
	place := filepath.Join(t.TempDir(), "rowdatum.db")
	service := opened(t, place)
	command, err := OpenBeside(t.Context(), place, nil)
	if err != nil {
		t.Fatal(err)
	}
	mustWrite(t, command, func(tx flow.Tx) error { return tx.PutKey(flow.Key{ID: "k", Shop: "north", Hash: "h"}) })
	file := filepath.Join(t.TempDir(), "backup.db")
	if err := command.Backup(t.Context(), file); err != nil {
		t.Fatal(err)
	}
	if err := command.Close(); err != nil {
		t.Fatal(err)
	}
	for _, s := range []*Store{service, opened(t, file)} {
		if err := s.Read(t.Context(), func(v flow.View) error { _, err := v.KeyByHash("h"); return err }); err != nil {
			t.Error(err)
		}
	}
}

// TestGroups: writes that wait share a commit, and never more than the bound.
func TestGroups(t *testing.T) {
	s := opened(t, filepath.Join(t.TempDir(), "rowdatum.db"))
	key := jobIn(t, s)
	var sizes []int
	s.grouped = func(n int) { sizes = append(sizes, n) }
	release, inside := make(chan struct{}), make(chan struct{})
	const writes = 2*groupMost + 10
	done := make(chan error, writes+1)
	go func() {
		done <- s.Write(t.Context(), func(flow.Tx) error { close(inside); <-release; return nil })
	}()
	<-inside
	for range writes {
		go func() { done <- s.Write(t.Context(), appendTo(key)) }()
	}
	for len(s.queue) < cap(s.queue) { // as many as can wait in line do
	}
	close(release)
	for range writes + 1 {
		if err := <-done; err != nil {
			t.Error(err)
		}
	}
	largest := 0
	for _, n := range sizes {
		largest = max(largest, n)
	}
	if largest != groupMost || len(sizes) > 20 {
		t.Errorf("groups of %v", sizes)
	}
	if got := revisionOf(t, s, key); got != 1+writes {
		t.Errorf("revision %d, want %d", got, 1+writes)
	}
}

func FuzzWords(f *testing.F) {
	f.Add("north", "p", "j", 7, "x/y,1")
	f.Add("a/b", "c,d", "e'f", 0, "a/b/c,")
	f.Add("", "%", "\x00", -1, "%zz/b/c,2")
	f.Fuzz(func(t *testing.T, shop, planter, name string, revision int, foreign string) {
		key := flow.JobKey{Shop: shop, Planter: planter, Job: name}
		said := words(key, revision)
		if strings.ContainsAny(said, "'\\\x00") {
			t.Fatalf("%q is not safe in a statement", said)
		}
		var h hub
		changed, cancel := h.subscribe(key)
		defer cancel()
		h.tellWords(said)
		if got := len(changed) == 1; got != (revision > 0) {
			t.Errorf("%q heard %t", said, got)
		}
		h.tellWords(foreign) // must not panic
	})
}
