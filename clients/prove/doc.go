// Command prove proves what the README claims, from outside: it runs the built service, speaks to it as any client does, and
// prints tables whose last column is a ratio of two things measured in that run. `prove bench` makes such tables of what Go's
// benchmarks print.
//
//	prove [--quick] [--programs DIR] [--pictures DIR] [PART…]
//
// It ends with 1 where a figure misses its goal and nobody has said why.
package main
