package dig

import (
	"fmt"
	"math"
	"strconv"
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
	bounces   string // scatter, times
	bounceOff string // scatter, times
	bounceOdd string // scatter, times

	noDifference string // chance
	negative     string
	oneSeed      string // rows
	fewRows      string // rows
	place        string

	tooLong         string // bytes, most bytes
	onLine          string // line, what
	onlySeparators  string
	notRow          string // text
	notDepth        string // text
	unclearComma    string // text
	unclearFraction string // text
	noDepth         string
	noSeeds         string
}

var catalogue = leveling.Catalogue[phrases]{leveling.English: &english, leveling.Spanish: &spanish}

// fewRows is below how many rows the spread between them is little known; our choice, no source.
const fewRows = 6

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
	var said string
	switch {
	case r.Verdict == leveling.Even:
		said = fmt.Sprintf(w.even, how)
	case r.Verdict == leveling.Off:
		said = fmt.Sprintf(w.off, how)
	case r.Bounces: // more seeds are not what it needs
		return fmt.Sprintf(w.unsure, how, w.bouncing(r))
	default:
		said = fmt.Sprintf(w.unsure, how, w.settling(r.SeedsToSettle))
	}
	if r.SetApart {
		said += "; " + w.bouncing(r)
	}
	return said
}

// bouncing says where to look for what scatters the seeds of a row that is set apart, or that it may be chance.
func (w words) bouncing(r *Row) string {
	phrase := w.bounces
	switch {
	case !r.Bounces:
		phrase = w.bounceOdd
	case r.Verdict == leveling.Off:
		phrase = w.bounceOff
	}
	return fmt.Sprintf(phrase, w.estimated(r.Scatter.Mm), strconv.FormatFloat(r.Scatter.Times(), 'f', 1, 64))
}

// estimated says what no ruling was read for: in inches to a thousandth.
func (w words) estimated(mm float64) string {
	if w.PerInch > 0 {
		return w.Fine(mm)
	}
	return w.Length(mm)
}

func (w words) lies(r *Row) string {
	length, margin := w.estimated(math.Abs(r.EffectMm)), w.estimated(estimate.ProvableTolerance(r.UncertaintyMm, w.p.Aim.Confidence))
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
	if e := a.EqualScatter; e != nil {
		line("scatter alike F(%d, %d) %.4f, p %.3g", e.BetweenDegrees, e.WithinDegrees, e.F, e.P)
	}
	line("rows' mean %.4f u %.4f mm, spread of shrunk depths %.4f mm, to correct %v", a.RowsMeanMm, a.RowsMeanSdMm, a.EstimateSpreadMm, a.ToCorrect)
	half := 1e-9
	for _, r := range a.Rows {
		half = max(half, math.Abs(r.MeanFromMm-a.RowsMeanMm), math.Abs(r.MeanToMm-a.RowsMeanMm))
	}
	for _, r := range a.Rows {
		line("row %3d %s %8.4f (%d) effect %+.4f u %.4f %v settle %d%s", r.Row, a.picture(r, half), r.MeanMm, r.Seeds, r.EffectMm, r.UncertaintyMm, r.Verdict, r.SeedsToSettle, r.scattered())
	}
	for _, r := range a.Rows {
		line("row %d %s", r.Row, r.Why)
	}
	for _, c := range a.Cautions {
		line("! %s", c)
	}
	return b.String()
}

func (r *Row) scattered() string {
	if r.Scatter == nil {
		return ""
	}
	s := fmt.Sprintf(", scatter %.4f (%.4f to %.4f) F %.4f p %.3g", r.Scatter.Mm, r.Scatter.FromMm, r.Scatter.ToMm, r.Scatter.F, r.Scatter.P)
	if r.SetApart {
		s += fmt.Sprintf(" apart, bounces %v", r.Bounces)
	}
	return s
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
