package plan

import (
	"cmp"
	"math"
	"slices"

	"rowdatum/server/leveling"
)

// unevenMm is how wrong one count may be over the field's range before a row gets a table; our choice,
// no source.
const unevenMm = 0.5

// marks writes the marks of every group that keeps them, and cautions about rows without.
func (w words) marks() {
	var done []int
	for i := range w.s.rows {
		r := &w.s.rows[i]
		if !r.Style.KeepsMarks || slices.Contains(done, r.Group) {
			continue
		}
		done = append(done, r.Group)
		var group []*row
		for j := range w.s.rows {
			if m := &w.s.rows[j]; m.Group == r.Group {
				group = append(group, m)
			}
		}
		if len(group) > 1 {
			w.markGroup(group)
		}
	}
}

func (w words) markGroup(group []*row) {
	marked, positions := w.markable(group)
	if len(marked) < 2 {
		return
	}
	ref := w.reference(group, marked, positions)
	out := MechanismMarks{Mechanism: ref.Mechanism, ReferenceRow: ref.Number}
	for i, r := range marked {
		depth := r.options[r.now.option].depth
		m := RowMark{Row: r.Number, Count: positions[i] - positions[slices.Index(marked, ref)], ResidualMm: (depth - toPm(w.out.DatumMm)).mm()}
		if w.uneven(ref, r) {
			m.Count, m.Table = 0, w.table(ref, r)
		}
		out.Rows = append(out.Rows, m)
	}
	w.out.Marks = append(w.out.Marks, out)
}

// markable lists the rows of a group that can carry a mark, with their planned settings in counts from
// the first of them, and says why the others cannot.
func (w words) markable(group []*row) (marked []*row, positions []float64) {
	var unknown, notEven, strange []int
	for _, r := range group {
		switch {
		case r.now.part == NoReach || r.now.part == Nearest:
			notEven = append(notEven, r.Number)
		case r.planned().SettingAfter == "":
			unknown = append(unknown, r.Number)
		case len(marked) == 0:
			marked, positions = append(marked, r), append(positions, 0)
		default:
			count, ok := counts(marked[0], r)
			if !ok {
				strange = append(strange, r.Number)
				continue
			}
			marked, positions = append(marked, r), append(positions, count)
		}
	}
	w.unmarked(notEven, unknown, strange)
	return marked, positions
}

// planned is the option that the plan chose for a row that is not stuck.
func (r *row) planned() *leveling.Option { return &r.Options[r.options[r.now.option].source] }

// counts is how far row b's planned setting is from row a's, in counts, as the options of either tell.
func counts(a, b *row) (float64, bool) {
	for _, o := range b.Options {
		if o.SettingAfter == a.planned().SettingAfter {
			return b.planned().Count - o.Count, true
		}
	}
	for _, o := range a.Options {
		if o.SettingAfter == b.planned().SettingAfter {
			return o.Count - a.planned().Count, true
		}
	}
	return 0, false
}

// reference is the row that marks count from: the named one, else the lowest-numbered whose setting is
// the lower median.
func (w words) reference(group, marked []*row, positions []float64) *row {
	sorted := slices.Sorted(slices.Values(positions))
	ref := marked[slices.Index(positions, sorted[(len(sorted)-1)/2])]
	for _, r := range group {
		if !slices.Contains(w.s.ReferenceRows, r.Number) {
			continue
		}
		if slices.Contains(marked, r) {
			return r
		}
		w.countedFrom(r.Number, ref.Number)
	}
	return ref
}

// inField says whether option o of the reference row lies in the range of the season: the travel asked
// for on either side of the planned setting, all of it where none is asked for.
func (w words) inField(ref *row, o *leveling.Option) bool {
	if w.s.Reach == (leveling.Reach{}) {
		return true
	}
	by := toPm(o.EffectMm - ref.planned().EffectMm)
	return -toPm(w.s.Reach.ShallowerMm) <= by && by <= toPm(w.s.Reach.DeeperMm)
}

// uneven says whether the same count moves row r otherwise than the reference row, nominally, by too
// much somewhere in the field's range.
func (w words) uneven(ref, r *row) bool {
	byCount := slices.Clone(r.Options)
	slices.SortFunc(byCount, func(a, b leveling.Option) int { return cmp.Compare(a.Count, b.Count) })
	for i := range ref.Options {
		o := &ref.Options[i]
		if !w.inField(ref, o) {
			continue
		}
		const near = 1e-6 // counts that differ by less are one
		want := r.planned().Count + o.Count - ref.planned().Count
		j, _ := slices.BinarySearchFunc(byCount, want-near, func(x leveling.Option, c float64) int { return cmp.Compare(x.Count, c) })
		if j == len(byCount) || byCount[j].Count > want+near {
			continue // beyond this row's travel
		}
		moved := byCount[j].EffectMm - r.planned().EffectMm
		if math.Abs(moved-(o.EffectMm-ref.planned().EffectMm)) > unevenMm {
			return true
		}
	}
	return false
}

// table lists, for every depth of the reference row in the field's range, the setting of row r that
// comes nearest.
func (w words) table(ref, r *row) []TableEntry {
	from, to := w.s.whole(ref), w.s.whole(r)
	var out []TableEntry
	for _, o := range from.options {
		if !w.inField(ref, &ref.Options[o.source]) {
			continue
		}
		near := to.options[to.nearest(o.depth)]
		out = append(out, TableEntry{DepthMm: o.depth.mm(), Setting: r.Options[near.source].SettingAfter})
	}
	return out
}

// whole is row r with all its options, whatever their travel.
func (s *solver) whole(r *row) *row {
	all := row{Row: r.Row}
	all.prepare(leveling.Reach{}, make([]option, 0, len(r.Options)))
	return &all
}
