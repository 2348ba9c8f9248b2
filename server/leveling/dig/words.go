package dig

import (
	"fmt"
	"math"
	"strings"

	"rowdatum/server/leveling"
	"rowdatum/server/leveling/estimate"
)

// phrases are this package's sentences in one language; what a phrase takes is said behind it.
type phrases struct {
	method string

	even      string // how it lies
	off       string // how it lies
	unsure    string // how it lies, settling
	deeper    string // length, margin
	shallower string // length, margin
	alike     string // margin
	noise     string
	settles   string // seeds
	settleOne string
	never     string // seeds

	noDifference string // chance
	negative     string
	oneSeed      string // rows
	fewRows      string // rows
	place        string

	tooLong        string // bytes, most bytes
	onLine         string // line, what
	onlySeparators string
	notRow         string // text
	notDepth       string // text
	noDepth        string
	noSeeds        string
}

var english = phrases{
	method: "one-way random-effects analysis of variance: components from mean squares, rows' depths shrunk towards their mean (best linear unbiased prediction), uncertainty with the Prasad-Rao term for the components being estimated",

	even: "even: %s", off: "to be corrected: %s", unsure: "unsure: %s; %s",
	deeper:    "plants %s deeper than the rows' mean, give or take %s",
	shallower: "plants %s shallower than the rows' mean, give or take %s",
	alike:     "plants at the rows' mean, give or take %s",
	noise:     ", which may be chance",
	settles:   "%d more seeds settle it, if it stays so", settleOne: "1 more seed settles it, if it stays so",
	never: "not even %d more seeds would settle it, if it stays so",

	noDifference: "These seeds do not show that the rows differ: rows that were all alike would differ as much with a chance of %s.",
	negative:     "The rows differ less than seeds of one row do; the variance between rows came out negative and counts as 0.",
	oneSeed:      "%s: one seed only, so its own scatter is taken from the other rows.",
	fewRows:      "With %d rows, how much rows differ is itself little known: dig more rows before many are moved.",
	place:        "How well a row is level shows only where speed, soil and down force were alike: dig all rows at one place.",

	tooLong: "is %d bytes long, must be at most %d", onLine: "line %d: %s", onlySeparators: "has separators only",
	notRow: "%q is not a row number", notDepth: "%q is not a depth", noDepth: "has a row and no depth",
	noSeeds: "has no seeds; each line is a row number, then depths",
}

var spanish = phrases{
	method: "análisis de varianza de un factor con efectos aleatorios: componentes por cuadrados medios, profundidades de los surcos encogidas hacia su promedio (mejor predicción lineal insesgada), incertidumbre con el término de Prasad-Rao por estimarse las componentes",

	even: "parejo: %s", off: "por corregir: %s", unsure: "dudoso: %s; %s",
	deeper:    "siembra %s más hondo que el promedio de los surcos, con un margen de %s",
	shallower: "siembra %s menos hondo que el promedio de los surcos, con un margen de %s",
	alike:     "siembra al promedio de los surcos, con un margen de %s",
	noise:     ", lo que puede ser casualidad",
	settles:   "%d semillas más lo deciden, si sigue así", settleOne: "1 semilla más lo decide, si sigue así",
	never: "ni %d semillas más lo decidirían, si sigue así",

	noDifference: "Estas semillas no muestran que los surcos difieran: surcos del todo iguales diferirían tanto con una probabilidad de %s.",
	negative:     "Los surcos difieren menos que las semillas de un mismo surco; la varianza entre surcos salió negativa y cuenta como 0.",
	oneSeed:      "%s: una sola semilla, así que su dispersión se toma de los demás surcos.",
	fewRows:      "Con %d surcos se sabe poco de cuánto difieren los surcos: desentierre en más surcos antes de mover muchos.",
	place:        "El nivel de un surco solo se ve donde velocidad, suelo y carga fueron iguales: desentierre todos los surcos en un mismo lugar.",

	tooLong: "tiene %d bytes, debe tener %d como máximo", onLine: "línea %d: %s", onlySeparators: "tiene solo separadores",
	notRow: "%q no es un número de surco", notDepth: "%q no es una profundidad", noDepth: "tiene un surco y ninguna profundidad",
	noSeeds: "no tiene semillas; cada línea es un número de surco y luego profundidades",
}

// fewRows is below how many rows the spread between them is little known; our choice, no source.
const fewRows = 6

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
	var lonely []int
	for i := range w.out.Rows {
		r := &w.out.Rows[i]
		r.Why = w.why(r)
		if r.Seeds == 1 {
			lonely = append(lonely, r.Row)
		}
	}
	caution := func(what string) { w.out.Cautions = append(w.out.Cautions, what) }
	if !w.out.RowsDiffer {
		caution(fmt.Sprintf(w.noDifference, w.Percent(w.out.Anova.P)))
	}
	if w.out.BetweenMm2 < 0 {
		caution(w.negative)
	}
	if len(lonely) > 0 {
		caution(fmt.Sprintf(w.oneSeed, w.RowList(lonely)))
	}
	if n := len(w.out.Rows); n < fewRows {
		caution(fmt.Sprintf(w.fewRows, n))
	}
	caution(w.place)
}

func (w words) why(r *Row) string {
	how := w.lies(r)
	switch r.Verdict {
	case leveling.Even:
		return fmt.Sprintf(w.even, how)
	case leveling.Off:
		return fmt.Sprintf(w.off, how)
	}
	return fmt.Sprintf(w.unsure, how, w.settling(r.SeedsToSettle))
}

func (w words) lies(r *Row) string {
	length, margin := w.Length(math.Abs(r.EffectMm)), w.Length(estimate.ProvableTolerance(r.UncertaintyMm, w.p.Aim.Confidence))
	how := fmt.Sprintf(w.deeper, length, margin)
	switch {
	case r.EffectMm == 0:
		return fmt.Sprintf(w.alike, margin)
	case r.EffectMm < 0:
		how = fmt.Sprintf(w.shallower, length, margin)
	}
	if r.Noise {
		how += w.noise
	}
	return how
}

func (w words) settling(n int) string {
	switch n {
	case 0:
		return fmt.Sprintf(w.never, MostSeeds)
	case 1:
		return w.settleOne
	}
	return fmt.Sprintf(w.settles, n)
}

// Describe draws the analysis as text: each row's interval of the mean as dashes, o where its mean is, x
// where its shrunk depth is, | the rows' mean.
func (a Analysis) Describe() string {
	var b strings.Builder
	line := func(format string, args ...any) { fmt.Fprintf(&b, format+"\n", args...) }
	line("%d seeds, mean %.4f mm, sd %.4f mm%s%s", a.Seeds, a.MeanMm, a.SdMm, optional(", cv %.2f %%", a.CVPercent), optional(", within %.4f", a.WithinShare))
	line("between %.6f mm2, within %.6f mm2, F(%d, %d) %.4f, p %.3g, rows differ %v",
		a.BetweenMm2, a.WithinMm2, a.Anova.BetweenDegrees, a.Anova.WithinDegrees, a.Anova.F, a.Anova.P, a.RowsDiffer)
	line("rows' mean %.4f u %.4f mm, spread of shrunk depths %.4f mm, to correct %v", a.RowsMeanMm, a.RowsMeanSdMm, a.EstimateSpreadMm, a.ToCorrect)
	half := 1e-9
	for _, r := range a.Rows {
		half = max(half, math.Abs(r.MeanFromMm-a.RowsMeanMm), math.Abs(r.MeanToMm-a.RowsMeanMm))
	}
	for _, r := range a.Rows {
		line("row %3d %s %8.4f (%d) effect %+.4f u %.4f %v settle %d", r.Row, a.picture(r, half), r.MeanMm, r.Seeds, r.EffectMm, r.UncertaintyMm, r.Verdict, r.SeedsToSettle)
	}
	for _, r := range a.Rows {
		line("row %d %s", r.Row, r.Why)
	}
	for _, c := range a.Cautions {
		line("! %s", c)
	}
	return b.String()
}

func optional(format string, x *float64) string {
	if x == nil {
		return ""
	}
	return fmt.Sprintf(format, *x)
}

func (a Analysis) picture(r Row, half float64) string {
	const side = 16
	strip := []byte(strings.Repeat(".", 2*side+1))
	at := func(mm float64) int { return side + int(math.Round((mm-a.RowsMeanMm)/half*side)) }
	for i := at(r.MeanFromMm); i <= at(r.MeanToMm); i++ {
		strip[i] = '-'
	}
	strip[side] = '|'
	strip[at(r.MeanMm)] = 'o'
	strip[at(a.RowsMeanMm+r.EffectMm)] = 'x'
	return string(strip)
}
