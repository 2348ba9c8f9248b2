// Package servicetest runs the built service for tests of clients: the programs, in a process of their own, as a shop has
// them.
//
// It promises that nothing of it is left when the test's program ends. It will never reach inside the service.
package servicetest
