// Package shop proves that leveling by the service takes less work than by hand: planters whose truth is known are leveled by
// the common hand method, by the service's loop, and by an oracle that knows the truth but keeps the service's guard band.
//
// It promises that all ways work on the same planters: the same rows, and the same luck with each row's readings and moves.
// It will never know more of the service than its public API tells.
package shop
