// Package optimum proves that no other plan beats the service's: larger plans are asked of it and of a mixed-integer
// program, which Debian's glpsol solves.
//
// It promises that the two have nothing in common: options, predictions, uncertainties and half-widths are worked out
// here anew, by plain code, from the figures that the service was given. It will never judge how long a solver takes.
package optimum
