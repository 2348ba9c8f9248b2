package benches

import "rowdatum/clients/prove/internal/proof"

// goals of the benchmarks that have one, and why those are missed that are.
var goals = map[string]proof.Goal{
	"AppendOverGRPC": proof.AtLeast(0.5).Because("An echo costs 86 µs of processor time a call, an append 281 µs: 64 of it the writer, 50 deriving " +
		"and converting the state that the answer carries, the rest wire, garbage and scheduling. Without the conversion, without waiting for the disk, " +
		"and with larger groups of writes it stayed within a few hundredths of this."),
	"Append/sqlite/writers=1":    proof.AtLeast(0.7),
	"Append/sqlite/writers=16":   proof.AtLeast(0.7),
	"Append/postgres/writers=1":  proof.AtLeast(0.7),
	"Append/postgres/writers=16": proof.AtLeast(0.7),
	"Million/opening":            proof.AtMost(1.5),
	"Million/planters":           proof.AtMost(1.5),
	"Million/appending":          proof.AtMost(1.5),
}
