package plan

import "rowdatum/server/leveling/estimate"

// ring is how far a datum may be for a row to be proven even by so many further readings.
type ring struct {
	half     pm
	readings int32
	cost     micros
}

// ring is the fewest further readings that prove the row at a datum so far away; nil where none do, or where
// the row is out of reach as it stands.
func (r *row) ring(away pm) *ring {
	if r.leave < 0 {
		return nil
	}
	for i := range r.rings {
		if away <= r.rings[i].half {
			return &r.rings[i]
		}
	}
	return nil
}

// ringAt is the row's ring at datum t, which is beyond half, of those that cost no more than most; nil where there is
// none. last is the last datum of the ring, or before the next of these.
func (r *row) ringAt(t pm, most micros) (found *ring, last pm) {
	away := (t - r.depth).abs()
	inner := r.half
	for i := range r.rings {
		ring := &r.rings[i]
		if ring.cost > most {
			break
		}
		if away <= ring.half {
			found = ring
			break
		}
		inner = ring.half
	}
	switch {
	case t < r.depth && inner >= 0:
		return found, r.depth - inner - 1
	case found != nil:
		return found, r.depth + found.half
	}
	return nil, beyondPm
}

// rings works out what further readings are worth. Rows that were read alike share the answer.
type rings struct {
	room  []ring
	known map[reading][2]int // from and to in room
}

// reading is all that the worth of further readings depends on.
type reading struct {
	estimate.Budget
	readings            int
	uncertainty, joined float64
}

func (c *rings) begin() {
	if c.known == nil {
		c.known = map[reading][2]int{}
	}
	clear(c.known)
	c.room = c.room[:0]
}

// of lists a row's rings. Its mean is taken to stay; a number of readings that proves no more than fewer do
// is left out.
func (c *rings) of(r *row, a *estimate.Acceptance, read micros) []ring {
	e := &r.Estimate
	alike := reading{e.Budget, e.Readings, e.UncertaintyMm, r.joined}
	at, known := c.known[alike]
	if !known {
		at[0] = len(c.room)
		most := r.half
		for n := 1; n <= estimate.MostReadings-e.Readings && e.Budget.PerReadingMm2 > 0; n++ {
			if h := halfWidth(a, r.sdWith(e.UncertaintyAfter(n))); h > most {
				c.room = append(c.room, ring{h, int32(n), micros(n) * read})
				most = h
			}
		}
		at[1] = len(c.room)
		c.known[alike] = at
	}
	return c.room[at[0]:at[1]:at[1]]
}
