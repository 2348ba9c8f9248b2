package store

import (
	"fmt"
	"path/filepath"
	"testing"

	"rowdatum/server/internal/flow"
	"rowdatum/server/leveling"
)

// TestFull lets a file have no more pages, as on a disk without room: writes say so, reads go on, what was acknowledged is
// there, and with room writes go on.
func TestFull(t *testing.T) {
	s := opened(t, filepath.Join(t.TempDir(), "rowdatum.db"))
	key := jobIn(t, s)
	pages := func(most int) {
		mustWrite(t, s, func(t flow.Tx) error {
			_, err := t.(*tx).exec(fmt.Sprint("PRAGMA max_page_count = ", most)) // fewer than there are: as many as there are
			return err
		})
	}
	pages(1)
	acknowledged := revisionOf(t, s, key)
	var err error
	for range 1000 { // far more than the last page holds
		if err = s.Write(t.Context(), appendTo(key)); err != nil {
			break
		}
		acknowledged++
	}
	if e := leveling.AsError(err); err == nil || e.Kind != leveling.Unavailable || e.Reason != "STORE_FULL" {
		t.Fatalf("without room: %v", err)
	}
	if got := revisionOf(t, s, key); got != acknowledged {
		t.Errorf("revision %d, acknowledged %d", got, acknowledged)
	}
	pages(1 << 20)
	mustWrite(t, s, appendTo(key))
	if got := revisionOf(t, s, key); got != acknowledged+1 {
		t.Errorf("with room again: revision %d, want %d", got, acknowledged+1)
	}
}
