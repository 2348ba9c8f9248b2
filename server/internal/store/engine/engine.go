// Package engine is what the store needs to know of a database: how a transaction begins there, what its
// errors mean, how others hear of a commit. It holds no SQL of records: that is the store's, and one text.
package engine

import (
	"context"
	"database/sql"
	"errors"
	"time"
)

// Engine is a database.
type Engine interface {
	// Writer is the pool of the one connection that writes, Reader that of those which only read.
	Writer() *sql.DB
	Reader() *sql.DB
	// Readers is how many connections read.
	Readers() int
	// BeginWrite begins a transaction that no other writer, here or in another process, can come
	// between; BeginRead one that sees one state and cannot write.
	BeginWrite() string
	BeginRead() string
	// Commit commits, and has the words told to other processes on the database.
	Commit(words []string) string
	// WriteLimit bounds one writing transaction; 0 does not. A statement cut short ends the transaction.
	WriteLimit() time.Duration
	// Fault judges an error by its code.
	Fault(err error) Fault
	// Listen hears the words of other processes until ctx ends. It calls missed where some may have been
	// lost, and now and then.
	Listen(ctx context.Context, heard func(words string), missed func())
	// Backup writes a copy to a file.
	Backup(ctx context.Context, file string) error
	// LastBackup names the newest backup that is known of, for a person; empty where none is.
	LastBackup() string
	// Check looks for damage in how the database lies on its disk, and says what it finds; quick leaves out what takes longest.
	// ErrNotChecked where that is the database's own business.
	Check(ctx context.Context, quick bool) (problems []string, err error)
	Close() error
}

// Fault is what an error of a database means to the store.
type Fault int

// The faults.
const (
	Other   Fault = iota // a fault of ours
	Again                // another transaction was in the way: running it again helps
	Taken                // a value that must be unique is there already
	Down                 // the disk or the database is not to be had
	Full                 // there is no room left
	Lost                 // the connection is gone; what was not committed is undone
	Damaged              // what is kept is not what was written: nothing more should be
)

// ErrNotChecked is of a database that looks after its own disk.
var ErrNotChecked = errors.New("the database looks after its own disk")
