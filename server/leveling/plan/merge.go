package plan

// sortPieces sorts s.pieces by datum, rows in order where datums are equal. Each row's own run, noted in
// s.starts, is sorted already, so merging runs two by two takes log n passes for n rows.
func (s *solver) sortPieces() {
	starts, from := append(s.starts, len(s.pieces)), s.pieces
	if cap(s.scratch) < len(from) {
		s.scratch = make([]piece, len(from))
	}
	to := s.scratch[:len(from)]
	for len(starts) > 2 {
		kept := starts[:0]
		for i := 0; i+1 < len(starts); i += 2 {
			low, mid := starts[i], starts[i+1]
			high := mid
			if i+2 < len(starts) {
				high = starts[i+2]
			}
			mergeRuns(to[low:high], from[low:mid], from[mid:high])
			kept = append(kept, low)
		}
		starts = append(kept, len(from))
		from, to = to, from
	}
	s.pieces, s.scratch = from, to
}

func mergeRuns(out, a, b []piece) {
	for len(a) > 0 && len(b) > 0 {
		if b[0].from < a[0].from {
			out[0], b = b[0], b[1:]
		} else {
			out[0], a = a[0], a[1:]
		}
		out = out[1:]
	}
	copy(out, a)
	copy(out[len(a):], b)
}
