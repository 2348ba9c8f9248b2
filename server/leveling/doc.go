// Package leveling holds the words of the job as Go types: fixture, aim, reach, style, mechanism,
// option, verdict; and the kinds of error that every room speaks in.
//
// It promises to depend on the standard library alone and to know no clock, disk, process or wire.
// The computations live below it: estimate (readings to depth), plan (options to plan), job (events to
// state), dig (seeds), wear (seasons), study (fixtures), emergence (spread to time).
//
// All lengths are millimetres and say so in their names. Depth is positive downwards: a larger number
// is deeper, a positive effect makes a row deeper.
package leveling
