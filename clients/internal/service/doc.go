// Package service runs the built service for programs that need one of their own: a process as a shop has it.
//
// It promises that the service is gone when Stop returns, and that it goes by itself when this program dies: the service
// watches the pipe that is its standard input. It will never touch a service that it did not start, or reach inside one.
package service
