package dig

import (
	"cmp"
	"math"
	"slices"

	"rowdatum/server/leveling"
	"rowdatum/server/leveling/estimate"
)

// Aim is what a dig is judged by.
type Aim struct {
	ToleranceMm float64 `json:"toleranceMm,omitzero"` // half of the allowed band around the rows' mean, above 0
	Confidence  float64 `json:"confidence,omitzero"`  // 0.5 or more and below 1
	WithinMm    float64 `json:"withinMm,omitzero"`    // half of the band around the target that counts as placed well, above 0
}

// DefaultAim is 1/8 inch at 0.9, and 1/4 inch around the target: common practice, no source.
func DefaultAim() Aim { return Aim{ToleranceMm: 25.4 / 8, Confidence: 0.9, WithinMm: 25.4 / 4} }

// Check notes what is wrong with a; path is where a stands in the request.
func (a Aim) Check(path string, v *leveling.Violations) {
	v.AboveZero(path+".toleranceMm", a.ToleranceMm, leveling.MaxSeedDepthMm, leveling.Millimeters)
	v.AboveZero(path+".withinMm", a.WithinMm, leveling.MaxSeedDepthMm, leveling.Millimeters)
	v.Confidence(path+".confidence", a.Confidence)
}

// Problem is everything an analysis follows from. The caller has checked it (leveling.CheckSeeds, Aim.Check).
type Problem struct {
	Rows     []leveling.RowSeeds // in any order
	TargetMm *float64            // wanted planting depth; nil: not known
	Aim      Aim
	Voice    leveling.Voice
}

// Analysis is what dug seeds say.
type Analysis struct {
	Method           string   `json:"method,omitzero"`
	Seeds            int      `json:"seeds,omitzero"`
	MeanMm           float64  `json:"meanMm,omitzero"`       // of all seeds
	SdMm             float64  `json:"sdMm,omitzero"`         // of all seeds
	CVPercent        *float64 `json:"cvPercent,omitempty"`   // nil where the mean is not above 0
	WithinShare      *float64 `json:"withinShare,omitempty"` // seeds within Aim.WithinMm of the target; nil without one
	Anova            Anova    `json:"anova,omitzero"`
	BetweenMm2       float64  `json:"betweenMm2,omitzero"`       // σ_b², may be negative and then counts as 0
	WithinMm2        float64  `json:"withinMm2,omitzero"`        // σ_w², without the rows that are set apart
	EqualScatter     *Anova   `json:"equalScatter,omitempty"`    // whether all rows scatter alike (Brown and Forsythe); nil where that cannot be tested
	RowsMeanMm       float64  `json:"rowsMeanMm,omitzero"`       // the rows' mean, weighted
	RowsMeanSdMm     float64  `json:"rowsMeanSdMm,omitzero"`     // its standard uncertainty
	RowsDiffer       bool     `json:"rowsDiffer,omitzero"`       // the rows differ at all, at the wanted confidence
	EstimateSpreadMm float64  `json:"estimateSpreadMm,omitzero"` // largest minus smallest depth of Rows
	ToCorrect        []int    `json:"toCorrect,omitempty"`       // rows that are proven to be off
	Rows             []Row    `json:"rows,omitzero"`             // by rising number
	Cautions         []string `json:"cautions,omitzero"`
}

// Row is what the seeds of one row say.
type Row struct {
	Row           int               `json:"row,omitzero"`
	Seeds         int               `json:"seeds,omitzero"`
	MeanMm        float64           `json:"meanMm,omitzero"`
	MeanFromMm    float64           `json:"meanFromMm,omitzero"` // interval of the mean, by the scatter that counts
	MeanToMm      float64           `json:"meanToMm,omitzero"`
	Scatter       *Scatter          `json:"scatter,omitempty"`      // nil where one seed was dug
	SetApart      bool              `json:"setApart,omitzero"`      // it stands on its own scatter, not on that of all rows
	Bounces       bool              `json:"bounces,omitzero"`       // and that is more than chance, all rows looked at together
	Shrink        float64           `json:"shrink,omitzero"`        // share of the row's own mean in EffectMm
	EffectMm      float64           `json:"effectMm,omitzero"`      // how much deeper than the rows' mean, shrunk
	UncertaintyMm float64           `json:"uncertaintyMm,omitzero"` // of the row's depth, RowsMeanMm + EffectMm
	Noise         bool              `json:"noise,omitzero"`         // its difference from the others may be chance
	Verdict       leveling.Verdict  `json:"verdict,omitzero"`       // against the rows' mean
	SeedsToSettle int               `json:"seedsToSettle,omitzero"` // 1 to MostSeeds; 0: settled, or not within them
	Why           string            `json:"why,omitzero"`
	Estimate      estimate.Estimate `json:"-"` // the row's depth, for a plan; its scale is left nominal
}

// MostSeeds is how many further seeds of a row are worth talking about.
const MostSeeds = 50

// Analyze finds all of it.
func Analyze(p Problem) Analysis {
	rows := slices.SortedFunc(slices.Values(p.Rows), func(a, b leveling.RowSeeds) int { return cmp.Compare(a.Row, b.Row) })
	var all []float64
	groups := make([][]float64, len(rows))
	for i, r := range rows {
		groups[i] = slices.Sorted(slices.Values(r.DepthsMm)) // so that the order of digging changes nothing
		all = append(all, groups[i]...)
	}
	out := Analysis{Seeds: len(all), MeanMm: estimate.Mean(all), SdMm: estimate.SD(all), Anova: OneWay(groups)}
	if out.MeanMm > 0 {
		cv := 100 * out.SdMm / out.MeanMm
		out.CVPercent = &cv
	}
	if p.TargetMm != nil {
		share := ShareWithin(all, *p.TargetMm, p.Aim.WithinMm)
		out.WithinShare = &share
	}
	out.RowsDiffer = out.Anova.P <= 1-p.Aim.Confidence
	if test, ok := BrownForsythe(groups); ok {
		out.EqualScatter = &test
	}
	out.rows(p, rows, groups)
	newWords(p, &out).say()
	return out
}

// ShareWithin is the share of depths no further than withinMm from targetMm, to the millionth of a mm.
func ShareWithin(depthsMm []float64, targetMm, withinMm float64) float64 {
	n := 0
	for _, mm := range depthsMm {
		if math.Abs(mm-targetMm) <= withinMm+1e-6 {
			n++
		}
	}
	return float64(n) / float64(len(depthsMm))
}

func (out *Analysis) rows(p Problem, rows []leveling.RowSeeds, groups [][]float64) {
	s := scattersOf(groups)
	means, sizes, plains, scatter := make([]float64, len(rows)), make([]float64, len(rows)), make([]float64, len(rows)), make([]float64, len(rows))
	for i, g := range groups {
		means[i], sizes[i], scatter[i] = estimate.Mean(g), float64(len(g)), s.pool.variance()
		if s.apart[i] {
			own := estimate.Inflated(math.Sqrt(s.variance(i)), s.degrees[i], p.Aim.Confidence)
			scatter[i] = own * own
			sizes[i] *= s.pool.variance() / scatter[i]
		}
		plains[i] = scatter[i] / float64(len(g))
	}
	c := componentsOf(means, sizes, s.pool.variance(), s.pool.degrees)
	out.BetweenMm2, out.WithinMm2 = c.estimated, c.within
	mean, meanVar := c.mean(means, plains)
	out.RowsMeanMm, out.RowsMeanSdMm = mean, math.Sqrt(meanVar)
	j := judge{c, meanVar, p.Aim, estimate.NewAcceptance(p.Aim.ToleranceMm, p.Aim.Confidence)}
	low, high := math.Inf(1), math.Inf(-1)
	for i, r := range rows {
		mm2, degrees := s.counted(i)
		half := estimate.StudentQuantile((1+p.Aim.Confidence)/2, degrees) * math.Sqrt(mm2/float64(len(groups[i])))
		row := Row{Row: r.Row, Seeds: len(groups[i]), MeanMm: means[i], MeanFromMm: means[i] - half, MeanToMm: means[i] + half,
			Scatter: s.of(i, p.Aim.Confidence), SetApart: s.apart[i], Bounces: s.told[i]}
		j.row(&row, scatter[i], means[i]-mean)
		row.Estimate.DepthMm = mean + row.EffectMm
		low, high = min(low, row.Estimate.DepthMm), max(high, row.Estimate.DepthMm)
		if row.Verdict == leveling.Off {
			out.ToCorrect = append(out.ToCorrect, row.Row)
		}
		out.Rows = append(out.Rows, row)
	}
	out.EstimateSpreadMm = high - low
}

// strange is how many standard deviations off the rows' mean a row that is set apart is no longer taken for one of the
// others, and nothing of theirs is read into it: one in a hundred lies there. The others' spread was found without it.
const strange = 2.576

// judge says what a row's seeds prove.
type judge struct {
	components
	meanVar float64
	aim     Aim
	accept  estimate.Acceptance
}

// row judges a row whose seeds have the variance scatter and whose mean lies so far away from the rows' mean.
func (j judge) row(r *Row, scatter, away float64) {
	plain := scatter / float64(r.Seeds)
	j.alone = r.SetApart && math.Abs(away) > strange*math.Sqrt(j.between+plain)
	r.Shrink = j.shrink(plain)
	r.EffectMm = r.Shrink*away + 0 // no negative nothing
	r.UncertaintyMm = j.sd(plain)
	r.Noise = math.Abs(r.EffectMm) <= j.accept.ProvableTolerance(r.UncertaintyMm)
	r.Verdict = j.verdict(r.EffectMm, r.UncertaintyMm)
	if r.Verdict == leveling.Unsure {
		r.SeedsToSettle = j.seedsToSettle(r, scatter)
	}
	r.Estimate = estimate.Estimate{UncertaintyMm: r.UncertaintyMm, Scale: 1, Readings: r.Seeds, Budget: j.budget(scatter, plain)}
}

func (j judge) sd(plain float64) float64 {
	v, _ := j.variance(plain, j.meanVar)
	return math.Sqrt(v)
}

// budget splits a row's variance so that a plan can foretell what more seeds are worth:
// σ_b²(1 − w) = 1/(1/σ_b² + k/σ_w²).
func (j judge) budget(scatter, plain float64) estimate.Budget {
	switch _, alone := j.variance(plain, j.meanVar); {
	case alone:
		return estimate.Budget{PerReadingMm2: scatter}
	case j.between == 0:
		return estimate.Budget{FloorMm2: j.rest(plain, j.meanVar)}
	}
	return estimate.Budget{Prior: 1 / j.between, PerReadingMm2: scatter, FloorMm2: j.rest(plain, j.meanVar)}
}

func (j judge) verdict(effect, u float64) leveling.Verdict {
	h, ok := j.accept.HalfWidth(u)
	switch {
	case ok && math.Abs(effect) <= h:
		return leveling.Even
	case math.Abs(effect) >= j.accept.OffDistance(u):
		return leveling.Off
	}
	return leveling.Unsure
}

// seedsToSettle is the fewest further seeds that leave the row even or off if its effect stays.
func (j judge) seedsToSettle(r *Row, scatter float64) int {
	for n := 1; n <= MostSeeds; n++ {
		if j.verdict(r.EffectMm, j.sd(scatter/float64(r.Seeds+n))) != leveling.Unsure {
			return n
		}
	}
	return 0
}
