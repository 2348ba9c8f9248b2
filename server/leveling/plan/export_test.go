package plan

// TradeoffOf prepares p and returns its trade-off alone, to be timed.
func TradeoffOf(p Problem) func() []TradeoffPoint { return newSolver(&p).tradeoff }

// Solver is Solve with the room of one search kept for the next, as a service's Planner keeps it.
func Solver() func(Problem) Plan {
	s := new(solver)
	return func(p Problem) Plan {
		defer s.forget()
		s.prepare(&p)
		return s.solve()
	}
}
