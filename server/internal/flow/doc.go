// Package flow holds the use-cases, a file each: check what came in, ask the mechanisms, call the pure
// core, hand back what follows. It declares the small interfaces that it needs and nothing else joins
// the rooms. It knows no wire, no process and no clock of its own.
package flow
