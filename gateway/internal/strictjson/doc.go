// Package strictjson says everything that is wrong with a JSON request, before it is decoded.
//
// The decoder behind it stops at the first fault, speaks of its own insides, and lets through what
// this service must not: numbers that are none ("NaN"), enum numbers that mean nothing. Check walks
// the text against the request's descriptor and names every fault by its path in the API's spelling
// (rows[3].readingsMm[0]), what it is and what is allowed, in words for a person. CheckBody does it for
// the body of a call, which may be one field of the request, and CheckQuery for query parameters.
//
// It promises that whatever it accepts the decoder accepts, and that it refuses nothing more than the
// decoder does but numbers that are not finite, enum numbers without a word, nesting beyond 64 levels,
// and a body that contradicts its address. It decodes nothing, keeps nothing, never panics, and says no more than some hundred faults.
package strictjson
