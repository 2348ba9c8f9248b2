// Package proof holds what a proof says: tables whose last column is a ratio of one run, each with its goal, and pictures.
//
// It promises that a figure which misses its goal shows so and says why, and that a missed goal without a reason is an
// error. It will never measure anything.
package proof
