// Rowdatum is the command line: it reads the file that a technician keeps of a planter, has a service
// plan which rows to touch, and prints a sheet to take to the planter.
//
// It is always a client of the service's JSON over HTTP. With no service named it runs a private one
// for as long as the command takes. Results go to standard output, all else to standard error; it exits
// with 0, with 1 where something was refused or failed, with 2 where the command was misused.
package main
