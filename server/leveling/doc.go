// Package leveling holds the words of the job as Go types: fixture, aim, reach, style, mechanism,
// option, verdict; and the kinds of error that every room speaks in.
//
// It promises to depend on the standard library alone and to know no clock, disk, process or wire.
// The computations live below it: estimate (readings to depth), plan (options to plan), job (events to
// state), dig (seeds), wear (seasons), study (fixtures), emergence (spread to time).
//
// No type knows which languages there are. A room's phrases stand in a Catalogue, one file a language, and a Violation holds
// a Message: what is wrong, to be put into words for a Voice at the edge, where it is known who reads. Nothing is said in a
// language or a unit that nobody asked for. Road not taken: a parameter or a field a language, which lets the compiler name
// what is missing, but makes each further language a change of every type and every call; one test a room
// (wordstest.Complete) names it as well.
//
// All lengths are millimetres and say so in their names. Depth is positive downwards: a larger number
// is deeper, a positive effect makes a row deeper.
package leveling
