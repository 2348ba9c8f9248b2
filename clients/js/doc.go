// Package js carries the client for browsers and Node, so that a service can serve it with its page: the file that others
// take is the file that the page runs.
package js
