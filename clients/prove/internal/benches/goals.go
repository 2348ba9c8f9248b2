package benches

import "rowdatum/clients/prove/internal/proof"

// goals of the benchmarks that have one, and why those are missed that are.
var goals = map[string]proof.Goal{
	"AppendOverGRPC": proof.AtLeast(0.5).Because("Beside what an echo costs too, an append takes some 125 µs of processor time: 51 in the one writer, " +
		"49 checking it and deriving and converting the state that the answer carries, 25 collecting garbage; 0.5 leaves 97. Without the conversion, " +
		"without waiting for the disk, with larger groups of writes, with the answer worked out beside the commit, and with appends prepared before their turn it stayed within a few hundredths of this."),
	"Append/sqlite/writers=1":    proof.AtLeast(0.7),
	"Append/sqlite/writers=16":   proof.AtLeast(0.7),
	"Append/postgres/writers=1":  proof.AtLeast(0.7),
	"Append/postgres/writers=16": proof.AtLeast(0.7),
	"Million/opening":            proof.AtMost(1.5),
	"Million/planters":           proof.AtMost(1.5),
	"Million/appending":          proof.AtMost(1.5),
}
