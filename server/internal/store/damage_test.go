package store

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"go.uber.org/zap"
	"go.uber.org/zap/zaptest/observer"

	"rowdatum/server/internal/flow"
	"rowdatum/server/leveling"
)

const pageSize = 4096 // of SQLite, as the store has it

// goodStore is the file of a store with two signed jobs.
func goodStore(t *testing.T) []byte {
	t.Helper()
	text, err := os.ReadFile("../../../testdata/seal/store.db")
	if err != nil {
		t.Fatal(err)
	}
	return text
}

func written(t *testing.T, text []byte) (file string) {
	t.Helper()
	file = filepath.Join(t.TempDir(), "rowdatum.db")
	if err := os.WriteFile(file, text, 0o600); err != nil {
		t.Fatal(err)
	}
	return file
}

func reasonOf(err error) string {
	if err == nil {
		return ""
	}
	return leveling.AsError(err).Reason
}

// readAll reads everything that the store's shop has, and counts what is not what was written.
func readAll(ctx context.Context, s *Store) (bad int, err error) {
	_, err = (&flow.Flow{Store: s}).Check(ctx, func(_, _ string, _ error) { bad++ })
	return bad, err
}

// noticed is whether damage in a store of these bytes is found: when it is opened, looked over or read. Where the database itself
// is hurt, nothing is written; a record or a seal that is hurt fails alone.
func noticed(t *testing.T, text []byte) bool {
	t.Helper()
	s, err := Open(t.Context(), written(t, text), nil)
	if err != nil {
		if reasonOf(err) != "STORE_DAMAGED" {
			t.Errorf("opening: %v", err)
		}
		return true
	}
	defer s.Close()
	bad, err := readAll(t.Context(), s)
	if why := reasonOf(err); err != nil && why != "STORE_DAMAGED" && why != "RECORD_DAMAGED" {
		t.Errorf("reading: %v", err)
	}
	if s.Damage() == nil {
		return bad > 0 || err != nil
	}
	err = s.Write(t.Context(), func(flow.Tx) error { t.Error("something was written"); return nil })
	if e := leveling.AsError(err); e.Reason != "STORE_DAMAGED" || e.Kind != leveling.DataLoss {
		t.Errorf("writing: %v", err)
	}
	if reasonOf(s.Probe(t.Context())) != "STORE_DAMAGED" {
		t.Error("the store is ready")
	}
	return true
}

// TestDamagedPages hurts every page of a store in turn, in the way that a disk may.
func TestDamagedPages(t *testing.T) {
	good := goodStore(t)
	if noticed(t, good) {
		t.Fatal("a good store is damaged")
	}
	db, err := sql.Open("sqlite", "file:"+written(t, good)+"?mode=ro")
	if err != nil {
		t.Fatal(err)
	}
	defer db.Close()
	var free int
	if err := db.QueryRowContext(t.Context(), "PRAGMA freelist_count").Scan(&free); err != nil || free > 0 {
		t.Fatalf("%d free pages, %v: damage there is none", free, err)
	}
	for page := range len(good) / pageSize {
		for what, hurt := range map[string]func([]byte){
			"zeros":         func(p []byte) { clear(p) },
			"another's":     func(p []byte) { copy(p, strings.Repeat("\r\nnot ours", pageSize)) },
			"its first bit": func(p []byte) { p[0] ^= 0x40 },
		} {
			text := append([]byte(nil), good...)
			hurt(text[page*pageSize : (page+1)*pageSize])
			if !noticed(t, text) {
				t.Errorf("page %d: %s, and nobody notices", page+1, what)
			}
		}
	}
}

// TestCutOff cuts a store off.
func TestCutOff(t *testing.T) {
	good := goodStore(t)
	for _, size := range []int{50, pageSize, pageSize + 100, len(good) / 2, len(good) - 3000} {
		if !noticed(t, good[:size]) {
			t.Errorf("cut off after %d bytes, and nobody notices", size)
		}
	}
}

// TestEmptiedStore: an empty file is a new store only where nothing tells that there was one.
func TestEmptiedStore(t *testing.T) {
	file := written(t, goodStore(t))
	s := mustOpen(t, file)
	backup := filepath.Join(t.TempDir(), "backup.db")
	if err := errors.Join(s.Backup(t.Context(), backup), s.Close()); err != nil {
		t.Fatal(err)
	}
	for what, lose := range map[string]func() error{
		"empty": func() error { return os.WriteFile(file, nil, 0o600) },
		"gone":  func() error { return errors.Join(os.WriteFile(file, nil, 0o600), os.Remove(file)) },
	} {
		if err := lose(); err != nil {
			t.Fatal(err)
		}
		_, err := Open(t.Context(), file, nil)
		if reasonOf(err) != "STORE_DAMAGED" || !strings.Contains(err.Error(), backup) {
			t.Errorf("%s: %v", what, err)
		}
	}
	if err := os.Remove(file + ".last-backup"); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(file+"-wal", []byte("what a service that was killed left"), 0o600); err != nil {
		t.Fatal(err)
	}
	if _, err := Open(t.Context(), file, nil); reasonOf(err) != "STORE_DAMAGED" {
		t.Errorf("with a log beside it: %v", err)
	}
	if err := os.Remove(file + "-wal"); err != nil {
		t.Fatal(err)
	}
	mustClose(t, mustOpen(t, file))
}

func mustClose(t *testing.T, s *Store) {
	t.Helper()
	if err := s.Close(); err != nil {
		t.Fatal(err)
	}
}

// TestDamageWhileItRuns hurts a store under a service: what can be read goes on, nothing is written, the log names the backup, and no
// backup of the damaged store takes the place of the good one.
func TestDamageWhileItRuns(t *testing.T) {
	file := written(t, goodStore(t))
	core, logged := observer.New(zap.InfoLevel)
	s, err := Open(t.Context(), file, zap.New(core))
	if err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	backup := filepath.Join(t.TempDir(), "backup.db")
	if err := s.Backup(t.Context(), backup); err != nil {
		t.Fatal(err)
	}
	kept, err := os.ReadFile(backup)
	if err != nil {
		t.Fatal(err)
	}
	for _, page := range pagesOf(t, file, "events") {
		if err := overwrite(file, page); err != nil {
			t.Fatal(err)
		}
	}
	key := flow.JobKey{Shop: "local", Planter: "creek-six", Job: "first"}
	err = s.Read(t.Context(), func(v flow.View) error { _, err := v.Log(key); return err })
	if e := leveling.AsError(err); e.Reason != "STORE_DAMAGED" || e.Kind != leveling.DataLoss {
		t.Fatalf("%v", err)
	}
	if err := s.Write(t.Context(), func(flow.Tx) error { return nil }); reasonOf(err) != "STORE_DAMAGED" {
		t.Errorf("a write: %v", err)
	}
	if err := s.Read(t.Context(), func(v flow.View) error { _, err := v.Planter("local", "creek-six"); return err }); err != nil {
		t.Errorf("what can be read is not shown: %v", err)
	}
	told := logged.FilterMessageSnippet("THE STORE IS DAMAGED").All()
	if len(told) != 1 || !strings.Contains(fmt.Sprint(told[0].ContextMap()["newestBackup"]), backup) {
		t.Errorf("the log says %v", told)
	}
	if err := s.Backup(t.Context(), backup); err == nil {
		t.Error("a damaged store was backed up")
	}
	if now, err := os.ReadFile(backup); err != nil || string(now) != string(kept) {
		t.Errorf("the good backup was replaced (%v)", err)
	}
}

// pagesOf are the pages of a table, its root first.
func pagesOf(t *testing.T, file, table string) (pages []int) {
	t.Helper()
	db, err := sql.Open("sqlite", "file:"+file+"?mode=ro")
	if err != nil {
		t.Fatal(err)
	}
	defer db.Close()
	rows, err := db.QueryContext(t.Context(), "SELECT rootpage FROM sqlite_schema WHERE tbl_name = $1 AND rootpage > 0", table)
	if err != nil {
		t.Fatal(err)
	}
	defer rows.Close()
	for rows.Next() {
		var page int
		if err := rows.Scan(&page); err != nil {
			t.Fatal(err)
		}
		pages = append(pages, page)
	}
	if len(pages) == 0 || rows.Err() != nil {
		t.Fatalf("%s has no pages (%v)", table, rows.Err())
	}
	return pages
}

func overwrite(file string, page int) error {
	f, err := os.OpenFile(file, os.O_WRONLY, 0)
	if err != nil {
		return err
	}
	_, err = f.WriteAt([]byte(strings.Repeat("x", pageSize)), int64(page-1)*pageSize)
	return errors.Join(err, f.Close())
}
