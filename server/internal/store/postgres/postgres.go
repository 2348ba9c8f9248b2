package postgres

import (
	"context"
	"database/sql"
	"database/sql/driver"
	"errors"
	"fmt"
	"io"
	"net"
	"strings"
	"time"

	"github.com/jackc/pgx/v5"
	"github.com/jackc/pgx/v5/pgconn"
	"github.com/jackc/pgx/v5/stdlib"
	"go.uber.org/zap"

	"rowdatum/server/internal/store/engine"
)

// Choices of ours.
const (
	readers    = 8
	writeLimit = 20 * time.Second // for one group of writes, waiting for other processes included
	idleLimit  = "5000"           // ms that a writing transaction may idle: a process that hangs lets go of the lock
	readIdle   = "300000"         // ms that a reading one may: an export waits for whom it is sent to
	readLimit  = "30000"          // ms that one statement may take
)

// Engine is a PostgreSQL database.
type Engine struct {
	config         *pgx.ConnConfig
	log            *zap.Logger
	writer, reader *sql.DB
}

var _ engine.Engine = (*Engine)(nil)

// Open opens the database at a postgres:// URL.
func Open(ctx context.Context, url string, log *zap.Logger) (*Engine, error) {
	config, err := pgx.ParseConfig(url)
	if err != nil {
		return nil, fmt.Errorf("reading the store's address: %w", err)
	}
	for name, value := range map[string]string{
		"application_name":                    "rowdatum",
		"synchronous_commit":                  "on",
		"statement_timeout":                   readLimit,
		"idle_in_transaction_session_timeout": idleLimit,
	} {
		config.RuntimeParams[name] = value
	}
	reading := config.Copy()
	reading.RuntimeParams["idle_in_transaction_session_timeout"] = readIdle
	e := &Engine{config: config, log: log, writer: pool(*config, 1), reader: pool(*reading, readers)}
	if err := errors.Join(e.suits(ctx), e.bring(ctx)); err != nil {
		return nil, errors.Join(err, e.Close())
	}
	return e, nil
}

func pool(config pgx.ConnConfig, most int) *sql.DB {
	db := stdlib.OpenDB(config)
	db.SetMaxOpenConns(most)
	db.SetMaxIdleConns(most)
	return db
}

// suits checks that the database keeps texts and what it acknowledged.
func (e *Engine) suits(ctx context.Context) error {
	var encoding, fsync string
	if err := e.writer.QueryRowContext(ctx, "SELECT current_setting('server_encoding'), current_setting('fsync')").Scan(&encoding, &fsync); err != nil {
		return fmt.Errorf("asking the database: %w", err)
	}
	if encoding != "UTF8" {
		return fmt.Errorf("the database's encoding is %s, it must be UTF8", encoding)
	}
	if fsync != "on" {
		e.log.Warn("the database does not flush to disk (fsync is off): a loss of power loses acknowledged work")
	}
	return nil
}

// Writer is the pool of the one connection that writes.
func (e *Engine) Writer() *sql.DB { return e.writer }

// Reader is the pool of those that only read.
func (e *Engine) Reader() *sql.DB { return e.reader }

// Readers is how many connections read.
func (e *Engine) Readers() int { return readers }

// BeginWrite begins a transaction and takes the right to write; the snapshot comes after it.
func (e *Engine) BeginWrite() string {
	return "BEGIN ISOLATION LEVEL REPEATABLE READ; LOCK TABLE writer IN EXCLUSIVE MODE"
}

// BeginRead begins a transaction that sees one state and cannot write.
func (e *Engine) BeginRead() string { return "BEGIN ISOLATION LEVEL REPEATABLE READ READ ONLY" }

// WriteLimit bounds what a dead network can keep waiting.
func (e *Engine) WriteLimit() time.Duration { return writeLimit }

// Fault judges an error by its code, from PostgreSQL's appendix "Error Codes".
func (e *Engine) Fault(err error) engine.Fault {
	fault, ok := errors.AsType[*pgconn.PgError](err)
	if !ok {
		return connection(err)
	}
	switch fault.Code {
	case "40001", "40P01", "55P03": // serialization failure, deadlock, lock not available
		return engine.Again
	case "23505": // unique violation
		return engine.Taken
	case "53100": // disk full
		return engine.Full
	case "XX001", "XX002": // data corrupted, index corrupted
		return engine.Damaged
	case "57P01", "57P02", "57P03", "25P03", "25P04": // shut down, crashed, starting; transaction idle or running for too long
		return engine.Lost
	}
	switch fault.Code[:2] {
	case "08": // connection
		return engine.Lost
	case "53", "57", "58", "28", "3D": // resources, operator, system; not let in, no such database
		return engine.Down
	}
	return engine.Other
}

func connection(err error) engine.Fault {
	var network net.Error
	if errors.Is(err, driver.ErrBadConn) || errors.Is(err, sql.ErrConnDone) || errors.Is(err, io.EOF) || errors.Is(err, io.ErrUnexpectedEOF) ||
		errors.Is(err, net.ErrClosed) || errors.As(err, &network) || pgconn.SafeToRetry(err) {
		return engine.Lost
	}
	if _, ok := errors.AsType[*pgconn.ConnectError](err); ok {
		return engine.Lost
	}
	return engine.Other
}

// Backup is the database's own business.
func (e *Engine) Backup(context.Context, string) error {
	return errors.New("the store is in PostgreSQL: back it up with PostgreSQL's own tools, such as pg_dump")
}

// LastBackup is not known here.
func (e *Engine) LastBackup() string { return "" }

// Check is the database's own business: pg_amcheck looks at how it lies on its disk.
func (e *Engine) Check(context.Context, bool) ([]string, error) { return nil, engine.ErrNotChecked }

// Close closes all connections.
func (e *Engine) Close() error { return errors.Join(e.reader.Close(), e.writer.Close()) }

// redacted is an address without its password.
func (e *Engine) redacted() string {
	return strings.Join([]string{e.config.Host, e.config.Database}, "/")
}
