package emergence

import (
	"fmt"
	"math"
	"strings"

	"rowdatum/server/leveling"
)

// Published figures for corn. Base 10 °C (50 °F), degree days in °C.
const (
	// FromMm is the depth from which on deeper seed takes more: 2 inches (Lauer 2003).
	FromMm = 2 * inchMm
	// PerMm is degree days for each mm below that: 15 degree days (°F) an inch (Lauer 2003).
	PerMm = 15.0 / inchMm * 5 / 9

	inchMm = 25.4
	// AtFromDegreeDays is to emergence from that depth: 125 degree days, °F (Lauer 2003).
	AtFromDegreeDays = 125.0 * 5 / 9

	MaxDailyDegreeDays = 40
)

// Problem is everything a guide follows from.
type Problem struct {
	ShallowestMm, DeepestMm float64  // of the rows
	DailyDegreeDays         *float64 // °C, that a day in this field and season brings, above 0; nil: not known
	Voice                   leveling.Voice
}

// Guide is what a spread may cost.
type Guide struct {
	SpreadMm        float64  `json:"spreadMm,omitzero"`
	CountedMm       float64  `json:"countedMm,omitzero"`  // the part of it that lies below FromMm
	DegreeDays      float64  `json:"degreeDays,omitzero"` // °C, for CountedMm
	Days            *float64 `json:"days,omitempty"`      // nil: daily degree days not known
	DegreeDaysPerMm float64  `json:"degreeDaysPerMm,omitzero"`
	Sources         []Source `json:"sources,omitzero"`
	Says            string   `json:"says,omitzero"`
	Cautions        []string `json:"cautions,omitzero"`
}

// Source is a published source.
type Source struct {
	Title  string `json:"title,omitzero"`
	Figure string `json:"figure,omitzero"` // what was taken from it, or what it warns of
}

// Of finds the guide.
func Of(p Problem) Guide {
	g := Guide{SpreadMm: p.DeepestMm - p.ShallowestMm, DegreeDaysPerMm: PerMm}
	g.CountedMm = max(0, p.DeepestMm-max(p.ShallowestMm, FromMm))
	g.DegreeDays = g.CountedMm * PerMm
	if p.DailyDegreeDays != nil && *p.DailyDegreeDays > 0 {
		days := g.DegreeDays / *p.DailyDegreeDays
		g.Days = &days
	}
	newWords(p, &g).say()
	return g
}

// ToEmergence is degree days (°C) from planting to emergence, and whether anything was published for such a
// depth.
func ToEmergence(depthMm float64) (degreeDays float64, published bool) {
	if !(depthMm >= FromMm) {
		return 0, false
	}
	return AtFromDegreeDays + (depthMm-FromMm)*PerMm, true
}

// DegreeDays is one day's, °C: the mean of the day's highest and lowest temperature, each held between 10 and
// 30 °C, less 10 (the modified method of Barger 1969 as Purdue University, R. L. Nielsen, Heat Unit Concepts
// Related to Corn Development, 2020, gives it for 50 and 86 °F).
func DegreeDays(highC, lowC float64) float64 {
	held := func(c float64) float64 { return min(30, max(10, c)) }
	return (held(highC)+held(lowC))/2 - 10
}

// CheckDaily notes degree days of a day that cannot be; nil is not known and allowed.
func CheckDaily(field string, daily *float64, v *leveling.Violations) {
	if daily != nil {
		v.AboveZero(field, *daily, MaxDailyDegreeDays, "")
	}
}

// phrases are this package's sentences in one language; what a phrase takes is said behind it.
type phrases struct {
	none    string // spread
	some    string // spread, degree days
	days    string // days
	guide   string
	shallow string // length, the depth from which there are figures

	// What was taken from the sources: lauer takes the step and the depth from which it counts, late a depth.
	lauer, range1, range2, formula, late string
}

var catalogue = leveling.Catalogue[phrases]{leveling.English: &english, leveling.Spanish: &spanish}

type words struct {
	p   Problem
	out *Guide
	leveling.Voice
	*phrases
}

func newWords(p Problem, out *Guide) words {
	return words{p, out, p.Voice, catalogue.In(p.Voice.Language)}
}

func (w words) say() {
	g := w.out
	g.Sources = w.sources()
	g.Says = fmt.Sprintf(w.none, w.Length(g.SpreadMm))
	if g.DegreeDays > 0 {
		g.Says = strings.TrimSuffix(fmt.Sprintf(w.some, w.Length(g.SpreadMm), tenth(g.DegreeDays)), ".")
		if g.Days != nil {
			g.Says += fmt.Sprintf(w.days, tenth(*g.Days))
		}
		g.Says += "."
	}
	g.Cautions = []string{w.guide}
	if above := g.SpreadMm - g.CountedMm; above > 1e-9 {
		g.Cautions = append(g.Cautions, fmt.Sprintf(w.shallow, w.Length(above), w.Length(FromMm)))
	}
}

func tenth(x float64) string { return leveling.Figure(math.Round(x*10) / 10) }

// sources: read in public pages, but for the journal of the last, which is from memory.
func (w words) sources() []Source {
	return []Source{
		{"J. Lauer, Time for Corn Emergence, Wisconsin Crop Manager 10(8):63-64, 2003", fmt.Sprintf(w.lauer, w.Length(inchMm), w.Length(FromMm))},
		{"Iowa State University Extension, 2021, quoting R. L. Nielsen, 2020", w.range1},
		{"University of Nebraska, CropWatch, 2015", w.range2},
		{"Purdue University, R. L. Nielsen, Heat Unit Concepts Related to Corn Development, 2020", w.formula},
		{"Nemergut, Thomison, Carter & Lindsey, Planting depth affects corn emergence, growth and development, and yield, 2021 (abstract)", fmt.Sprintf(w.late, w.Length(25))},
	}
}

// Describe draws the guide as text.
func (g Guide) Describe() string {
	var b strings.Builder
	line := func(format string, args ...any) { fmt.Fprintf(&b, format+"\n", args...) }
	line("spread %.4f mm, counted %.4f mm, %.4f degree days at %.6f a mm", g.SpreadMm, g.CountedMm, g.DegreeDays, g.DegreeDaysPerMm)
	if g.Days != nil {
		line("%.4f days", *g.Days)
	}
	line("%s", g.Says)
	for _, c := range g.Cautions {
		line("! %s", c)
	}
	for _, s := range g.Sources {
		line("- %s: %s", s.Title, s.Figure)
	}
	return b.String()
}
