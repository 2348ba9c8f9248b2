package main

import (
	"database/sql"
	"os"
	"path/filepath"
	"strings"
	"testing"

	_ "modernc.org/sqlite"

	"rowdatum/server/internal/store"
)

// TestCheckCommand looks at a store that is good, and at ones that were changed or damaged, and leaves each as it was.
func TestCheckCommand(t *testing.T) {
	good, err := os.ReadFile("../../../testdata/seal/store.db")
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		name, alter string
		cut         int
		want        []string
	}{
		{"good", "", 0, []string{"structure  good", "1 shops, 1 planters, 2 jobs", "2 of 2 signed jobs hold"}},
		{"a figure", `UPDATE events SET body = replace(body, '57.2', '57.3') WHERE job = 'first' AND revision = 10`, 0,
			[]string{"structure  good", "1 of 2 signed jobs hold", "shop local, planters/creek-six/jobs/first: CONTENT CHANGED: it was signed as 3ddf43b3"}},
		{"an event swapped", `UPDATE events SET body = (SELECT body FROM events WHERE job = 'second' AND revision = 9) WHERE job = 'first' AND revision = 9`, 0,
			[]string{"jobs/first: CONTENT CHANGED"}},
		{"the last event gone", `DELETE FROM events WHERE job = 'first' AND revision = 25`, 0, []string{"jobs/first: CONTENT CHANGED: the log does not end with a signature"}},
		{"a job without its planter", `PRAGMA foreign_keys = OFF; DELETE FROM planters`, 0, []string{"a row of jobs belongs to no row of planters"}},
		{"a planter that is no JSON", `UPDATE planters SET body = '{'`, 0, []string{"shop local, the planters: A record of the store cannot be read"}},
		{"an event of each job that is no JSON", `UPDATE events SET body = substr(body, 1, 40) WHERE revision = 12`, 0, []string{"jobs/first: CONTENT CHANGED", "jobs/second: CONTENT CHANGED"}},
		{"an index that misses a row", `PRAGMA writable_schema = ON; DELETE FROM sqlite_schema WHERE name = 'jobs_by_place'`, 0, []string{"structure  DAMAGED"}},
		{"cut off", "", len(good) / 2, []string{"structure  DAMAGED"}},
	} {
		t.Run(c.name, func(t *testing.T) {
			file := filepath.Join(t.TempDir(), "rowdatum.db")
			text := good
			if c.cut > 0 {
				text = good[:c.cut]
			}
			if err := os.WriteFile(file, text, 0o600); err != nil {
				t.Fatal(err)
			}
			if c.alter != "" {
				hand, err := sql.Open("sqlite", file)
				if err != nil {
					t.Fatal(err)
				}
				if _, err := hand.ExecContext(t.Context(), c.alter); err != nil {
					t.Fatal(err)
				}
				if err := hand.Close(); err != nil {
					t.Fatal(err)
				}
			}
			before, err := os.ReadFile(file)
			if err != nil {
				t.Fatal(err)
			}
			s, err := store.Look(t.Context(), file)
			if err != nil {
				t.Fatal(err)
			}
			var out strings.Builder
			wrong, err := check(t.Context(), s, file, &out)
			if err != nil || (wrong > 0) == (c.name == "good") {
				t.Errorf("%d things are wrong (%v)", wrong, err)
			}
			for _, want := range c.want {
				if !strings.Contains(out.String(), want) {
					t.Errorf("%q is not said:\n%s", want, out.String())
				}
			}
			if err := s.Close(); err != nil {
				t.Fatal(err)
			}
			if after, err := os.ReadFile(file); err != nil || string(after) != string(before) {
				t.Errorf("the file was changed (%v)", err)
			}
		})
	}
	command := checkCommand{File: filepath.Join(t.TempDir(), "none.db")}
	if err := command.Run(); err == nil {
		t.Error("a store that is not there is good")
	}
}
