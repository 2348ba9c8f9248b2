package main

import (
	"path/filepath"
	"strings"
	"testing"

	"rowdatum/server/internal/flow"
	"rowdatum/server/internal/store"
)

// TestNamesForgeNoLine: a label that an older version kept, or an import brought, is no further line of the list of keys.
func TestNamesForgeNoLine(t *testing.T) {
	t.Parallel()
	at := filepath.Join(t.TempDir(), "rowdatum.db")
	kept, err := store.Open(t.Context(), at, nil)
	if err != nil {
		t.Fatal(err)
	}
	err = kept.Write(t.Context(), func(tx flow.Tx) error {
		return tx.PutKey(flow.Key{ID: "k1", Shop: "creek", Role: flow.Reader, Label: "Ada\nk2  creek  owner  2026-01-01  good  Bo\x1b[2K", Hash: "h", CreateTime: 1})
	})
	if err != nil {
		t.Fatal(err)
	}
	if err := kept.Close(); err != nil {
		t.Fatal(err)
	}
	list := ran(t, "key", "list", "--store", at)
	if lines := strings.Count(list, "\n"); lines != 2 || strings.Contains(list, "\x1b") {
		t.Errorf("a list of one key has %d lines:\n%s", lines, list)
	}
}
