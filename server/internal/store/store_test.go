package store

import (
	"fmt"
	"net/url"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/jackc/pgx/v5"

	"rowdatum/server/internal/absent"
	"rowdatum/server/internal/flow"
	"rowdatum/server/internal/store/storetest"
)

func TestSQLite(t *testing.T) {
	storetest.Run(t, func(t *testing.T) storetest.Place {
		p := placeAt(filepath.Join(t.TempDir(), "rowdatum.db"), false)
		p.PlanOfChanges = sqlitePlan
		return p
	})
}

func TestPostgres(t *testing.T) {
	needPostgres(t)
	storetest.Run(t, func(t *testing.T) storetest.Place {
		place := newDatabase(t)
		p := placeAt(place, true)
		p.PlanOfChanges = func(t *testing.T, _ storetest.Store, shop string, after int64, limit int) string {
			return postgresPlan(t, place, shop, after, limit)
		}
		return p
	})
}

func sqlitePlan(t *testing.T, s storetest.Store, shop string, after int64, limit int) string {
	t.Helper()
	var lines []string
	err := s.Read(t.Context(), func(v flow.View) (err error) {
		lines, err = query(v.(view).session, func(row func(...any) error) (detail string, err error) {
			var id, parent, unused int
			err = row(&id, &parent, &unused, &detail)
			return detail, err
		}, "EXPLAIN QUERY PLAN "+sqlChanges, shop, after, limit)
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	return strings.Join(lines, "\n")
}

// postgresPlan is the plan that a prepared statement is given once it has run a few times: for any shop and cursor.
func postgresPlan(t *testing.T, place, shop string, after int64, limit int) string {
	t.Helper()
	conn := connect(t, place)
	execOn(t, conn, "ANALYZE audit")
	execOn(t, conn, "SET plan_cache_mode = force_generic_plan")
	execOn(t, conn, "PREPARE changes (text, bigint, bigint) AS "+sqlChanges)
	rows, err := conn.Query(t.Context(), fmt.Sprintf("EXPLAIN EXECUTE changes ('%s', %d, %d)", shop, after, limit))
	if err != nil {
		t.Fatal(err)
	}
	lines, err := pgx.CollectRows(rows, pgx.RowTo[string])
	if err != nil {
		t.Fatal(err)
	}
	return strings.Join(lines, "\n")
}

func placeAt(place string, several bool) storetest.Place {
	return storetest.Place{
		Open:    func(t *testing.T) storetest.Store { return mustOpen(t, place) },
		Several: several,
	}
}

func mustOpen(t testing.TB, place string) *Store {
	t.Helper()
	s, err := Open(t.Context(), place, nil)
	if err != nil {
		t.Fatal(err)
	}
	return s
}

const postgresURL = "ROWDATUM_TEST_POSTGRES" // of a server where databases may be made

// needPostgres skips a test where there is no PostgreSQL server to test with.
func needPostgres(t testing.TB) {
	t.Helper()
	if os.Getenv(postgresURL) == "" {
		absent.Skip(t, "a PostgreSQL server: "+postgresURL+" is not set (.ci/postgres with go test … starts a server)")
	}
}

// newDatabase makes a database for one test, on the server that the environment names.
func newDatabase(t testing.TB) string {
	t.Helper()
	server := os.Getenv(postgresURL)
	config, err := pgx.ParseConfig(server)
	if err != nil {
		t.Fatal(err)
	}
	name := fmt.Sprintf("rowdatum_test_%d_%s", os.Getpid(), strings.ToLower(strings.Map(letters, t.Name())))
	name = name[:min(len(name), 63)] // PostgreSQL cuts longer names
	exec := func(text string) {
		conn, err := pgx.ConnectConfig(t.Context(), config)
		if err != nil {
			t.Fatal(err)
		}
		defer conn.Close(t.Context())
		if _, err := conn.Exec(t.Context(), text); err != nil {
			t.Fatal(err)
		}
	}
	quoted := pgx.Identifier{name}.Sanitize()
	exec("DROP DATABASE IF EXISTS " + quoted + " WITH (FORCE)")
	exec("CREATE DATABASE " + quoted)
	return withDatabase(server, name)
}

func letters(r rune) rune {
	if r >= 'a' && r <= 'z' || r >= 'A' && r <= 'Z' || r >= '0' && r <= '9' {
		return r
	}
	return '_'
}

// withDatabase is a server's URL with another database.
func withDatabase(server, name string) string {
	u, err := url.Parse(server)
	if err != nil {
		return server
	}
	u.Path = "/" + name
	return u.String()
}
