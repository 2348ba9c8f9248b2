package study

import (
	"fmt"
	"strings"

	"rowdatum/server/leveling"
)

// phrases are this package's sentences in one language; what a phrase takes is said behind it.
type phrases struct {
	crossed   string
	onePerson string
	pooled    string
	kept      string

	good     string // tolerance
	goodWith string // tolerance, readings
	poor     string // tolerance, readings, provable

	negative   string // which
	noScatter  string
	people     string // provable by several, by one
	fewDegrees string // degrees
	finer      string // ruling
	byRows     string
	persons    string
	rows       string

	tooMany     string // readings, most
	wrongRows   string // rows, most
	wrongPeople string // people, most
	unequal     string // readings, row, person, wanted
}

var english = phrases{
	crossed:   "two-way crossed random-effects analysis of variance, rows by people",
	onePerson: "one-way random-effects analysis of variance of one person's readings by rows; what people differ by was not studied",
	pooled:    "; people by rows pooled into the repeatability, because its p is above 0.25",
	kept:      "; people by rows kept as a component of its own, because its p is not above 0.25",

	good:     "Good enough: one reading of each row can prove %s.",
	goodWith: "Good enough for %s with %d readings of each row.",
	poor:     "Not good enough for %s: even %d readings of each row prove only %s. Take a finer fixture or a wider tolerance.",

	negative:   "The component of %s came out negative and counts as 0.",
	noScatter:  "No reading differed from its repeats: the ruling hides the scatter, and the fixture may be poorer than this shows where rows lie between two lines.",
	people:     "People differ. Let one person read all rows of a planter: where several do, one reading each proves %s in place of %s.",
	fewDegrees: "The scatter rests on few repeats only, %.0f; more of them make what can be proven smaller.",
	finer:      "Nearly all of the scatter is the ruling's, %s: a finer scale would help more than more readings.",
	byRows:     "people by rows", persons: "people", rows: "rows",

	tooMany: "has %d readings, at most %d are taken", wrongRows: "has %d rows, must have 2 to %d", wrongPeople: "has %d people, must have 1 to %d",
	unequal: "has %d readings of row %d by %q, must have %d: every person reads every row equally often, at least twice",
}

var spanish = phrases{
	crossed:   "análisis de varianza cruzado de dos factores con efectos aleatorios, surcos por personas",
	onePerson: "análisis de varianza de un factor con efectos aleatorios de las lecturas de una persona por surcos; no se estudió cuánto difieren las personas",
	pooled:    "; personas por surcos sumado a la repetibilidad, porque su p pasa de 0.25",
	kept:      "; personas por surcos como componente propia, porque su p no pasa de 0.25",

	good:     "Sirve: una lectura de cada surco puede probar %s.",
	goodWith: "Sirve para %s con %d lecturas de cada surco.",
	poor:     "No sirve para %s: ni %d lecturas de cada surco prueban más que %s. Use un calibre más fino o una tolerancia más amplia.",

	negative:   "La componente de %s salió negativa y cuenta como 0.",
	noScatter:  "Ninguna lectura difirió de sus repeticiones: la graduación oculta la dispersión, y el calibre puede ser peor de lo que se ve donde los surcos caen entre dos líneas.",
	people:     "Las personas difieren. Que una sola lea todos los surcos de una sembradora: si leen varias, una lectura de cada surco prueba %s en vez de %s.",
	fewDegrees: "La dispersión se apoya en pocas repeticiones, %.0f; con más se prueba una tolerancia menor.",
	finer:      "Casi toda la dispersión es de la graduación, %s: una escala más fina ayudaría más que más lecturas.",
	byRows:     "personas por surcos", persons: "personas", rows: "surcos",

	tooMany: "tiene %d lecturas, se toman %d como máximo", wrongRows: "tiene %d surcos, debe tener de 2 a %d", wrongPeople: "tiene %d personas, debe tener de 1 a %d",
	unequal: "tiene %d lecturas del surco %d por %q, debe tener %d: cada persona lee cada surco las mismas veces, al menos dos",
}

// From where on things are said; our choices, no source.
const (
	fewDegrees = 10
	muchPeople = 1.1 // what several people prove over what one proves
)

type words struct {
	p   Problem
	out *Study
	leveling.Voice
	*phrases
}

func newWords(p Problem, out *Study) words {
	return words{p, out, p.Voice, leveling.In(p.Voice.Language, &english, &spanish)}
}

func (w words) say() {
	s := w.out
	s.Method = w.onePerson
	if s.People > 1 {
		s.Method = w.crossed + w.kept
		if s.Pooled {
			s.Method = w.crossed + w.pooled
		}
	}
	s.Verdict = w.verdict()
	caution := func(what string) { s.Cautions = append(s.Cautions, what) }
	for _, name := range s.Components.Negative {
		caution(fmt.Sprintf(w.negative, w.name(name)))
	}
	if one := s.Provable[0]; one.SeveralMm > muchPeople*one.ToleranceMm {
		caution(fmt.Sprintf(w.people, w.Fine(one.SeveralMm), w.Fine(one.ToleranceMm)))
	}
	switch q := w.p.Fixture.ResolutionMm; {
	case s.RepeatabilityMm == 0:
		caution(w.noScatter)
	case s.ScatterMm < q/4: // below that, more readings hardly help: see the lasting part of a ruling
		caution(fmt.Sprintf(w.finer, w.Nominal(q)))
	}
	if s.Degrees < fewDegrees {
		caution(fmt.Sprintf(w.fewDegrees, s.Degrees))
	}
}

func (w words) name(component string) string {
	switch component {
	case "people":
		return w.persons
	case "rows":
		return w.rows
	}
	return w.byRows
}

func (w words) verdict() string {
	tolerance := w.Nominal(w.p.ToleranceMm)
	switch k := w.out.ReadingsNeeded; k {
	case 0:
		return fmt.Sprintf(w.poor, tolerance, MostReadings, w.Fine(w.out.provable(w.p, MostReadings).ToleranceMm))
	case 1:
		return fmt.Sprintf(w.good, tolerance)
	default:
		return fmt.Sprintf(w.goodWith, tolerance, k)
	}
}

// Describe draws the study as text.
func (s Study) Describe() string {
	var b strings.Builder
	line := func(format string, args ...any) { fmt.Fprintf(&b, format+"\n", args...) }
	line("%s", s.Method)
	line("%d rows, %d people, %d trials", s.Rows, s.People, s.Trials)
	source := func(name string, x Source) {
		line("%-12s squares %.6f df %d mean %.6f", name, x.Squares, x.Degrees, x.Mean())
	}
	source("rows", s.Anova.Rows)
	source("people", s.Anova.People)
	source("interaction", s.Anova.Interaction)
	source("error", s.Anova.Error)
	line("interaction F %.4f p %.4f pooled %v", s.Anova.InteractionF, s.Anova.InteractionP, s.Pooled)
	line("repeatability %.4f mm (%g degrees), reproducibility %.4f mm, row to row %.4f mm, scatter before the ruling %.4f mm",
		s.RepeatabilityMm, s.Degrees, s.ReproducibilityMm, s.RowToRowMm, s.ScatterMm)
	for _, p := range s.Provable {
		line("%d readings prove %.4f mm, by several people %.4f mm", p.Readings, p.ToleranceMm, p.SeveralMm)
	}
	line("readings needed %d: %s", s.ReadingsNeeded, s.Verdict)
	for _, c := range s.Cautions {
		line("! %s", c)
	}
	return b.String()
}
