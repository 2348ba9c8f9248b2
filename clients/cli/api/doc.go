// Package api speaks to a rowdatum service over HTTP, in its JSON.
//
// It promises to hand on what a service answered, errors with every violation in them, and to bound
// every wait and every answer. It will never retry, keep anything or compute anything.
package api
