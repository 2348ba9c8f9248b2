package job

import (
	"slices"

	"rowdatum/server/leveling"
	"rowdatum/server/leveling/estimate"
	"rowdatum/server/leveling/plan"
)

// steps gives every row its next step and says why.
func (d *deriver) steps() {
	if d.Stage != StageOpen {
		return
	}
	waiting := false
	for i := range d.Rows {
		r := &d.Rows[i]
		r.Next, r.why = d.reading(r, d.State.rows[i])
		waiting = waiting || r.Next != NextNothing
	}
	matched := d.readMatched()
	for i := range d.Rows {
		switch r := &d.Rows[i]; {
		case r.Next != NextNothing:
		case d.Issued != nil:
			if r.Next, r.why = d.planned(r, i); r.Next == NextMove && matched {
				r.Next, r.why, r.Move = NextNothing, func(w words) string { return w.waitsForMatched }, nil
			}
		case waiting, matched:
			r.why = func(w words) string { return w.waits }
		default:
			r.Next, r.why = NextPlan, func(w words) string { return w.askPlan }
		}
	}
}

// readMatched asks for further readings of the row that the others are brought to, before anything else is
// asked of them; it returns whether it did.
func (d *deriver) readMatched() bool {
	r := d.Row(d.Aim.Row)
	if d.Aim.Kind != leveling.MatchRow || r == nil || r.Next != NextNothing || !r.Measured {
		return false
	}
	n := plan.MatchReadings(r.Estimate, d.Aim)
	if n == 0 {
		return false
	}
	r.Next, r.why = NextReadAgain, func(w words) string { return w.matchedMore(n) }
	return true
}

// reading says whether a row must be read before anything else can be said of it.
func (d *deriver) reading(r *RowState, l *rowLog) (NextStep, reason) {
	now := &l.stays[len(l.stays)-1]
	switch {
	case !r.Known && now.partChanged():
		return NextRead, func(w words) string { return w.partChanged }
	case !r.Known && now.moved():
		return NextReadAfterMove, func(w words) string { return w.movedUnread }
	case !r.Known:
		return NextRead, func(w words) string { return w.notRead }
	case now.lastOut:
		r.Surprising = true
		return NextReadAgain, surprising(r, now)
	case l.lonely():
		if why := d.lonely(l); why != nil {
			r.Surprising = true
			return NextReadAgain, why
		}
	}
	return NextNothing, nil
}

// lonely holds a row's only reading against the other rows and against where the row was last left; it
// says what surprises.
func (d *deriver) lonely(l *rowLog) reason {
	y := l.stays[0].mean.MeanMm
	at, _ := slices.BinarySearch(d.found, y)
	others := slices.Delete(slices.Clone(d.found), at, at+1)
	if median, far := d.gate.Apart(y, others); far {
		return apart(func(w words) string { return w.farFromOthers }, y, median)
	}
	p := l.planter
	if p.AsLeftMm != nil && p.AsLeftFixture == d.Opened.Fixture.ID && d.gate.Drifted(y, *p.AsLeftMm) {
		return apart(func(w words) string { return w.farFromAsLeft }, y, *p.AsLeftMm)
	}
	return nil
}

// planned says what the last plan asks of a row that is read, or foretold, without surprise.
func (d *deriver) planned(r *RowState, i int) (NextStep, reason) {
	p, l := d.planRow(i), d.State.rows[i]
	moved := r.LastMove != d.plannedAt[i]
	fresh := l.changed > d.PlanRevision
	switch {
	case !moved && p.Part == plan.NoReach:
		return NextExcept, func(w words) string { return w.noTravel }
	case !moved && !p.Option.Leave && r.Verdict != leveling.Even:
		return d.move(r, i, p, fresh)
	case d.unverified(i):
		return NextReadAfterMove, expecting(r.Estimate.DepthMm)
	case r.Verdict == leveling.Even:
		return NextDone, func(w words) string { return w.standing(r) }
	case r.ReadingsToSettle > 0 && (!moved && p.Part == plan.Reread || d.readingIsQuicker(r, l)):
		return NextReadAgain, settling(r)
	case moved || fresh || p.Part != plan.Nearest:
		return NextPlan, standing(r, func(w words) string { return w.planIsOld })
	}
	return NextExcept, standing(r, helpless(r, p))
}

// readingIsQuicker says whether the further readings that prove a row take no longer than a move; where they do, a
// new plan is asked which of the two it shall be.
func (d *deriver) readingIsQuicker(r *RowState, l *rowLog) bool {
	return float64(r.ReadingsToSettle)*d.Aim.ReadSeconds <= l.style.TouchSeconds
}

// helpless says what to do about a row that the last plan leaves although it is not even. Only one that is off,
// and that nothing brings nearer, is sent for worn parts.
func helpless(r *RowState, p *plan.RowPlan) reason {
	return func(w words) string {
		switch {
		case r.undecided:
			return w.cannotDecide
		case p.NoneNearer:
			return w.planIsHelpless
		}
		return w.notWorthMoving
	}
}

// move says whether the plan's move still leads where the plan says, after what was read since, and whether
// the row is known well enough to be moved and not read after.
func (d *deriver) move(r *RowState, i int, p *plan.RowPlan, fresh bool) (NextStep, reason) {
	l := d.State.rows[i]
	if fresh && p.Part == plan.Moved && !d.proves(&r.Estimate, l, p.Option.EffectMm) {
		return NextPlan, standing(r, func(w words) string { return w.moveIsOld })
	}
	if r.Measured && d.Opened.Verify == VerifyWhenNeeded {
		if y, far := d.farOnOne(l); far {
			return NextReadAgain, puttingIt(y)
		}
	}
	r.Move = &PlannedMove{Option: p.Option}
	if i < len(d.Issued.Says) {
		r.Move.Unit, r.Move.Say = d.Issued.Says[i].Unit, d.Issued.Says[i].Say
	}
	return NextMove, bringing(r, p.PredictedMm, p.PredictedChance)
}

// proves says whether a move of nominal effect effectMm, read once, is expected to prove a row: as plans judge it.
func (d *deriver) proves(e *estimate.Estimate, l *rowLog, effectMm float64) bool {
	foretold := e.DepthMm + float64(e.Scale*effectMm)
	return d.away(foretold) <= d.with(e.UncertaintyMoved(effectMm, l.style.SeatingMm)).half
}

// need is what a row lacks for signing.
type need int

const (
	needNothing need = iota
	needReading
	needReadingAfterMove
	needReadingAgain
	needPlan
	needPart // stuck, off or unsure
)

// need says what the row at an index lacks for signing.
func (s *State) need(i int) need {
	r, l := &s.Rows[i], s.rows[i]
	now := &l.stays[len(l.stays)-1]
	switch {
	case !r.Known:
		return needReading
	case r.Verdict == 0:
		return needPlan
	case now.lastOut:
		return needReadingAgain
	case s.unverified(i):
		return needReadingAfterMove
	case r.Verdict != leveling.Even:
		return needPart
	}
	return needNothing
}

// unverified says whether the row at an index was moved and is to be read before it counts as even.
func (s *State) unverified(i int) bool {
	r, l := &s.Rows[i], s.rows[i]
	switch {
	case !l.stays[len(l.stays)-1].moved() || r.Measured:
		return false
	case s.Opened.Verify == VerifyMoved || r.Verdict != leveling.Even:
		return true
	}
	_, far := s.farOnOne(l)
	return far
}

// farOnOne says whether all that is known of a row's depth is one reading, so far from the datum that a row
// that is even may have given it by a slip: a move that nobody reads after would then do harm unseen.
func (s *State) farOnOne(l *rowLog) (readMm float64, far bool) {
	readings := 0
	for i := range l.stays {
		now := &l.stays[i]
		if now.anew || now.partChanged() {
			readings = 0
		}
		if now.mean.Readings > 0 {
			readings, readMm = readings+now.mean.Readings, now.mean.MeanMm
		}
	}
	away := pico(readMm) - pico(*s.DatumMm)
	return readMm, readings == 1 && max(away, -away) >= pico(leveling.SlipMm-s.Aim.ToleranceMm)
}
