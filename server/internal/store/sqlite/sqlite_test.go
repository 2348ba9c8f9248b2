package sqlite

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"net/url"
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"testing"

	"rowdatum/server/internal/store/engine"
)

func mustOpen(t *testing.T, path string, how How) *Engine {
	t.Helper()
	e, err := Open(t.Context(), path, how)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		if err := e.Close(); err != nil {
			t.Errorf("closing: %v", err)
		}
	})
	return e
}

// TestPaths opens files whose names mean something in a URI, and in pragmas.
func TestPaths(t *testing.T) {
	for _, name := range []string{"plain.db", "a b.db", "what?mode=ro.db", "half#way.db", "50%.db", "%41.db", "a&_pragma=synchronous(OFF).db",
		"Größe.db", "it's.db", "new/deeper/x.db", ":memory:", "file:x.db", "+.db", ";.db"} {
		t.Run(name, func(t *testing.T) {
			dir := t.TempDir()
			path := filepath.Join(dir, filepath.FromSlash(name))
			e := mustOpen(t, path, Own)
			if _, err := e.Writer().Exec("UPDATE writer SET probes = probes + 1"); err != nil {
				t.Fatal(err)
			}
			info, err := os.Stat(path)
			if err != nil || info.Size() == 0 {
				t.Fatalf("the file is not where it was asked for: %v", err)
			}
			if runtime.GOOS != "windows" && info.Mode().Perm() != 0o600 {
				t.Errorf("its mode is %v: it holds keys", info.Mode())
			}
			left, err := filepath.Glob(filepath.Join(filepath.Dir(path), "*"))
			if err != nil {
				t.Fatal(err)
			}
			for _, file := range left {
				if !strings.HasPrefix(file, path) {
					t.Errorf("%s was made as well", file)
				}
			}
		})
	}
	t.Run("relative", func(t *testing.T) {
		t.Chdir(t.TempDir())
		mustOpen(t, "x.db", Own)
		if _, err := os.Stat("x.db"); err != nil {
			t.Error(err)
		}
	})
}

func TestURI(t *testing.T) {
	got := uri("/a b/c?d#e%.db", "ro", "_pragma", "busy_timeout(5000)")
	u, err := url.Parse(got)
	if err != nil || u.Path != "/a b/c?d#e%.db" || u.Query().Get("mode") != "ro" || u.Query().Get("_pragma") != "busy_timeout(5000)" || u.Fragment != "" {
		t.Errorf("got %s, read as %+v (%v)", got, u, err)
	}
}

func TestRefused(t *testing.T) {
	dir := t.TempDir()
	file := filepath.Join(dir, "file")
	if err := os.WriteFile(file, []byte(strings.Repeat("not a database, ", 1000)), 0o600); err != nil {
		t.Fatal(err)
	}
	for name, path := range map[string]string{
		"a file where a folder should be": filepath.Join(file, "x.db"),
		"a folder":                        dir,
		"no database":                     file,
		"no file's name":                  filepath.Join(dir, "a\x00b"),
	} {
		if e, err := Open(t.Context(), path, Own); err == nil {
			t.Errorf("%s was opened", name)
			_ = e.Close()
		}
	}
}

// TestPragmas looks at every connection: the pool opens them one by one.
func TestPragmas(t *testing.T) {
	e := mustOpen(t, filepath.Join(t.TempDir(), "x.db"), Own)
	for _, c := range []struct {
		db    *sql.DB
		count int
		want  map[string]string
	}{
		{e.Writer(), 1, map[string]string{"journal_mode": "wal", "synchronous": "2", "busy_timeout": "5000", "foreign_keys": "1", "query_only": "0"}},
		{e.Reader(), e.Readers(), map[string]string{"journal_mode": "wal", "busy_timeout": "5000", "query_only": "1"}},
	} {
		for range c.count {
			conn, err := c.db.Conn(t.Context())
			if err != nil {
				t.Fatal(err)
			}
			defer conn.Close() // kept until the end: the next one is a new one
			for name, want := range c.want {
				var got string
				if err := conn.QueryRowContext(t.Context(), "PRAGMA "+name).Scan(&got); err != nil || got != want {
					t.Errorf("%s is %q, want %q (%v)", name, got, want, err)
				}
			}
		}
	}
}

func TestReadersCannotWrite(t *testing.T) {
	e := mustOpen(t, filepath.Join(t.TempDir(), "x.db"), Own)
	for _, text := range []string{"UPDATE writer SET probes = 9", "PRAGMA query_only = OFF; UPDATE writer SET probes = 9", "CREATE TABLE x (y)"} {
		if _, err := e.Reader().Exec(text); err == nil {
			t.Errorf("a reader did %s", text)
		}
	}
}

func TestOneOwner(t *testing.T) {
	path := filepath.Join(t.TempDir(), "x.db")
	first := mustOpen(t, path, Own)
	_, err := own(t.Context(), path, 0)
	if err == nil || !strings.Contains(err.Error(), "another rowdatumd") {
		t.Errorf("a second owner: %v", err)
	}
	ctx, cancel := context.WithCancel(t.Context())
	cancel()
	if _, err := Open(ctx, path, Own); !errors.Is(err, context.Canceled) {
		t.Errorf("waiting for the lock does not end with its context: %v", err)
	}

	// Short commands write beside it.
	beside := mustOpen(t, path, Beside)
	for _, e := range []*Engine{beside, first, beside} {
		if _, err := e.Writer().Exec("UPDATE writer SET probes = probes + 1"); err != nil {
			t.Error(err)
		}
	}
	var probes int
	if err := first.Reader().QueryRow("SELECT probes FROM writer").Scan(&probes); err != nil || probes != 3 {
		t.Errorf("%d probes, want 3 (%v)", probes, err)
	}
}

// TestBesideFirst: a key is added before the service ever ran; the file is free again afterwards.
func TestBesideFirst(t *testing.T) {
	path := filepath.Join(t.TempDir(), "x.db")
	mustOpen(t, path, Beside)
	mustOpen(t, path, Own)
}

func TestVersions(t *testing.T) {
	path := filepath.Join(t.TempDir(), "x.db")
	e := mustOpen(t, path, Own)
	if _, err := e.Writer().Exec("INSERT INTO schema_version (version_id, is_applied) VALUES (999, 1)"); err != nil {
		t.Fatal(err)
	}
	if err := e.Close(); err != nil {
		t.Fatal(err)
	}
	for _, how := range []How{Own, Beside} {
		if _, err := Open(t.Context(), path, how); err == nil || !strings.Contains(err.Error(), "newer version") {
			t.Errorf("a newer file, opened as %d: %v", how, err)
		}
	}

	// Tables that are behind are not changed beside a service.
	path = filepath.Join(t.TempDir(), "y.db")
	lock, err := own(t.Context(), path, 0)
	if err != nil {
		t.Fatal(err)
	}
	defer lock.Close()
	if _, err := Open(t.Context(), path, Beside); err == nil || !strings.Contains(err.Error(), "another rowdatumd") {
		t.Errorf("tables that are behind: %v", err)
	}
}

func TestFaults(t *testing.T) {
	e := mustOpen(t, filepath.Join(t.TempDir(), "x.db"), Own)
	exec := func(text string) error {
		_, err := e.Writer().Exec(text)
		return fmt.Errorf("wrapped: %w", err)
	}
	_, missing := sql.Open("sqlite", "file:///no/such/folder/x.db?mode=rw")
	if missing == nil {
		db, _ := sql.Open("sqlite", "file:///no/such/folder/x.db?mode=rw")
		missing = db.Ping()
		_ = db.Close()
	}
	_, readonly := e.Reader().Exec("UPDATE writer SET probes = 1")
	for _, c := range []struct {
		name string
		err  error
		want engine.Fault
	}{
		{"a primary key", exec("INSERT INTO shops VALUES ('a'), ('a')"), engine.Taken},
		{"a unique column", exec("INSERT INTO keys VALUES ('s','a',1,'','h','','',0,0,0), ('s','b',1,'','h','','',0,0,0)"), engine.Taken},
		{"a foreign key", exec("INSERT INTO jobs VALUES ('s','p','j','','','','',1,1,0,0)"), engine.Other},
		{"a wrong type", exec("INSERT INTO writer VALUES ('x', 0)"), engine.Other},
		{"no such table", exec("SELECT 1 FROM nowhere"), engine.Other},
		{"no such folder", missing, engine.Down},
		{"a file that cannot be written", readonly, engine.Down},
		{"somebody else's error", errors.New("UNIQUE constraint failed"), engine.Other},
	} {
		if got := e.Fault(c.err); got != c.want {
			t.Errorf("%s (%v): got fault %d, want %d", c.name, c.err, got, c.want)
		}
	}
}

func TestBackup(t *testing.T) {
	dir := t.TempDir()
	path := filepath.Join(dir, "x.db")
	e := mustOpen(t, path, Own)
	if _, err := e.Writer().Exec("UPDATE writer SET probes = 7"); err != nil {
		t.Fatal(err)
	}
	// While a transaction writes, the copy is of what is committed.
	conn, err := e.Writer().Conn(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	if _, err := conn.ExecContext(t.Context(), "BEGIN IMMEDIATE; UPDATE writer SET probes = 8"); err != nil {
		t.Fatal(err)
	}
	backup := filepath.Join(dir, "back up?.db")
	for range 2 { // the second replaces the first
		if err := e.Backup(t.Context(), backup); err != nil {
			t.Fatal(err)
		}
	}
	if _, err := conn.ExecContext(t.Context(), "COMMIT"); err != nil {
		t.Fatal(err)
	}
	if err := conn.Close(); err != nil {
		t.Fatal(err)
	}
	copied := mustOpen(t, backup, Own)
	var probes int
	if err := copied.Reader().QueryRow("SELECT probes FROM writer").Scan(&probes); err != nil || probes != 7 {
		t.Errorf("the copy has %d probes, want 7 (%v)", probes, err)
	}
	if info, err := os.Stat(backup); err != nil || runtime.GOOS != "windows" && info.Mode().Perm() != 0o600 {
		t.Errorf("the copy's mode is %v (%v)", info.Mode(), err)
	}

	for _, file := range []string{path, path + "-wal", path + ".lock", filepath.Join(dir, "none", "x.db"), dir} {
		if err := e.Backup(t.Context(), file); err == nil {
			t.Errorf("backed up to %s", file)
		}
	}
	cancelled, cancel := context.WithCancel(t.Context())
	cancel()
	if err := e.Backup(cancelled, filepath.Join(dir, "never.db")); err == nil {
		t.Error("backed up although nobody waits")
	}
	left, err := filepath.Glob(filepath.Join(dir, "*.part-*"))
	if err != nil || len(left) > 0 {
		t.Errorf("left behind: %v (%v)", left, err)
	}
	if _, err := os.Stat(filepath.Join(dir, "never.db")); !errors.Is(err, os.ErrNotExist) {
		t.Errorf("half a backup: %v", err)
	}
}
