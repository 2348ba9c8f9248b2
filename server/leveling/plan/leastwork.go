package plan

import (
	"cmp"
	"slices"
)

// score ranks datums for least work: the smaller the better, field by field.
type score struct {
	cost     micros
	unproven int    // rows in none of the parts A, R and M
	moved    int    // rows
	squares  uint64 // Σ(p − T)² over the rows in A, R and M, 1e-6 mm²
	away     pm     // from the mean estimate
	datum    pm
}

func (a score) less(b score) bool {
	return cmp.Or(
		cmp.Compare(a.cost, b.cost),
		cmp.Compare(a.unproven, b.unproven),
		cmp.Compare(a.moved, b.moved),
		cmp.Compare(a.squares, b.squares),
		cmp.Compare(a.away, b.away),
		cmp.Compare(a.datum, b.datum),
	) < 0
}

// totals are running sums over the rows' present choices.
type totals struct {
	cost    micros
	proven  int // rows in A, R and M
	moved   int
	depths  pm   // Σp over the rows in A, R and M
	squares wide // Σp² over them, pm²
}

// leastWork finds the best datum. Between two neighbouring changes of any row's choice all choices are
// fixed, so the best datum there is the mean of the predictions of the rows in A, R and M, clipped to that
// range; the best of these is the best of all.
func (s *solver) leastWork() pm {
	lo, hi := s.bounds()
	s.eachRow(func(i int, r *row) {
		r.now = choice{}
		s.pieces = s.settle(s.pieces, r, int32(i), lo, hi)
	})
	s.sortPieces()
	var sum totals
	var best score
	for i := 0; i < len(s.pieces); {
		from, to := s.pieces[i].from, hi
		for ; i < len(s.pieces) && s.pieces[i].from == from; i++ {
			s.turn(&sum, s.pieces[i])
		}
		if i < len(s.pieces) {
			to = s.pieces[i].from - 1
		}
		if from > lo && cmp.Or(cmp.Compare(sum.cost, best.cost), cmp.Compare(s.live-sum.proven, best.unproven), cmp.Compare(sum.moved, best.moved)) > 0 {
			continue
		}
		if here := s.bestOf(sum, from, to); from == lo || here.less(best) {
			best = here
		}
	}
	return best.datum
}

// eachRow calls f with every row that is not stuck, and notes where its run of pieces starts.
func (s *solver) eachRow(f func(i int, r *row)) {
	s.pieces, s.starts = s.pieces[:0], s.starts[:0]
	for i := range s.rows {
		if r := &s.rows[i]; !r.stuck() {
			s.starts = append(s.starts, len(s.pieces))
			f(i, r)
		}
	}
}

// turn lets a row go over to its next choice.
func (s *solver) turn(sum *totals, p piece) {
	r := &s.rows[p.row]
	if r.now.part != 0 {
		sum.count(s, r, -1)
	}
	r.now = p.choice
	sum.count(s, r, 1)
}

// count takes a row's present choice in, or out where sign is -1.
func (sum *totals) count(s *solver, r *row, sign int) {
	sum.cost += micros(sign) * s.cost(r, r.now)
	if int(r.now.option) != r.leave {
		sum.moved += sign
	}
	if !r.now.part.Proves() {
		return
	}
	d := r.options[r.now.option].depth
	sum.proven += sign
	sum.depths += pm(sign) * d
	if sign > 0 {
		sum.squares = sum.squares.plus(product(d, d))
	} else {
		sum.squares = sum.squares.minus(product(d, d))
	}
}

// bestOf is the best datum of a range over which all choices are fixed.
func (s *solver) bestOf(sum totals, from, to pm) score {
	t := s.mean
	if sum.proven > 0 {
		t = meanPm(sum.depths, sum.proven)
	}
	t = max(from, min(to, t))
	m := pm(sum.proven)
	squares := sum.squares.minus(product(2*t, sum.depths)).plus(product(m*t, t))
	return score{sum.cost, s.live - sum.proven, sum.moved, squares.millionths(), (t - s.mean).abs(), t}
}

// Proves says whether a part is expected to end with a row that is proven even.
func (p Part) Proves() bool { return p == Left || p == Reread || p == Moved }

// cost is what a choice costs in the sense of the aim.
func (s *solver) cost(r *row, c choice) micros {
	if c.part == Nearest {
		return s.work(r, c) + s.miss
	}
	return s.work(r, c)
}

// work is what a choice takes at the planter; what leave takes is 0.
func (s *solver) work(r *row, c choice) micros {
	return r.options[c.option].seconds + micros(c.readings)*s.read
}

// end is where the least that any row can cost changes.
type end struct {
	at   pm
	more micros
}

// hull bounds the search without losing the best datum. A row that is not left as even costs at least
// one reading, its quickest move or a miss, and a miss where the datum is more than the tolerance beyond all
// its options. Where that alone is more than the whole cost at some datum that was tried, no best datum
// can lie.
func (s *solver) hull() (lo, hi pm) {
	ends := append(slices.Grow(s.ends[:0], 4*len(s.rows)+1), end{at: -beyondPm})
	for i := range s.rows {
		r := &s.rows[i]
		if r.stuck() {
			continue
		}
		least := min(r.least, s.miss)
		if len(r.rings) > 0 && r.leave >= 0 {
			least = min(least, r.rings[0].cost)
		}
		ends[0].more += s.miss
		low, high := r.options[0].depth-s.widest, r.options[len(r.options)-1].depth+s.widest
		ends = append(ends, end{low, least - s.miss}, end{high + 1, s.miss - least})
		if r.leave >= 0 && r.half >= 0 {
			ends = append(ends, end{r.depth - r.half, -least}, end{r.depth + r.half + 1, least})
		}
	}
	s.ends = ends
	slices.SortFunc(ends, func(a, b end) int { return cmp.Compare(a.at, b.at) })
	each := func(f func(from, to pm, least micros)) {
		least := micros(0)
		for i, e := range ends {
			least += e.more
			to := beyondPm
			if i+1 < len(ends) {
				to = ends[i+1].at - 1
			}
			if e.at <= to {
				f(e.at, to, least)
			}
		}
	}
	try, lowest := s.mean, ends[0].more
	each(func(from, to pm, least micros) {
		if least < lowest {
			try, lowest = (from + to).half(), least
		}
	})
	most := s.costAt(try)
	lo, hi = beyondPm, -beyondPm
	each(func(from, to pm, least micros) {
		if least <= most {
			lo, hi = min(lo, from), max(hi, to)
		}
	})
	return lo, hi
}

// costAt is the cost at datum t of the rows that are not stuck.
func (s *solver) costAt(t pm) micros {
	sum := micros(0)
	for i := range s.rows {
		if r := &s.rows[i]; !r.stuck() {
			sum += s.cost(r, s.at(i, t))
		}
	}
	return sum
}
