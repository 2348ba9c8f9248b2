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
	deeper    string // rate, from, to
	shallower string // rate, from, to
	unlike    string
	usedUp    string
	between   string // hectares, hectares
	atLeast   string // hectares
	noEnd     string

	about      string // rows, what
	wornUnlike string
	fewRows    string
	fewVisits  string // visits
	edge       string // rows, rate, chance
	scatter    string // how many times
	relative   string
}

var english = phrases{
	method: "generalised least squares on each row's chain of depths, what a visit's readings have in common removed; relative to the mean of the middle third of the rows",

	notEnough: "not enough history: %d of at least 3 visits that can be compared since its last changed part",
	deeper:    "drifts deeper than the other rows by %s a hundred hectares (%s to %s)",
	shallower: "drifts shallower than the other rows by %s a hundred hectares (%s to %s)",
	unlike:    "; that is unlike the rest: inspect it for worn or wrong parts",
	usedUp:    "; its travel is used up",
	between:   "; its travel lasts %s to %s hectares more",
	atLeast:   "; its travel lasts %s hectares more at least",
	noEnd:     "; no end of its travel is in sight",

	about:      "%s: %s",
	wornUnlike: "unlike the rest in wear; inspect before the season, and order parts in time.",
	fewRows:    "Too few rows have a history, or they share too few visits, to tell one row's wear from what all have in common.",
	fewVisits:  "Signed visits that know their hectares: %d. Wear is told from 3 on.",
	edge:       "%s, the edge rows: they drift against the others by %s a hundred hectares (%s by chance if they were alike).",
	scatter:    "The readings scatter %s times as much about their lines as their uncertainty says: parts that were changed unrecorded, or wear that comes in jumps.",
	relative:   "What all rows wear alike cannot be seen in readings relative to each other.",
}

var spanish = phrases{
	method: "mínimos cuadrados generalizados sobre la cadena de profundidades de cada surco, quitado lo que las lecturas de una visita tienen en común; respecto del promedio del tercio central de los surcos",

	notEnough: "historia insuficiente: %d de al menos 3 visitas comparables desde la última pieza cambiada",
	deeper:    "se va más hondo que los demás surcos %s cada cien hectáreas (%s a %s)",
	shallower: "se va menos hondo que los demás surcos %s cada cien hectáreas (%s a %s)",
	unlike:    "; eso difiere del resto: revise si hay piezas gastadas o equivocadas",
	usedUp:    "; su recorrido está agotado",
	between:   "; su recorrido alcanza para %s a %s hectáreas más",
	atLeast:   "; su recorrido alcanza para %s hectáreas más por lo menos",
	noEnd:     "; no se ve fin de su recorrido",

	about:      "%s: %s.",
	wornUnlike: "desgaste distinto del resto; revise antes de la temporada y pida piezas a tiempo",
	fewRows:    "Muy pocos surcos tienen historia, o comparten muy pocas visitas, para distinguir el desgaste de un surco de lo que todos tienen en común.",
	fewVisits:  "Visitas firmadas con hectáreas conocidas: %d. El desgaste se dice desde 3.",
	edge:       "%s, los de borde: se van respecto de los demás %s cada cien hectáreas (%s por casualidad si fueran iguales).",
	scatter:    "Las lecturas se apartan de sus rectas %s veces lo que su incertidumbre dice: piezas cambiadas sin anotar, o desgaste a saltos.",
	relative:   "Lo que todos los surcos se gastan por igual no se ve en lecturas relativas entre sí.",
}

// muchScatter is how much more than foretold readings must scatter to be spoken of; our choice, no source.
const muchScatter = 1.5

type words struct {
	p   Problem
	out *Analysis
	leveling.Voice
	*phrases
}

func newWords(p Problem, out *Analysis) words {
	return words{p, out, p.Voice, leveling.In(p.Voice.Language, &english, &spanish)}
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
		caution(fmt.Sprintf(w.edge, w.RowList(e.Rows), w.rate(e.Difference.At), w.Percent(e.P)))
	}
	if w.out.ScatterSd > muchScatter {
		caution(fmt.Sprintf(w.scatter, strconv.FormatFloat(w.out.ScatterSd, 'f', 1, 64)))
	}
	caution(w.relative)
}

// rate says a slope for a hundred hectares: a season's work.
func (w words) rate(mmPerHectare float64) string { return w.Fine(100 * mmPerHectare) }

func (w words) why(r *Row) string {
	if !r.Enough {
		return fmt.Sprintf(w.notEnough, r.Visits)
	}
	said := fmt.Sprintf(w.deeper, w.rate(r.Drift.At), w.rate(r.Drift.From), w.rate(r.Drift.To))
	if r.Drift.At < 0 {
		said = fmt.Sprintf(w.shallower, w.rate(-r.Drift.At), w.rate(-r.Drift.To), w.rate(-r.Drift.From))
	}
	if r.Unlike {
		said += w.unlike
	}
	if r.HectaresLeft != nil {
		said += w.lasts(*r.HectaresLeft)
	}
	return said
}

func (w words) lasts(l Left) string {
	switch {
	case l.From == nil || *l.From > manyHectares:
		return w.noEnd
	case l.To == nil || *l.To > manyHectares:
		return fmt.Sprintf(w.atLeast, hectares(*l.From))
	case *l.To < 1:
		return w.usedUp
	}
	return fmt.Sprintf(w.between, hectares(*l.From), hectares(*l.To))
}

// manyHectares is beyond any planter's life; our choice, no source.
const manyHectares = 100_000

func hectares(x float64) string { return strconv.FormatFloat(math.Floor(x), 'f', 0, 64) }

// Describe draws the analysis as text: each row's interval of the drift as dashes, x the drift, | the middle
// of the rows.
func (a Analysis) Describe() string {
	var b strings.Builder
	line := func(format string, args ...any) { fmt.Fprintf(&b, format+"\n", args...) }
	line("%d visits, intervals at %s, scatter %.3f, degrees %g", a.Visits, leveling.Figure(a.Confidence), a.ScatterSd, a.Degrees)
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
