// Package sqlite is the store's engine for a file, in pure Go.
//
// One process owns a file: a service holds an operating system's lock on the file beside it, FILE.lock, until
// it ends, however it ends. The lock keeps a second service away, whose subscribers would not hear of the
// first one's commits, and it says who may change the tables. A short command (adding a key, a backup) does
// not hold it: SQLite's own locks order its short transactions with the service's. It takes the lock only
// where no service runs and the tables are not of this version yet, and lets go of it at once.
//
// It promises that a commit is on disk (write-ahead log, synchronous FULL, read back at the start; on macOS
// with the drive's own cache flushed), and refuses a folder on a network share where it can tell: the log's
// shared memory does not work there.
package sqlite
