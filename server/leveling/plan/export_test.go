package plan

// TradeoffOf prepares p and returns its trade-off alone, to be timed.
func TradeoffOf(p Problem) func() []TradeoffPoint { return newSolver(&p).tradeoff }
