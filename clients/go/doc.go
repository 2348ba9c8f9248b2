// Package rowdatum is a client of a rowdatum service, over gRPC: every method of the contract, as its generated code has
// it, with the manners that a workshop's network asks for.
//
//   - A write gets a request id of its own, unless it has one, and is sent again until it is answered: the service does it
//     once, however often it arrives. Reads and computations are asked again likewise.
//   - All of it ends with the context. A context without a deadline gets one, Options.Patience.
//   - A refusal is an *Error: code, reason, every violation, metadata.
//   - Watch follows a job across breaks: no event twice, none missed.
//
// It will never keep anything, compute anything of leveling, or know the inside of a service.
package rowdatum
