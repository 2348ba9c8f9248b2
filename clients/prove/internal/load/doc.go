// Package load proves what the service bears: plans beside a bare echo of the same messages, hundreds of watchers of one
// job, hundreds of jobs at once, that its memory stays flat under a mixed load, and what watches of the largest job take.
//
// It promises that both sides of a ratio were measured in turn, in one run, each in a process of its own. It will never
// call anything but this machine, or go on past its time.
package load
