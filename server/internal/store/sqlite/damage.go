package sqlite

import (
	"context"
	"database/sql"
	"encoding/json"
	"errors"
	"fmt"
	"os"
	"time"

	"rowdatum/server/internal/store/engine"
)

// ErrDamaged is of a file that is not a store any more.
var ErrDamaged = errors.New("the store is damaged")

// problemsMost is how many problems a check names.
const problemsMost = 100

// Check looks over the file, on a connection of its own: a long look keeps no reader waiting.
func (e *Engine) Check(ctx context.Context, quick bool) (problems []string, err error) {
	db, err := sql.Open("sqlite", uri(e.path, "ro", "_pragma", "busy_timeout(5000)"))
	if err != nil {
		return nil, err
	}
	defer func() { err = errors.Join(err, db.Close()) }()
	text := fmt.Sprintf("PRAGMA integrity_check(%d)", problemsMost)
	if quick {
		text = "PRAGMA quick_check(1)"
	}
	problems, err = words(ctx, db, text)
	if len(problems) == 1 && problems[0] == "ok" {
		problems = nil
	}
	if err != nil || quick {
		return problems, err
	}
	lost, err := words(ctx, db, "SELECT 'a row of ' || \"table\" || ' belongs to no row of ' || parent FROM pragma_foreign_key_check LIMIT 100")
	return append(problems, lost...), err
}

func words(ctx context.Context, db *sql.DB, text string) (all []string, err error) {
	rows, err := db.QueryContext(ctx, text)
	if err != nil {
		return nil, err
	}
	defer rows.Close()
	for rows.Next() {
		var one string
		if err := rows.Scan(&one); err != nil {
			return nil, err
		}
		all = append(all, one)
	}
	return all, rows.Err()
}

// backedUp is what is noted beside the store of its newest backup: in the store itself nobody could read it when it counts.
type backedUp struct {
	Time time.Time `json:"time"`
	File string    `json:"file"`
}

// notePath is where the newest backup is noted.
func notePath(store string) string { return store + ".last-backup" }

// note notes a backup that was made.
func (e *Engine) note(file string) error {
	text, err := json.Marshal(backedUp{time.Now().UTC().Truncate(time.Second), file})
	if err != nil {
		return err
	}
	return os.WriteFile(notePath(e.path), append(text, '\n'), 0o600)
}

// LastBackup names the newest backup that was made of the file.
func (e *Engine) LastBackup() string { return lastBackup(e.path) }

func lastBackup(store string) string {
	text, err := os.ReadFile(notePath(store))
	var last backedUp
	if err != nil || json.Unmarshal(text, &last) != nil {
		return ""
	}
	out := fmt.Sprintf("%s, of %s", last.File, last.Time.Format(time.RFC3339))
	if _, err := os.Stat(last.File); err != nil {
		out += ", which is no longer there"
	}
	return out
}

// emptied refuses a store that has lost its content: SQLite would take an empty file for a new store, and throw away what a
// service that ended suddenly has left beside it.
func emptied(path string) error {
	if info, err := os.Stat(path); err == nil && info.Size() > 0 {
		return nil
	} else if err != nil && !errors.Is(err, os.ErrNotExist) {
		return err
	}
	left := ""
	if info, err := os.Stat(path + "-wal"); err == nil && info.Size() > 0 {
		left = path + "-wal"
	} else if _, err := os.Stat(notePath(path)); err == nil {
		left = notePath(path)
	}
	if left == "" {
		return nil
	}
	return fmt.Errorf("%w: %s is empty or gone, and %s tells that there was one. %s To begin with an empty store, move that file away", ErrDamaged, path, left, newest(path))
}

func newest(path string) string {
	if backup := lastBackup(path); backup != "" {
		return "The newest backup that is known is " + backup + "."
	}
	return "No backup of it is known."
}

// whyNot is why the file could not be opened: it may be damaged where the fault looks like another.
func (e *Engine) whyNot(ctx context.Context, err error) error {
	damaged := fault(err) == engine.Damaged
	if !damaged && e.writer != nil {
		problems, unread := e.Check(ctx, true)
		damaged = len(problems) > 0 || fault(unread) == engine.Damaged
	}
	if damaged {
		return fmt.Errorf("%w: %w. %s", ErrDamaged, err, newest(e.path))
	}
	return err
}
