package sqlite

import (
	"cmp"
	"context"
	"database/sql"
	"errors"
	"fmt"
	"net/url"
	"os"
	"path/filepath"
	"strings"
	"time"

	"modernc.org/sqlite"
	sqlite3 "modernc.org/sqlite/lib"

	"rowdatum/server/internal/store/engine"
)

// How says for what a file is opened.
type How int

// The ways.
const (
	Own    How = iota // for a service, until it ends
	Beside            // for a short command, maybe beside a service
	Look              // for looking at it only, maybe beside a service
)

const (
	readers  = 4
	cache    = "cache_size(-16384)"  // KiB a connection, used as needed: the inner pages of a large file
	wary     = "cell_size_check(ON)" // a page is held against its own figures when it is read
	lockWait = 10 * time.Second      // for a short command that holds the lock for a moment, or a service that stops
)

// Engine is a SQLite file.
type Engine struct {
	path           string
	lock           *os.File // nil unless it owns the file
	writer, reader *sql.DB
}

var _ engine.Engine = (*Engine)(nil)

// Open opens the file, making it and its folder where there is none.
func Open(ctx context.Context, path string, how How) (*Engine, error) {
	path, err := prepare(path, how)
	if err != nil {
		return nil, err
	}
	e := &Engine{path: path}
	if how == Look {
		err = e.look()
	} else {
		err = e.open(ctx, how)
	}
	if err != nil {
		return nil, errors.Join(e.whyNot(ctx, err), e.Close())
	}
	return e, nil
}

// look opens the file for reading.
func (e *Engine) look() (err error) {
	e.reader, err = pool(e.readURI(), readers)
	return err
}

func (e *Engine) readURI() string {
	return uri(e.path, "ro", "_pragma", "busy_timeout(5000)", "_pragma", cache, "_pragma", wary, "_pragma", "query_only(ON)")
}

func (e *Engine) open(ctx context.Context, how How) (err error) {
	if how == Own {
		if e.lock, err = own(ctx, e.path, lockWait); err != nil {
			return err
		}
	}
	if e.writer, err = pool(uri(e.path, "rwc", "_txlock", "immediate", "_pragma", "busy_timeout(5000)", "_pragma", "journal_mode(WAL)",
		"_pragma", "synchronous(FULL)", "_pragma", "fullfsync(ON)", "_pragma", "foreign_keys(ON)", "_pragma", cache, "_pragma", wary), 1); err != nil {
		return err
	}
	if err := e.durable(ctx); err != nil {
		return err
	}
	if err := e.bring(ctx, how); err != nil {
		return err
	}
	return e.look()
}

// prepare returns the file's whole path, with the file and its folder made: they hold the shop's keys, so
// others of the machine do not read them.
func prepare(path string, how How) (string, error) {
	path, err := filepath.Abs(path)
	if err != nil {
		return "", fmt.Errorf("finding the store's folder: %w", err)
	}
	if strings.ContainsRune(path, 0) {
		return "", errors.New("the store's path holds a character that no file's name can hold")
	}
	if err := emptied(path); err != nil {
		return "", err
	}
	if how == Look {
		_, err := os.Stat(path)
		return path, err
	}
	dir := filepath.Dir(path)
	if err := os.MkdirAll(dir, 0o750); err != nil {
		return "", fmt.Errorf("making the store's folder: %w", err)
	}
	if share := shareOf(dir); share != "" {
		return "", fmt.Errorf("%s is on a network share (%s), where a SQLite file is not safe: choose a folder of this machine, or a postgres:// address", dir, share)
	}
	file, err := os.OpenFile(path, os.O_RDWR|os.O_CREATE, 0o600)
	if err != nil {
		return "", fmt.Errorf("opening the store's file: %w", err)
	}
	if err := file.Close(); err != nil {
		return "", fmt.Errorf("opening the store's file: %w", err)
	}
	return path, syncDir(dir)
}

// uri makes a file: URI that means path whatever characters it holds. A plain path would have its mode and
// pragmas ignored.
func uri(path, mode string, pairs ...string) string {
	query := url.Values{"mode": {mode}}
	for i := 0; i < len(pairs); i += 2 {
		query.Add(pairs[i], pairs[i+1])
	}
	slashed := filepath.ToSlash(path)
	if !strings.HasPrefix(slashed, "/") {
		slashed = "/" + slashed // C:/…
	}
	return (&url.URL{Scheme: "file", Path: slashed, OmitHost: false, RawQuery: query.Encode()}).String()
}

func pool(dsn string, most int) (*sql.DB, error) {
	db, err := sql.Open("sqlite", dsn)
	if err != nil {
		return nil, fmt.Errorf("opening the store's file: %w", err)
	}
	db.SetMaxOpenConns(most)
	db.SetMaxIdleConns(most)
	return db, nil
}

// full is SQLite's number for synchronous FULL.
const full = 2

// durable reads back what the URI asked for: a pragma that does not take is silent.
func (e *Engine) durable(ctx context.Context) error {
	var journal string
	var synchronous int
	if err := e.writer.QueryRowContext(ctx, "PRAGMA journal_mode").Scan(&journal); err != nil {
		return fmt.Errorf("opening the store's file: %w", err)
	}
	if err := e.writer.QueryRowContext(ctx, "PRAGMA synchronous").Scan(&synchronous); err != nil {
		return fmt.Errorf("opening the store's file: %w", err)
	}
	if journal != "wal" || synchronous != full {
		return fmt.Errorf("the store's file cannot be written durably here: journal %s instead of wal, synchronous %d instead of %d", journal, synchronous, full)
	}
	return nil
}

// Writer is the pool of the one connection that writes; where the file is only looked at, one that cannot.
func (e *Engine) Writer() *sql.DB { return cmp.Or(e.writer, e.reader) }

// Reader is the pool of those that only read.
func (e *Engine) Reader() *sql.DB { return e.reader }

// Readers is how many connections read.
func (e *Engine) Readers() int { return readers }

// BeginWrite takes the right to write at once: a transaction that asks for it later fails where another
// wrote in between.
func (e *Engine) BeginWrite() string { return "BEGIN IMMEDIATE" }

// BeginRead begins a transaction that sees one state from its first statement on.
func (e *Engine) BeginRead() string { return "BEGIN" }

// Commit has nobody to tell: the process that owns the file tells its own.
func (e *Engine) Commit([]string) string { return "COMMIT" }

// WriteLimit is none: an interrupt ends the whole transaction, and nothing here waits for a network.
func (e *Engine) WriteLimit() time.Duration { return 0 }

// Fault judges an error by its code.
func (e *Engine) Fault(err error) engine.Fault { return fault(err) }

func fault(err error) engine.Fault {
	said, ok := errors.AsType[*sqlite.Error](err)
	if !ok {
		return engine.Other
	}
	switch said.Code() {
	case sqlite3.SQLITE_CONSTRAINT_UNIQUE, sqlite3.SQLITE_CONSTRAINT_PRIMARYKEY:
		return engine.Taken
	}
	const primary = 0xff // the low byte of an extended code
	switch said.Code() & primary {
	case sqlite3.SQLITE_FULL:
		return engine.Full
	case sqlite3.SQLITE_CORRUPT, sqlite3.SQLITE_NOTADB:
		return engine.Damaged
	case sqlite3.SQLITE_BUSY, sqlite3.SQLITE_LOCKED, sqlite3.SQLITE_IOERR, sqlite3.SQLITE_CANTOPEN, sqlite3.SQLITE_READONLY,
		sqlite3.SQLITE_PERM, sqlite3.SQLITE_NOMEM, sqlite3.SQLITE_PROTOCOL:
		return engine.Down
	}
	return engine.Other
}

// reread is how often watched jobs are read again: a short command may have written beside the service.
const reread = 30 * time.Second

// Listen hears nobody.
func (e *Engine) Listen(ctx context.Context, _ func(string), missed func()) {
	tick := time.NewTicker(reread)
	defer tick.Stop()
	for {
		select {
		case <-ctx.Done():
			return
		case <-tick.C:
			missed()
		}
	}
}

// Close closes the file and lets go of its lock. Closing again does nothing.
func (e *Engine) Close() error {
	var faults []error
	for _, db := range []*sql.DB{e.reader, e.writer} {
		if db != nil {
			faults = append(faults, db.Close())
		}
	}
	if e.lock != nil {
		faults = append(faults, e.lock.Close())
		e.lock = nil
	}
	return errors.Join(faults...)
}
