package leveling

// Caution is one thing that a person ticks before work at a planter.
type Caution struct{ ID, Text string }

// Cautions are what everyone is told who is sent to a planter, each a full sentence. Sources:
// 29 CFR 1928.57(a)(6) (stop the engine, disconnect power, everyone clear); 29 CFR 1910.147(d)(5)
// (stored energy made safe); Canadian Agricultural Safety Association, Blocking Raised Equipment, 2011
// (never rely on what raised the load); the rest common practice, no source. None claims that a
// standard applies to a given shop. Their ids are the same in every language.
func (v Voice) Cautions() []Caution {
	p := v.phrases()
	return []Caution{{"park", p.park}, {"stands", p.stands}, {"raised-iron", p.raisedIron}, {"hands", p.hands}, {"manual", p.manual}}
}

// SafetyCautions are the sentences of Cautions.
func (v Voice) SafetyCautions() []string {
	var out []string
	for _, c := range v.Cautions() {
		out = append(out, c.Text)
	}
	return out
}
