// Package private runs a service of one's own for as long as a command takes.
//
// It promises that the service is gone when Stop returns, and that it goes by itself when this program
// dies: the service watches the pipe that is its standard input. It will never touch a service that it
// did not start.
package private
