// Package adjuster is for whoever writes an adjuster: a program of its own that knows one style of
// depth-adjusting mechanism and turns millimetres into that style's actions. One call, Serve, is the
// program's whole main. The author gives
//
//   - a Style: constants, two JSON Schemas, words;
//   - a Mechanism: where a row can be brought to (Travel), and how to say a move (Say).
//
// The package promises the rest of the contract. Figures and settings that reach the mechanism have
// passed its schemas; what has not is answered field by field, in words for a person. Effects, travel
// left and the one option that leaves the row come out of the positions and so agree with each other;
// they are sorted by effect, rounded to whole picometres, and never more than MaxOptions, whatever the figures
// say. A panic costs one call, not the program. A move against the approach is said with how to come
// back against the slack, and every move with the pinch-point caution, in English or in a language that the
// style has. A program whose host is gone leaves by itself.
//
// It never imports the service, and a mechanism never needs to know about processes or the wire. The
// package example is a whole adjuster; package adjustertest is the exam for one.
package adjuster
