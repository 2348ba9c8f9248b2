package wear

import (
	"cmp"
	"math"
	"slices"

	"rowdatum/server/leveling"
	"rowdatum/server/leveling/estimate"
)

// Problem is everything an analysis follows from. The caller has checked it: figures are finite,
// hectares do not fall from visit to visit, a row is named once a visit.
type Problem struct {
	Visits     []Visit // oldest first, those whose hectares are known
	Travel     []Travel
	Edge       []int   // rows that count as edge rows; empty: the outer sixth on either side
	Confidence float64 // 0.5 or more and below 1
	Voice      leveling.Voice
}

// Visit is one job.
type Visit struct {
	Hectares float64 // that the planter had planted by then, in all
	Fixture  string  // with its zero: visits of the same are in the same absolute numbers; empty: not known
	ZeroSdMm float64 // how well that zero is the same at each visit; 0: DefaultZeroSdMm
	Rows     []RowVisit
}

// RowVisit is what a job knew of one row.
type RowVisit struct {
	Row         int
	Found, Left *Reading // in the numbers of that visit's fixture; nil: not read
	Moved       bool     // Found and Left are two stays
	PartChanged bool     // what Left begins has nothing to do with what Found ends
}

// Reading is a depth as read.
type Reading struct {
	DepthMm       float64
	UncertaintyMm float64 // 0 or more
}

// Travel is what is left of a row's mechanism over what the season needs, mm, 0 or more.
type Travel struct {
	Row                   int
	ShallowerMm, DeeperMm float64
}

// Analysis is what the seasons did. Slopes are in mm a hectare, positive deeper.
type Analysis struct {
	Method     string   `json:"method,omitzero"`
	Visits     int      `json:"visits,omitzero"`
	Confidence float64  `json:"confidence,omitzero"`
	ScatterSd  float64  `json:"scatterSd,omitzero"` // of the readings, over what their uncertainties say; 1 is as they say
	ReseatsSd  float64  `json:"reseatsSd,omitzero"` // of what a row does at one visit alone, mm
	Degrees    float64  `json:"degrees,omitzero"`   // of the intervals
	Common     *Common  `json:"common,omitempty"`   // nil: depths are not absolute, or not enough history
	Rows       []Row    `json:"rows,omitzero"`      // by rising number
	Edge       *Edge    `json:"edge,omitempty"`     // nil: not enough history
	Cautions   []string `json:"cautions,omitzero"`
}

// Row is the drift of one row since its last changed part.
type Row struct {
	Row          int      `json:"row,omitzero"`
	Visits       int      `json:"visits,omitzero"` // of the present chain, with a drift to or from another
	Enough       bool     `json:"enough,omitzero"` // without it there are no figures
	Drift        Interval `json:"drift,omitzero"`
	DriftSd      float64  `json:"driftSd,omitzero"`
	P            float64  `json:"p,omitzero"`             // chance of such a drift in a row that wears like the middle
	Unlike       bool     `json:"unlike,omitzero"`        // wears unlike the rest, all rows looked at together
	HectaresLeft *Left    `json:"hectaresLeft,omitempty"` // nil: not enough history, travel or common drift not known
	Since        *Since   `json:"since,omitempty"`        // nil: not in both of the last two visits
	Why          string   `json:"why,omitzero"`
}

// Interval is a figure with its ends at the wanted confidence.
type Interval struct {
	At   float64 `json:"at,omitzero"`
	From float64 `json:"from,omitzero"`
	To   float64 `json:"to,omitzero"`
}

// Left is how many hectares are left; To is nil where there is no end in sight.
type Left struct {
	From *float64 `json:"from,omitempty"` // nil: it does not come to that
	To   *float64 `json:"to,omitempty"`
}

// Edge compares edge rows with the others: mean drift of the ones minus that of the others.
type Edge struct {
	Rows       []int    `json:"rows,omitzero"`
	Difference Interval `json:"difference,omitzero"`
	P          float64  `json:"p,omitzero"` // chance of such a difference were they alike
}

// Fewest of what an analysis needs. Two points make a line and prove nothing; the rows are our choice, no
// source: fewer than these have no middle.
const (
	FewestVisits = 3
	FewestRows   = 4
)

// scatterDegrees is how many degrees of freedom the readings' own uncertainties are worth against the
// scatter about the lines, as for a fixture's repeatability; our choice, no source.
const scatterDegrees = 10

// Analyze finds all of it.
func Analyze(p Problem) Analysis {
	chains := chainsOf(p.Visits)
	out := Analysis{Visits: len(p.Visits), Confidence: p.Confidence}
	s := fitSlopes(slices.DeleteFunc(slices.Clone(chains), func(c *chain) bool { return !c.enough() }))
	if s != nil {
		out.ScatterSd, out.ReseatsSd, out.Degrees = s.scatter, math.Sqrt(s.reseats), s.degrees
		out.Common = s.common(p)
		out.Edge = s.edge(edgeRows(p, chains), p.Confidence)
	}
	since := sinceLeft(p, out.ReseatsSd*out.ReseatsSd)
	for _, c := range chains {
		row := Row{Row: c.row, Visits: len(c.visits), Enough: s != nil && c.enough(), Since: since[c.row]}
		if row.Enough {
			s.tell(&row, c, p, out.Common)
		}
		out.Rows = append(out.Rows, row)
	}
	newWords(p, &out).say()
	return out
}

// tell fills in the figures of a row.
func (s *slopes) tell(row *Row, c *chain, p Problem, common *Common) {
	row.Drift, row.DriftSd = s.interval(c.contrast, p.Confidence)
	row.P = s.chance(row.Drift.At, row.DriftSd)
	row.Unlike = row.P <= (1-p.Confidence)/float64(len(s.chains)) // Bonferroni: some row of many always looks odd
	for _, t := range p.Travel {
		if t.Row == row.Row && common != nil {
			row.HectaresLeft = t.left(common.whole(row.Drift.At, row.DriftSd, s.degrees, p.Confidence))
		}
	}
}

// left is how long the travel lasts: a row that drifts deeper is moved back shallower.
func (t Travel) left(drift Interval) *Left {
	var out Left
	if drift.To > 0 {
		out.soonest(t.ShallowerMm / drift.To)
	}
	if drift.From < 0 {
		out.soonest(t.DeeperMm / -drift.From)
	}
	switch {
	case drift.From > 0:
		out.To = new(t.ShallowerMm / drift.From)
	case drift.To < 0:
		out.To = new(t.DeeperMm / -drift.To)
	}
	return &out
}

func (l *Left) soonest(hectares float64) {
	if l.From == nil || hectares < *l.From {
		l.From = &hectares
	}
}

// edgeRows are the rows that count as edge rows.
func edgeRows(p Problem, chains []*chain) []int {
	if len(p.Edge) > 0 {
		return p.Edge
	}
	var rows []int
	n := (len(chains) + 5) / 6
	for i, c := range chains {
		if i < n || i >= len(chains)-n {
			rows = append(rows, c.row)
		}
	}
	return rows
}

// holdsZero says that the figure may be nothing.
func (i Interval) holdsZero() bool { return i.From <= 0 && i.To >= 0 }

// edge compares the edge rows with the others.
func (s *slopes) edge(edge []int, confidence float64) *Edge {
	out := &Edge{}
	var inner, outer []int
	for i, c := range s.chains {
		if slices.Contains(edge, c.row) {
			outer, out.Rows = append(outer, i), append(out.Rows, c.row)
		} else {
			inner = append(inner, i)
		}
	}
	if len(inner) == 0 || len(outer) == 0 {
		return nil
	}
	weights := make([]float64, len(s.chains))
	for _, i := range outer {
		weights[i] += 1 / float64(len(outer))
	}
	for _, i := range inner {
		weights[i] -= 1 / float64(len(inner))
	}
	var sd float64
	out.Difference, sd = s.interval(weights, confidence)
	out.P = s.chance(out.Difference.At, sd)
	return out
}

// interval is a weighted sum of slopes with its interval.
func (s *slopes) interval(weights []float64, confidence float64) (i Interval, sd float64) {
	var v float64
	for a, w := range weights {
		i.At += w * s.at[a]
		for b, x := range weights {
			v += w * x * s.cov[a][b]
		}
	}
	sd = math.Sqrt(max(0, v) * s.variance)
	half := estimate.StudentQuantile((1+confidence)/2, s.degrees) * sd
	i.From, i.To = i.At-half, i.At+half
	return i, sd
}

func (s *slopes) chance(at, sd float64) float64 {
	if sd == 0 {
		return 1
	}
	return estimate.StudentTail(math.Abs(at)/sd, s.degrees)
}

// center gives every chain its contrast against the mean of the middle third of the slopes: wear comes by edges and
// wings, and a third of the rows that wears alike must not make the rest look unlike.
func (s *slopes) center() {
	order := slices.Clone(s.chains)
	slices.SortStableFunc(order, func(a, b *chain) int { return cmp.Compare(s.at[a.index], s.at[b.index]) })
	cut := len(order) / 3
	middle := order[cut : len(order)-cut]
	s.middle = make([]float64, len(s.chains))
	for _, m := range middle {
		s.middle[m.index] = 1 / float64(len(middle))
	}
	for i, c := range s.chains {
		c.contrast = make([]float64, len(s.chains))
		for j, w := range s.middle {
			c.contrast[j] = -w
		}
		c.contrast[i]++
	}
}
