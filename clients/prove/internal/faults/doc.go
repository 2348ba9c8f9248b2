// Package faults strikes a running service under a steady load of clients that keep a ledger of what was acknowledged to
// them: killed hard, plugins killed, frozen and lying, its disk full, its database restarted, connections cut, malformed
// requests by the thousand.
//
// It promises that every acknowledged event is looked for afterwards: there, once, in its place. It speaks to services only
// by their public API, and strikes only processes and files that it made itself. Everything stays on this machine.
package faults
