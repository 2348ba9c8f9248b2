// Package estimate turns readings into what they say of a row: a depth with its standard uncertainty,
// and the chance that the row is within tolerance of a datum.
//
// It promises pure functions that return finite figures for finite input. It keeps nothing, reads no
// clock, and leaves every decision (which rows to touch) to package plan.
//
// Where its rules come from: the guide to the expression of uncertainty in measurement (JCGM 100:2008)
// for repeated readings, rulings and degrees of freedom; the theory of quantization with Gaussian
// dither for the part of a ruling that more readings do not remove; JCGM 106:2012 for guarded
// acceptance.
package estimate
