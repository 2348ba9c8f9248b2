// Package store keeps what a shop must not lose: planters, fixtures, jobs and their events, first answers
// to requests, keys, the trail of who wrote what. It fulfils flow.Store with one SQL text on two databases,
// a SQLite file and PostgreSQL; what differs between them is in engine, sqlite and postgres, and the exam
// that both sit in storetest.
//
// It promises that what Write acknowledged is on disk; that Read sees one state; that one shop's records
// never come out under another's name; that opening a job, listing and appending cost with a million events
// what they cost with a thousand.
//
// One goroutine writes. It gathers the writes that wait, up to 256, runs them in one transaction, each in a
// savepoint of its own, and commits once: under load a flush to disk is shared. Writes run in a context of
// the store's, not of their callers: a statement that is cut short ends a whole SQLite transaction.
//
// It never looks into an event, never knows the time, and never decides what may happen next: that is the
// flow's.
package store
