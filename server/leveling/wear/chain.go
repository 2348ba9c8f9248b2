package wear

import (
	"cmp"
	"slices"
)

// chain is one row since its last changed part.
type chain struct {
	row      int
	points   []point
	visits   []int // that the points are of, those with a drift to or from another
	levels   int   // between moves
	index    int   // among the fitted chains
	contrast []float64
}

// point is one stay as read at one visit.
type point struct {
	visit, level int
	hectares     float64
	Reading
}

// chainsOf lists the rows' present chains by row.
func chainsOf(visits []Visit) []*chain {
	var out []*chain
	now := map[int]*chain{}
	for i, v := range visits {
		for _, r := range v.Rows {
			c := now[r.Row]
			if c == nil {
				c = &chain{row: r.Row}
				now[r.Row], out = c, append(out, c)
			}
			if !r.Moved && !r.PartChanged {
				c.add(i, v.Hectares, cmp.Or(r.Left, r.Found)) // one stay: the later reading has all of it
				continue
			}
			c.add(i, v.Hectares, r.Found)
			if r.PartChanged {
				*c = chain{row: r.Row}
			}
			c.levels++
			c.add(i, v.Hectares, r.Left)
		}
	}
	for _, c := range out {
		c.trim()
	}
	slices.SortFunc(out, func(a, b *chain) int { return cmp.Compare(a.row, b.row) })
	return out
}

func (c *chain) add(visit int, hectares float64, r *Reading) {
	if r != nil {
		c.points = append(c.points, point{visit, c.levels, hectares, *r})
	}
}

// trim leaves out points that stand alone on their level: they tell of no drift. The levels are counted anew.
func (c *chain) trim() {
	on := map[int]int{}
	for _, p := range c.points {
		on[p.level]++
	}
	c.points = slices.DeleteFunc(c.points, func(p point) bool { return on[p.level] < 2 })
	c.levels = 0
	for i, before := 0, -1; i < len(c.points); i++ {
		p := &c.points[i]
		if p.level != before {
			before = p.level
			c.levels++
		}
		p.level = c.levels - 1
		if !slices.Contains(c.visits, p.visit) {
			c.visits = append(c.visits, p.visit)
		}
	}
}

// enough says whether the chain has drifts between three visits with different hectares.
func (c *chain) enough() bool {
	if len(c.visits) < FewestVisits || len(c.points)-c.levels < FewestVisits-1 {
		return false
	}
	var hectares []float64
	for _, p := range c.points {
		if !slices.Contains(hectares, p.hectares) {
			hectares = append(hectares, p.hectares)
		}
	}
	return len(hectares) >= FewestVisits
}
