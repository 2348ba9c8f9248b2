package leveling

// Caution is one thing that a person ticks before work at a planter.
type Caution struct{ ID, Text string }

// Cautions are what everyone is told who is sent to a planter, each a full sentence. Sources:
// 29 CFR 1928.57(a)(6) (stop the engine, disconnect power, everyone clear); 29 CFR 1910.147(d)(5)
// (stored energy made safe); Canadian Agricultural Safety Association, Blocking Raised Equipment, 2011
// (never rely on what raised the load); the rest common practice, no source. None claims that a
// standard applies to a given shop.
func Cautions() []Caution {
	return []Caution{
		{"park", "Park level, chock the wheels, stop the engine, take the key out and release hydraulic pressure."},
		{"stands", "Lock out the lift and set stands under the frame on a solid floor; check each stand's own rating."},
		{"raised-iron", "Never go under iron held by hydraulics or a jack alone."},
		{"hands", "Keep hands clear of pinch points, and see that nobody else is near when anything moves."},
		{"manual", "Follow the operator's manual and local codes; where work calls for a licensed person, leave it to one."},
	}
}

// SafetyCautions are the sentences of Cautions.
func SafetyCautions() []string {
	var out []string
	for _, c := range Cautions() {
		out = append(out, c.Text)
	}
	return out
}
