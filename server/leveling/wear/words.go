package wear

import (
	"fmt"
	"math"
	"strconv"
	"strings"

	"rowdatum/server/leveling"
)

// phrases are this package's sentences in one language; what a phrase takes is said behind it.
type phrases struct {
	method string

	notEnough string // visits
	asOthers  string
	deeper    string // rate, unit of area, from, to
	shallower string // rate, unit of area, from, to
	unlike    string
	usedUp    string
	between   string // areas, their unit
	atLeast   string // area, its unit
	noEnd     string

	about        string // rows, what
	wornUnlike   string
	fewRows      string
	fewVisits    string // visits
	edge         string // rows, what
	edgeAlike    string
	edgeDeeper   string // rate, unit of area, chance
	edgeShallow  string // rate, unit of area, chance
	common       string // rate, unit of area, from, to
	commonUp     string // rate, unit of area, from, to
	commonNone   string // rate at most, unit of area
	noCommon     string
	foundDeeper  string // length, from, to
	foundShallow string // length, from, to
	foundAlike   string
	scatter      string // how many times
}

var catalogue = leveling.Catalogue[phrases]{leveling.English: &english, leveling.Spanish: &spanish}

// muchScatter is how much more than foretold readings must scatter to be spoken of; our choice, no source.
const muchScatter = 1.5

type words struct {
	p   Problem
	out *Analysis
	leveling.Voice
	*phrases
}

func newWords(p Problem, out *Analysis) words {
	return words{p, out, p.Voice, catalogue.In(p.Voice.Language)}
}

func (w words) say() {
	w.out.Method = w.method
	caution := func(what string) { w.out.Cautions = append(w.out.Cautions, what) }
	var unlike []int
	known := false
	for i := range w.out.Rows {
		r := &w.out.Rows[i]
		r.Why = w.why(r)
		known = known || r.Enough
		if r.Unlike {
			unlike = append(unlike, r.Row)
		}
	}
	switch {
	case w.out.Visits < FewestVisits:
		caution(fmt.Sprintf(w.fewVisits, w.out.Visits))
		return
	case !known:
		caution(w.fewRows)
		return
	}
	if len(unlike) > 0 {
		caution(fmt.Sprintf(w.about, w.RowList(unlike), w.wornUnlike))
	}
	if e := w.out.Edge; e != nil {
		caution(fmt.Sprintf(w.edge, w.RowList(e.Rows), w.edgeSays(e)))
	}
	if w.out.ScatterSd > muchScatter {
		caution(fmt.Sprintf(w.scatter, strconv.FormatFloat(w.out.ScatterSd, 'f', 1, 64)))
	}
	caution(w.commonSays(w.out.Common))
}

// commonSays tells what all rows lose alike, or what would tell it.
func (w words) commonSays(c *Common) string {
	switch {
	case c == nil:
		return w.noCommon
	case c.Drift.holdsZero() || w.nothing(c.Drift.At):
		return fmt.Sprintf(w.commonNone, w.rate(max(-c.Drift.From, c.Drift.To)), w.AreaUnit.Symbol())
	case c.Drift.At < 0:
		return fmt.Sprintf(w.commonUp, w.rate(-c.Drift.At), w.AreaUnit.Symbol(), w.rate(-c.Drift.To), w.rate(-c.Drift.From))
	}
	return fmt.Sprintf(w.common, w.rate(c.Drift.At), w.AreaUnit.Symbol(), w.rate(c.Drift.From), w.rate(c.Drift.To))
}

func (w words) edgeSays(e *Edge) string {
	switch d := e.Difference; {
	case d.holdsZero() || w.nothing(d.At):
		return w.edgeAlike
	case d.At < 0:
		return fmt.Sprintf(w.edgeShallow, w.rate(-d.At), w.AreaUnit.Symbol(), w.Percent(e.P))
	default:
		return fmt.Sprintf(w.edgeDeeper, w.rate(d.At), w.AreaUnit.Symbol(), w.Percent(e.P))
	}
}

// sinceSays tells a row as found against as last left.
func (w words) sinceSays(s *Since) string {
	switch c := s.ChangeMm; {
	case c.holdsZero():
		return w.foundAlike
	case c.At < 0:
		return fmt.Sprintf(w.foundShallow, w.Fine(-c.At), w.Fine(-c.To), w.Fine(-c.From))
	default:
		return fmt.Sprintf(w.foundDeeper, w.Fine(c.At), w.Fine(c.From), w.Fine(c.To))
	}
}

// nothing says that a slope is told as 0.
func (w words) nothing(mmPerHectare float64) bool {
	least := 0.005
	if w.PerInch > 0 {
		least = 0.0005 * 25.4
	}
	return w.AreaUnit.Hectares(100)*math.Abs(mmPerHectare) < least
}

// rate says a slope for a hundred hectares or acres: days of work.
func (w words) rate(mmPerHectare float64) string {
	return w.Fine(w.AreaUnit.Hectares(100) * mmPerHectare)
}

func (w words) why(r *Row) string {
	said := fmt.Sprintf(w.notEnough, r.Visits)
	switch {
	case !r.Enough:
	case r.Drift.holdsZero() || w.nothing(r.Drift.At):
		said = w.asOthers
	case r.Drift.At > 0:
		said = fmt.Sprintf(w.deeper, w.rate(r.Drift.At), w.AreaUnit.Symbol(), w.rate(r.Drift.From), w.rate(r.Drift.To))
	default:
		said = fmt.Sprintf(w.shallower, w.rate(-r.Drift.At), w.AreaUnit.Symbol(), w.rate(-r.Drift.To), w.rate(-r.Drift.From))
	}
	if r.Unlike {
		said += w.unlike
	}
	if r.HectaresLeft != nil {
		said += w.lasts(*r.HectaresLeft)
	}
	if r.Since != nil {
		said = fmt.Sprintf("%s; %s", w.sinceSays(r.Since), said)
	}
	return said
}

func (w words) lasts(l Left) string {
	switch {
	case l.From == nil || *l.From > manyHectares:
		return w.noEnd
	case l.To == nil || *l.To > manyHectares:
		return fmt.Sprintf(w.atLeast, w.whole(*l.From), w.AreaUnit.Symbol())
	case *l.To < 1:
		return w.usedUp
	}
	return fmt.Sprintf(w.between, w.whole(*l.From), w.whole(*l.To), w.AreaUnit.Symbol())
}

// manyHectares is beyond any planter's life; our choice, no source.
const manyHectares = 100_000

// whole is an area in hectares as whole hectares or acres, never more than it is.
func (w words) whole(hectares float64) string {
	return strconv.FormatFloat(math.Floor(w.AreaUnit.Area(hectares)), 'f', 0, 64)
}

// Describe draws the analysis as text: each row's interval of the drift as dashes, x the drift, | the middle
// of the rows.
func (a Analysis) Describe() string {
	var b strings.Builder
	line := func(format string, args ...any) { fmt.Fprintf(&b, format+"\n", args...) }
	line("%d visits, intervals at %s, scatter %.3f, row by visit %.3f mm, degrees %.2f", a.Visits, leveling.Figure(a.Confidence), a.ScatterSd, a.ReseatsSd, a.Degrees)
	if a.Common != nil {
		line("common %+.6f (%+.6f to %+.6f) by %d visits of %s", a.Common.Drift.At, a.Common.Drift.From, a.Common.Drift.To, a.Common.Visits, a.Common.Fixture)
	}
	most := 0.0
	for _, r := range a.Rows {
		most = max(most, math.Abs(r.Drift.From), math.Abs(r.Drift.To))
	}
	for _, r := range a.Rows {
		if !r.Enough {
			line("row %3d %s", r.Row, r.Why)
			continue
		}
		line("row %3d %s %+.6f (%+.6f to %+.6f) p %.3g %d visits: %s", r.Row, r.Drift.picture(most), r.Drift.At, r.Drift.From, r.Drift.To, r.P, r.Visits, r.Why)
	}
	if a.Edge != nil {
		d := a.Edge.Difference
		line("edge %v minus others %+.6f (%+.6f to %+.6f) p %.3g", a.Edge.Rows, d.At, d.From, d.To, a.Edge.P)
	}
	for _, c := range a.Cautions {
		line("! %s", c)
	}
	return b.String()
}

func (i Interval) picture(most float64) string {
	const side = 16
	strip := []byte(strings.Repeat(".", 2*side+1))
	at := func(x float64) int { return side + int(math.Round(x/max(most, math.SmallestNonzeroFloat64)*side)) }
	for j := at(i.From); j <= at(i.To); j++ {
		strip[j] = '-'
	}
	strip[side] = '|'
	strip[at(i.At)] = 'x'
	return string(strip)
}
