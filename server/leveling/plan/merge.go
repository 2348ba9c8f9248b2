package plan

// sortPieces sorts s.pieces by datum, rows in order where datums are equal. Each row's own run, noted in
// s.starts, is sorted already.
func (s *solver) sortPieces() {
	s.pieces, s.scratch = sortRuns(s.pieces, s.scratch, s.starts, mergePieces)
}

// sortRuns sorts all, in which a sorted run begins at each of starts, which it uses up; scratch is room. Merging
// runs two by two takes log n passes for n of them.
func sortRuns[T any](all, scratch []T, starts []int, merge func(out, a, b []T)) (sorted, room []T) {
	starts = append(starts, len(all))
	if cap(scratch) < len(all) {
		scratch = make([]T, len(all))
	}
	from, to := all, scratch[:len(all)]
	for len(starts) > 2 {
		kept := starts[:0]
		for i := 0; i+1 < len(starts); i += 2 {
			low, mid := starts[i], starts[i+1]
			high := mid
			if i+2 < len(starts) {
				high = starts[i+2]
			}
			merge(to[low:high], from[low:mid], from[mid:high])
			kept = append(kept, low)
		}
		starts = append(kept, len(from))
		from, to = to, from
	}
	return from, to
}

func mergePieces(out, a, b []piece) {
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

// place is an option's depth and its row in one number, so that thousands of them are sorted fast: by depth,
// rows in order where depths are equal. maxPm leaves room for 32,768 rows.
type place int64

const rowBits = 15

func placeOf(depth pm, row int) place { return place(depth)<<rowBits | place(row) }

func (p place) depth() pm { return pm(p >> rowBits) }
func (p place) row() int  { return int(p & (1<<rowBits - 1)) }

func mergePlaces(out, a, b []place) {
	for len(a) > 0 && len(b) > 0 {
		if b[0] < a[0] {
			out[0], b = b[0], b[1:]
		} else {
			out[0], a = a[0], a[1:]
		}
		out = out[1:]
	}
	copy(out, a)
	copy(out[len(a):], b)
}
