package job

import (
	"slices"

	"rowdatum/server/leveling"
	"rowdatum/server/leveling/estimate"
)

// rowLog is what the log says of one row, and what that comes to without regard to other rows.
type rowLog struct {
	planter  *leveling.PlanterRow
	style    *leveling.Style
	group    int
	steps    []step
	readings []rowReading
	changed  int // revision of the last event that changed any of these

	stays []stay        // at least one; the last is the present one
	pool  estimate.Pool // scatter of repeated readings
}

// step ends a stay: a move, or a change of parts where move is nil.
type step struct {
	revision int
	move     *Move
	near     bool // the move was to bring the row as near as it goes
	struck   bool
}

// rowReading is a reading with the depth that it means.
type rowReading struct {
	revision  int
	afterMove int
	depthMm   float64
	side      Side
	struck    bool
}

// stay is the time between two steps of one row.
type stay struct {
	step     step // that began it; the zero step for the first stay
	mean     estimate.StayMean
	leftOut  []int       // revisions of readings that do not count
	last     *rowReading // the last one in the log, nil where there is none
	lastOut  bool        // the last one does not count: it surprises
	sides    *float64    // left minus right
	anew     bool        // what counts contradicts what the earlier stays foretold, which therefore count no more
	readings []rowReading
}

// moved says whether a move began the stay.
func (s *stay) moved() bool { return s.step.move != nil }

// partChanged says whether a change of parts began the stay.
func (s *stay) partChanged() bool { return s.step.revision > 0 && s.step.move == nil }

// clone copies what later events may change.
func (l *rowLog) clone() *rowLog {
	c := *l
	c.steps, c.readings = slices.Clone(l.steps), slices.Clone(l.readings)
	return &c
}

// since is the revision of the row's last step in force, 0 where there is none.
func (l *rowLog) since() int {
	for i := len(l.steps) - 1; i >= 0; i-- {
		if !l.steps[i].struck {
			return l.steps[i].revision
		}
	}
	return 0
}

// lastMove is the row's last move in force, nil where there is none.
func (l *rowLog) lastMove() *step {
	for i := len(l.steps) - 1; i >= 0; i-- {
		if s := &l.steps[i]; !s.struck && s.move != nil {
			return s
		}
	}
	return nil
}

// moves counts the row's moves in force since its parts were last changed, and says whether one of them was to
// bring it as near as it goes.
func (l *rowLog) moves() (n int, near bool) {
	for _, s := range l.steps {
		switch {
		case s.struck:
		case s.move == nil:
			n, near = 0, false
		default:
			n, near = n+1, near || s.near
		}
	}
	return n, near
}

// readSince says whether a reading of the present stay that counts is later than a revision.
func (l *rowLog) readSince(revision int) bool {
	now := &l.stays[len(l.stays)-1]
	return slices.ContainsFunc(now.readings, func(r rowReading) bool {
		return r.revision > revision && !slices.Contains(now.leftOut, r.revision)
	})
}

// knows says whether a revision is that of a step of this row, struck or not; 0 is the time before all.
func (l *rowLog) knows(revision int) bool {
	return revision == 0 || slices.ContainsFunc(l.steps, func(s step) bool { return s.revision == revision })
}

// setting is where the row's mechanism stands now.
func (l *rowLog) setting() leveling.JSON {
	if m := l.lastMove(); m != nil {
		return m.move.SettingAfter
	}
	return l.planter.Setting
}

// track starts the row's track with a fixture's budget.
func (l *rowLog) track(b estimate.Budget) estimate.Track {
	scale, sd := 1.0, l.style.ScaleSd
	if l.planter.Scale != nil && l.planter.ScaleSd != nil {
		scale, sd = *l.planter.Scale, *l.planter.ScaleSd
	}
	return estimate.NewTrack(scale, sd, b)
}

// begin takes a track into a stay. A changed part ends what was learned of the row.
func (l *rowLog) begin(t estimate.Track, s *stay, b estimate.Budget) estimate.Track {
	switch {
	case s.moved():
		t.Move(s.step.move.EffectMm, l.style.SeatingMm)
	case s.partChanged():
		t = estimate.NewTrack(1, l.style.ScaleSd, b)
	}
	return t
}

// follow takes a track through all stays.
func (l *rowLog) follow(b estimate.Budget) estimate.Track {
	t := l.track(b)
	for i := range l.stays {
		s := &l.stays[i]
		t = l.observe(l.begin(t, s, b), i, b)
	}
	return t
}

// observe takes a track through what was read in a stay.
func (l *rowLog) observe(t estimate.Track, stay int, b estimate.Budget) estimate.Track {
	s := &l.stays[stay]
	if s.anew {
		t = l.start(stay, b)
	}
	if s.mean.Readings > 0 {
		t.Observe(s.mean)
	}
	return t
}

// start is a track that begins with a stay, as if nothing had been read before: with the scale that the planter had, or that
// parts changed since then have.
func (l *rowLog) start(stay int, b estimate.Budget) estimate.Track {
	t := l.track(b)
	for i := range l.stays[:stay+1] {
		if l.stays[i].partChanged() {
			t = l.begin(t, &l.stays[i], b)
		}
	}
	return t
}

// settle sorts the readings into stays and decides which of them count.
func (l *rowLog) settle(g estimate.Gate, b estimate.Budget) {
	l.stays, l.pool = l.split(), estimate.Pool{}
	t := l.track(b)
	half := 0.0 // of the left side's depth above the row's, as last seen
	for i := range l.stays {
		s := &l.stays[i]
		t = l.begin(t, s, b)
		if s.partChanged() {
			half = 0
		}
		half = s.count(g, t, half, &l.pool)
		t = l.observe(t, i, b)
	}
}

// split sorts the readings in force into stays: each belongs to the last step in force that its writer
// can have known.
func (l *rowLog) split() []stay {
	stays := make([]stay, 1, 1+len(l.steps))
	for _, s := range l.steps {
		if !s.struck {
			stays = append(stays, stay{step: s})
		}
	}
	for _, r := range l.readings {
		if r.struck {
			continue
		}
		i := len(stays) - 1
		for stays[i].step.revision > r.afterMove {
			i--
		}
		stays[i].readings = append(stays[i].readings, r)
	}
	return stays
}

// count decides which readings of a stay count, and takes their mean. A side that was read alone is taken
// to differ from the row by half, as the row's sides were last seen to; count returns what they differ by
// now.
func (s *stay) count(g estimate.Gate, t estimate.Track, half float64, pool *estimate.Pool) float64 {
	if len(s.readings) == 0 {
		return half
	}
	var counted [3][]float64 // whole row, left, right
	last := len(s.readings) - 1
	s.last = &s.readings[last]
	for i, side := range [3]Side{WholeRow, Left, Right} {
		counts, anew := agreeing(s.readings, side, g, t, shift(side, half))
		s.anew = s.anew || anew
		for j, r := range s.readings {
			switch {
			case r.side != side:
			case counts[j]:
				counted[i] = append(counted[i], r.depthMm)
			default:
				s.leftOut = append(s.leftOut, r.revision)
				s.lastOut = s.lastOut || j == last
			}
		}
		slices.Sort(counted[i]) // so that the order of arrival does not show in the last digits
		pool.Add(counted[i])
	}
	slices.Sort(s.leftOut)
	return s.average(counted, half)
}

// average sets the stay's mean. Where both sides were read, the row is the middle of the sides, and what
// was read of the whole row counts for each.
func (s *stay) average(counted [3][]float64, half float64) float64 {
	whole, left, right := counted[0], counted[1], counted[2]
	k := len(whole) + len(left) + len(right)
	if k == 0 {
		return half
	}
	if len(left) == 0 || len(right) == 0 {
		all := slices.Clone(whole)
		for _, y := range left {
			all = append(all, y-shift(Left, half))
		}
		for _, y := range right {
			all = append(all, y-shift(Right, half))
		}
		s.mean = estimate.StayMean{MeanMm: estimate.Mean(all), Readings: k, Weight: 1 / float64(k)}
		return half
	}
	l, r := append(slices.Clone(whole), left...), append(slices.Clone(whole), right...)
	wl, wr := 0.5/float64(len(l)), 0.5/float64(len(r))
	s.mean = estimate.StayMean{
		MeanMm:   estimate.Mean(l)/2 + estimate.Mean(r)/2,
		Readings: k,
		Weight:   float64(len(left))*wl*wl + float64(len(right))*wr*wr + float64(len(whole))*(wl+wr)*(wl+wr),
	}
	differ := estimate.Mean(left) - estimate.Mean(right)
	s.sides = &differ
	return differ / 2
}

// shift is how much deeper than the row a side is.
func shift(side Side, half float64) float64 {
	switch side {
	case Left:
		return half
	case Right:
		return -half
	}
	return 0
}

// party is a set of readings of one side that agree with each other.
type party struct {
	sum       float64
	members   []int
	surprises bool // its first reading is not what the earlier stays foretell
}

// agreeing says which readings of one side count. A reading that agrees with none before it, or that
// begins the stay and is not what the row's earlier stays foretell, does not count until a later one
// agrees with it; then the latest agreeing set counts, and anew tells where that speaks against the earlier stays.
func agreeing(readings []rowReading, side Side, g estimate.Gate, t estimate.Track, shift float64) (counts []bool, anew bool) {
	counts = make([]bool, len(readings))
	var parties []party
	counting := -1
	for j, r := range readings {
		if r.side != side {
			continue
		}
		fits := func(p party) bool { return g.Agrees(r.depthMm, p.sum/float64(len(p.members)), len(p.members)) }
		i := counting // of two sets that it agrees with, the one that counts comes first
		if i < 0 || !fits(parties[i]) {
			i = slices.IndexFunc(parties, fits)
		}
		if i < 0 {
			i = len(parties)
			agrees, known := g.Foretold(t, r.depthMm-shift)
			parties = append(parties, party{surprises: known && !agrees})
			if counting < 0 && !parties[i].surprises {
				counting = i
			}
		} else {
			counting = i
		}
		parties[i].sum += r.depthMm
		parties[i].members = append(parties[i].members, j)
	}
	if counting >= 0 {
		for _, j := range parties[counting].members {
			counts[j] = true
		}
		anew = parties[counting].surprises
	}
	return counts, anew
}

// asFound is the row as the readings before any step found it.
func (l *rowLog) asFound(b estimate.Budget) *Depth {
	s := &l.stays[0]
	if s.mean.Readings == 0 {
		return nil
	}
	t := l.track(b)
	t.Observe(s.mean)
	e := t.Estimate()
	return &Depth{e.DepthMm, e.UncertaintyMm}
}

// lonely says whether the row has one reading only, before any step: none other of its own to hold it
// against.
func (l *rowLog) lonely() bool { return len(l.stays) == 1 && len(l.stays[0].readings) == 1 }
