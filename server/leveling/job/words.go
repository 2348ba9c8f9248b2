package job

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"rowdatum/server/leveling"
)

// In is the state with its words in a language: what rows wait for, warnings, cautions, and what signing
// needs. A state has no words before.
func (s *State) In(l leveling.Language) *State { return s.said(s.Voice(l)) }

// Voice is how the job speaks to a reader of a language.
func (s *State) Voice(l leveling.Language) leveling.Voice {
	v := leveling.VoiceFor(l, s.lengthUnit(), s.Opened.Fixture.Figures)
	v.AreaUnit = s.Opened.AreaUnit
	return v
}

// lengthUnit is what the job was opened to speak; else inches where the fixture is ruled in them, and where it is
// not, or nobody named one, what was typed last.
func (s *State) lengthUnit() leveling.LengthUnit {
	ruled := s.Opened.Fixture.Figures.LengthUnit()
	named := s.Opened.Fixture.ID != ""
	switch {
	case s.Opened.LengthUnit != "":
		return s.Opened.LengthUnit
	case named && ruled == leveling.Inch:
		return leveling.Inch
	}
	return cmp.Or(s.lastUnit(), ruled)
}

// lastUnit is the unit that the last reading was typed in, empty where there is none.
func (s *State) lastUnit() leveling.LengthUnit {
	for _, e := range slices.Backward(s.log) {
		if e.Reading != nil && e.struckBy == 0 {
			return e.Reading.Unit
		}
	}
	return ""
}

func (s *State) said(v leveling.Voice) *State {
	out := *s
	w := words{&out, v, catalogue.In(v.Language)}
	out.Rows = slices.Clone(s.Rows)
	for i := range out.Rows {
		if r := &out.Rows[i]; r.why != nil {
			r.Why = r.why(w)
		}
	}
	out.Cautions = slices.Clone(s.Cautions)
	for i, c := range v.Cautions() {
		out.Cautions[i].Text = c.Text
	}
	out.Warnings = w.warnings()
	if s.Stage == StageOpen {
		out.SigningNeeds = w.signingNeeds()
	}
	return &out
}

// words says what a state means to a technician.
type words struct {
	s *State
	leveling.Voice
	*phrases
}

// reason says, when it is asked and in the voice it is asked in, why a row's next step is what it is.
type reason func(w words) string

// standing is a reason that begins with where the row is and goes on with a phrase.
func standing(r *RowState, phrase reason) reason {
	return func(w words) string { return fmt.Sprintf(phrase(w), w.standing(r)) }
}

func (w words) standing(r *RowState) string {
	e := &r.Estimate
	return fmt.Sprintf(w.stands, w.verdict(r.Verdict), w.Length(e.DepthMm), w.fromDatum(e.DepthMm), w.Percent(r.Chance), w.Nominal(w.s.Aim.ToleranceMm))
}

func (w words) verdict(v leveling.Verdict) string {
	switch v {
	case leveling.Even:
		return w.even
	case leveling.Off:
		return w.off
	case leveling.Stuck:
		return w.stuck
	}
	return w.unsure
}

func (w words) fromDatum(depthMm float64) string {
	const near = 0.005 // less is nothing in hundredths
	switch off := float64(pico(depthMm)-pico(*w.s.DatumMm)) / 1e9; {
	case off >= near:
		return fmt.Sprintf(w.deeper, w.Length(off))
	case off <= -near:
		return fmt.Sprintf(w.shallower, w.Length(-off))
	}
	return w.atDatum
}

// expecting is the reason to read a row that was moved.
func expecting(depthMm float64) reason {
	return func(w words) string { return fmt.Sprintf(w.foretold, w.Length(depthMm), w.fromDatum(depthMm)) }
}

// settling is the reason for so many more readings.
func settling(r *RowState) reason {
	return func(w words) string {
		if r.ReadingsToSettle == 1 {
			return fmt.Sprintf(w.settles, w.standing(r))
		}
		return fmt.Sprintf(w.settleMany, r.ReadingsToSettle, w.standing(r))
	}
}

// matchedMore asks for more readings of the row that the others are brought to.
func (w words) matchedMore(readings int) string {
	if readings == 1 {
		return w.readMatched
	}
	return fmt.Sprintf(w.readMatchedMany, readings)
}

// bringing is the reason for a move to a depth.
func bringing(r *RowState, depthMm, chance float64) reason {
	return func(w words) string {
		return fmt.Sprintf(w.moveBrings, w.standing(r), w.Length(depthMm), w.Percent(chance))
	}
}

// puttingIt is the reason to read a row again that one reading puts far from the datum.
func puttingIt(readMm float64) reason {
	return func(w words) string { return fmt.Sprintf(w.farOnOne, w.Length(readMm), w.fromDatum(readMm)) }
}

// apart is a reason of two lengths that do not agree.
func apart(phrase reason, aMm, bMm float64) reason {
	return func(w words) string { return fmt.Sprintf(phrase(w), w.Length(aMm), w.Length(bMm)) }
}

func surprising(r *RowState, s *stay) reason {
	if s.mean.Readings == 0 {
		return apart(func(w words) string { return w.farFromForetold }, s.last.depthMm, r.Estimate.DepthMm)
	}
	return apart(func(w words) string { return w.farFromOwn }, s.last.depthMm, s.mean.MeanMm)
}

// aboutRows is a sentence about some rows after those that there are.
func (w words) aboutRows(said []string, rows []int, what string) []string {
	if len(rows) == 0 {
		return said
	}
	return append(said, fmt.Sprintf(w.about, w.RowList(rows), what))
}

// inchesBelowMm is the depth below which all rows look as if inches had been typed as mm.
const inchesBelowMm = 6

// warnings says what to mind.
func (w words) warnings() []string {
	var out []string
	var surprise, blind, unknown, lopsided, strange, worn []int
	small, read := true, false
	for i := range w.s.Rows {
		r, l := &w.s.Rows[i], w.s.rows[i]
		now := &l.stays[len(l.stays)-1]
		if r.Surprising {
			surprise = append(surprise, r.Row)
		}
		if r.AsFound == nil && r.Known {
			blind = append(blind, r.Row)
		}
		if r.Setting == "" {
			unknown = append(unknown, r.Row)
		}
		if now.sides != nil && math.Abs(*now.sides) > w.s.Aim.ToleranceMm {
			lopsided = append(lopsided, r.Row)
		}
		if r.Moved && !(r.Estimate.Scale >= 0.5 && r.Estimate.Scale <= 1.5) {
			strange = append(strange, r.Row)
		}
		if r.Known {
			read, small = true, small && r.Estimate.DepthMm < inchesBelowMm
		}
	}
	for _, in := range w.s.Inspections {
		if in.Worn && (len(worn) == 0 || worn[len(worn)-1] != in.Row) {
			worn = append(worn, in.Row)
		}
	}
	out = w.aboutRows(out, surprise, w.surprises)
	out = w.aboutRows(out, blind, w.foundUnknown)
	out = w.aboutRows(out, unknown, w.placeUnknown)
	out = w.aboutRows(out, lopsided, w.lopsided)
	out = w.aboutRows(out, strange, w.strange)
	out = w.aboutRows(out, worn, w.worn)
	switch {
	case w.s.Alike == nil:
	case w.s.Stage == StageOpen:
		out = append(out, w.s.Alike.Say(w.Voice))
	default:
		out = append(out, w.s.Alike.Fact(w.Voice))
	}
	if read && small {
		out = append(out, fmt.Sprintf(w.inchesTyped, w.Length(inchesBelowMm)))
	}
	if d := w.s.Doubt; d != nil {
		stated := w.s.Opened.Fixture.Figures.RepeatabilityMm
		out = append(out, fmt.Sprintf(w.scatters, w.Fine(d.ScatterMm), d.Repeats, w.Fine(stated), w.Fine(w.s.RepeatabilityMm)))
	}
	if other := w.s.Opened.AlsoOpen; other != "" && w.s.Stage == StageOpen {
		out = append(out, fmt.Sprintf(w.alsoOpen, other))
	}
	if w.s.nearlyFull() && w.s.Stage == StageOpen {
		out = append(out, fmt.Sprintf(w.nearlyFull, MostEvents, MostBytes>>20))
	}
	return out
}

// signingNeeds says what stands in the way of signing.
func (w words) signingNeeds() []string {
	var out []string
	for _, c := range w.s.Cautions {
		if c.Person == "" {
			out = append(out, fmt.Sprintf(w.notTicked, c.Text))
		}
	}
	var lacking [needPart + 1][]int
	for i := range w.s.Rows {
		n := w.s.need(i)
		lacking[n] = append(lacking[n], w.s.Rows[i].Row)
	}
	for n, what := range [...]string{
		needReading:          w.lackReading,
		needReadingAfterMove: w.lackAfterMove,
		needReadingAgain:     w.surprises,
		needPlan:             w.lackPlan,
		needPart:             w.lackEven,
	} {
		if what != "" {
			out = w.aboutRows(out, lacking[n], what)
		}
	}
	return out
}
