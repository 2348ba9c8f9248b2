// Package httprules reads how HTTP reaches each method of the API, from the google.api.http options of the contract.
//
// Whoever routes, calls, repeats or tests the API over HTTP asks here: which verb and path a method has, what of its
// request goes into the path, the query and the body, whether it streams, and whether it may be sent again. A Rule builds
// the HTTP request of a message, and Match finds the rule of a path. The package promises that a path which it builds
// leads back to the method that it was built for, in the router of the gateway too.
//
// It will never send or serve anything, and it knows no part of a path that the contract does not say.
//
// The rules are read once, when somebody first asks, and kept for the whole package: they come from descriptors that
// are linked into the program, and nothing can change them. A rule that cannot be read panics, as regexp.MustCompile does:
// the contract is ours, and the package's tests read all of it. Road not taken: a set of rules that each caller reads and
// hands round, which would bring an error that cannot happen into every constructor.
package httprules
