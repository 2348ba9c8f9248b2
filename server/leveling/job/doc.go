// Package job is the log of one visit of one planter, and what follows from it. Events go in, in order; a
// State comes out, by a pure fold. Nothing is edited: a wrong event is struck by a later one.
//
// Fold makes a State of a whole log, State.Apply makes the next State of further events; both come to the
// same. Before an event is appended, the Check method for it says whether it may be. Problem is what a plan
// is computed from, ContentHash seals a log, Lessons and Teach are what goes back to the planter, and
// Describe draws a State as text.
//
// It promises:
//   - a State is never changed once made, so that one may be kept and read by many;
//   - what readings of one row count never depends on another row, and readings that merge late come to the
//     same as readings in time;
//   - no clock, no randomness, no adjuster: moments, options and their words are handed in.
//
// It will never look inside a setting, append, or decide who may write.
package job
