package plan

import (
	"math"
	"slices"
)

// tradeoff finds, for every number of rows touched, the smallest spread within reach.
//
// To touch at most m of n rows is to have n − m rows' present depths inside the window. Of the windows
// that begin between two neighbouring present depths, the one that must hold the next q of them ends at
// the q-th or where it first holds an option of every row, whichever is deeper. The low ends whose window
// is complete before the q-th are a prefix that grows with q, and the last of them gives the smallest
// spread; of the others a running minimum from the right does.
func (s *solver) tradeoff() []TradeoffPoint {
	if s.live == 0 {
		return []TradeoffPoint{{}}
	}
	leaves := s.leaves()
	spread := make([]pm, len(leaves)+1) // by how many present depths are held
	for q := range spread {
		spread[q] = math.MaxInt64
	}
	windows := slices.Grow(s.windows[:0], cap(s.options))
	s.eachWindow(func(w window) {
		windows = append(windows, w)
		spread[0] = min(spread[0], w.high-w.low)
	})
	s.windows = windows
	begin := 0
	for i := range leaves {
		end := begin
		for end < len(windows) && windows[end].low <= leaves[i] {
			end++
		}
		s.holding(spread, leaves[i:], windows[begin:end])
		begin = end
	}

	out := make([]TradeoffPoint, 0, s.live+1)
	for q := len(leaves); q >= 0; q-- {
		out = append(out, TradeoffPoint{TouchedRows: s.live - q, SpreadMm: spread[q].mm()})
	}
	return out
}

// holding lowers spread[q] to what windows, all of which begin at or before the first of the depths and
// after the one before it, come to when they must hold q depths.
func (s *solver) holding(spread []pm, depths []pm, windows []window) {
	if len(windows) == 0 {
		return
	}
	s.narrowest = slices.Grow(s.narrowest[:0], len(windows)+1)
	narrowest := s.narrowest[:len(windows)+1] // of windows i and on
	narrowest[len(windows)] = math.MaxInt64
	for i := len(windows) - 1; i >= 0; i-- {
		narrowest[i] = min(narrowest[i+1], windows[i].high-windows[i].low)
	}
	complete := 0
	for q := 1; q <= len(depths); q++ {
		last := depths[q-1]
		for complete < len(windows) && windows[complete].high <= last {
			complete++
		}
		spread[q] = min(spread[q], narrowest[complete])
		if complete > 0 {
			spread[q] = min(spread[q], last-windows[complete-1].low)
		}
	}
}
