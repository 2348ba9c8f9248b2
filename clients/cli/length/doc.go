// Package length reads and writes lengths as people at a planter do: 2 1/4, 2-1/4", 7/8 in, 2.25 in,
// 57,2 mm.
//
// It promises exact arithmetic: what is read is a rational number of mm, rounded once when it becomes
// a float64. It will never guess a unit, take an exponent or a thousands separator, or return
// something that is not finite.
package length
