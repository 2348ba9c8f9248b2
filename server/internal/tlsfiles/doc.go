// Package tlsfiles makes and serves the certificates of a shop that has no others: an authority of its own,
// whose certificate is put on each phone once, and the service's certificate that it signs. Anybody's
// certificates can be served instead.
//
// The authority can vouch for private addresses, names of the local network and the hosts that were named
// when it was made, and for nothing else: whoever steals its key cannot pass for a bank.
//
// It promises never to overwrite an authority, to write keys that only their owner can read, and to serve
// nothing older than TLS 1.2.
package tlsfiles
