// Package hooks carries what shops' hooks are to hear to their receivers.
//
// What is to be sent lies in the store, written with what it tells of. A Deliverer takes what is due for a while,
// so that no other process sends it too, posts it signed, and writes down what came of it. Whoever dies in
// between leaves it to be taken again: a receiver may hear a thing twice, and never not at all. Of one job and
// hook one is sent at a time, in order; one that fails holds back the later ones of its job and nothing else.
//
// Nothing is sent to this machine or into private networks unless that is allowed; what a name leads to is
// looked at when the connection is made, by the address that it is made to. Redirects are not followed.
package hooks
