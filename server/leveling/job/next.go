package job

import (
	"fmt"
	"slices"

	"rowdatum/server/leveling"
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
		r.Next, r.Why = d.reading(r, d.State.rows[i])
		waiting = waiting || r.Next != NextNothing
	}
	for i := range d.Rows {
		switch r := &d.Rows[i]; {
		case r.Next != NextNothing:
		case d.Issued != nil:
			r.Next, r.Why = d.planned(r, i)
		case waiting:
			r.Why = "read; some other row is still to be read before there can be a plan"
		default:
			r.Next, r.Why = NextPlan, "read; all rows are, so ask for a plan"
		}
	}
}

// reading says whether a row must be read before anything else can be said of it.
func (d *deriver) reading(r *RowState, l *rowLog) (NextStep, string) {
	now := &l.stays[len(l.stays)-1]
	switch {
	case !r.Known && now.partChanged():
		return NextRead, "a part was changed: what was read before no longer counts"
	case !r.Known && now.moved():
		return NextReadAfterMove, "moved before it was ever read"
	case !r.Known:
		return NextRead, "not read yet"
	case now.lastOut:
		r.Surprising = true
		return NextReadAgain, surprising(r, now)
	case l.lonely():
		if why := d.lonely(l); why != "" {
			r.Surprising = true
			return NextReadAgain, why
		}
	}
	return NextNothing, ""
}

// lonely holds a row's only reading against the other rows and against where the row was last left; it
// says what surprises.
func (d *deriver) lonely(l *rowLog) string {
	y := l.stays[0].mean.MeanMm
	at, _ := slices.BinarySearch(d.found, y)
	others := slices.Delete(slices.Clone(d.found), at, at+1)
	if median, far := d.gate.Apart(y, others); far {
		return farFromOthers(y, median)
	}
	p := l.planter
	if p.AsLeftMm != nil && p.AsLeftFixture == d.Opened.Fixture.ID && d.gate.Drifted(y, *p.AsLeftMm) {
		return farFromAsLeft(y, *p.AsLeftMm)
	}
	return ""
}

// planned says what the last plan asks of a row that is read, or foretold, without surprise.
func (d *deriver) planned(r *RowState, i int) (NextStep, string) {
	p, l := d.planRow(i), d.State.rows[i]
	now := &l.stays[len(l.stays)-1]
	moved := r.LastMove != d.plannedAt[i]
	fresh := l.changed > d.PlanRevision
	switch {
	case !moved && p.Part == plan.NoReach:
		return NextExcept, "stuck: no setting leaves the travel that the season needs"
	case !moved && !p.Option.Leave && r.Verdict != leveling.Even:
		return d.move(r, i, p, fresh)
	case d.unverified(r, now):
		return NextReadAfterMove, d.foretold(r)
	case r.Verdict == leveling.Even:
		return NextDone, d.stands(r, "even")
	case r.ReadingsToSettle == 1, r.ReadingsToSettle > 1 && !moved && (!fresh || p.Part == plan.Reread):
		return NextReadAgain, d.stands(r, "unsure") + "; " + settling(r.ReadingsToSettle)
	case r.neverSettles() && d.with(r.Estimate.UncertaintyAfter(mostReadings)).half < 0:
		return NextExcept, d.stands(r, "unsure") + "; this fixture cannot prove the tolerance: except the row with a reason, or take a finer fixture"
	case moved || fresh:
		return NextPlan, d.stands(r, verdictWord(r.Verdict)) + "; the plan did not know this: ask for a new one"
	}
	return NextExcept, d.stands(r, verdictWord(r.Verdict)) + "; the plan can do nothing for it: look for worn parts, or except it with a reason"
}

// move says whether the plan's move still leads where the plan says, after what was read since.
func (d *deriver) move(r *RowState, i int, p *plan.RowPlan, fresh bool) (NextStep, string) {
	if fresh && p.Part == plan.Moved {
		t := d.State.rows[i].follow(d.budget)
		t.Move(p.Option.EffectMm, d.State.rows[i].style.SeatingMm)
		if e := t.Estimate(); d.verdict(e.DepthMm, e.UncertaintyMm) != leveling.Even {
			return NextPlan, d.stands(r, verdictWord(r.Verdict)) + "; read since the plan, whose move no longer makes it even: ask for a new one"
		}
	}
	r.Move = &PlannedMove{Option: p.Option}
	if i < len(d.Issued.Says) {
		r.Move.Unit, r.Move.Say = d.Issued.Says[i].Unit, d.Issued.Says[i].Say
	}
	return NextMove, d.stands(r, verdictWord(r.Verdict)) + fmt.Sprintf("; the move brings it to %s mm, %s sure", leveling.Mm(p.PredictedMm), leveling.Percent(p.PredictedChance))
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
	case s.unverified(r, now):
		return needReadingAfterMove
	case r.Verdict != leveling.Even:
		return needPart
	}
	return needNothing
}

// unverified says whether a row was moved and is to be read before it counts as even.
func (s *State) unverified(r *RowState, now *stay) bool {
	return now.moved() && !r.Measured && (s.Opened.Verify == VerifyMoved || r.Verdict != leveling.Even)
}
