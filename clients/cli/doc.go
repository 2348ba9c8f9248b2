// Rowdatum is the command line: it reads the file that a technician keeps of a planter, has a service
// plan which rows to touch, and prints a sheet to take to the planter. It also leads a job from the first
// reading to the signature, by single commands or by a walk that asks row by row.
//
// It is always a client of the service's JSON over HTTP. With no service named, a plan runs a private one
// for as long as the command takes; planters, fixtures and jobs are kept, so theirs is one that stays. It
// computes nothing of leveling: it compares and shows what the service said.
//
// Results go to standard output, all else to standard error; it exits with 0, with 1 where something was
// refused or failed, with 2 where the command was misused.
package main
