//go:build !linux

package faults

import "context"

// systems are the faults that take means which only Linux has here.
var systems = []fault{{"plugin killed, plugin hung, disk full", 1, func(_ context.Context, p *prover, o *outcome) error {
	o.without = "They are tried on Linux only."
	p.Say("%s: not tried: %s", o.fault, o.without)
	return nil
}}}
