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
	noScatter  string // what is kept
	people     string // provable by several, by one
	fewPeople  string // fewest people, people
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

var catalogue = leveling.Catalogue[phrases]{leveling.English: &english, leveling.Spanish: &spanish}

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
	return words{p, out, p.Voice, catalogue.In(p.Voice.Language)}
}

// say says all of it; mostMm is what MostReadings prove.
func (w words) say(mostMm float64) {
	s := w.out
	s.Method = w.onePerson
	if s.People > 1 {
		s.Method = w.crossed + w.kept
		if s.Pooled {
			s.Method = w.crossed + w.pooled
		}
	}
	s.Verdict = w.verdict(mostMm)
	caution := func(what string) { s.Cautions = append(s.Cautions, what) }
	for _, name := range s.Components.Negative {
		caution(fmt.Sprintf(w.negative, w.name(name)))
	}
	switch one := s.Provable[0]; {
	case one.SeveralMm == nil:
		caution(fmt.Sprintf(w.fewPeople, FewestPeople, s.People))
	case *one.SeveralMm > muchPeople*one.ToleranceMm:
		caution(fmt.Sprintf(w.people, w.Fine(*one.SeveralMm), w.Fine(one.ToleranceMm)))
	}
	switch q := w.p.Fixture.ResolutionMm; {
	case s.RepeatabilityMm == 0:
		caution(fmt.Sprintf(w.noScatter, w.Fine(s.KeptMm)))
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

func (w words) verdict(mostMm float64) string {
	tolerance := w.Nominal(w.p.ToleranceMm)
	switch k := w.out.ReadingsNeeded; k {
	case 0:
		return fmt.Sprintf(w.poor, tolerance, MostReadings, w.Fine(mostMm))
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
	line("repeatability %.4f mm (%g degrees), reproducibility %.4f mm, row to row %.4f mm, scatter before the ruling %.4f mm, kept %.4f mm",
		s.RepeatabilityMm, s.Degrees, s.ReproducibilityMm, s.RowToRowMm, s.ScatterMm, s.KeptMm)
	for _, p := range s.Provable {
		several := "not told"
		if p.SeveralMm != nil {
			several = fmt.Sprintf("%.4f mm", *p.SeveralMm)
		}
		line("%d readings prove %.4f mm, by several people %s", p.Readings, p.ToleranceMm, several)
	}
	line("readings needed %d: %s", s.ReadingsNeeded, s.Verdict)
	for _, c := range s.Cautions {
		line("! %s", c)
	}
	return b.String()
}
