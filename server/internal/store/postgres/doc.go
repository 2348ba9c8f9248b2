// Package postgres is the store's engine for PostgreSQL, where several services may share one database.
//
// Who writes locks the table writer first, so that writes of all processes come one after the other, as with
// a file: no conflicts, no deadlocks, and the same code above. The lock is taken before the transaction's
// snapshot, and a transaction that idles is ended by the server. Conflicts with others who write without it
// come as codes 40001 and 40P01 and are run again.
//
// Revisions are announced by NOTIFY within the transaction: the server delivers it with the commit. A
// connection of its own listens; after it was lost, and now and then, everything watched is read again.
package postgres
