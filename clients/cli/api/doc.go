// Package api speaks to a rowdatum service over HTTP, in its JSON.
//
// It promises to hand on what a service answered, errors with every violation in them, and to bound
// every wait and every answer. A write carries a request id of its own and is sent once more where the
// connection broke: the service does it once, however often it arrives. It will never keep anything or
// compute anything.
package api
