package dig

import (
	"math"

	"rowdatum/server/leveling/estimate"
)

// Scatter is what the seeds of one row differ by.
type Scatter struct {
	Mm     float64 `json:"mm,omitzero"`     // standard deviation
	FromMm float64 `json:"fromMm,omitzero"` // its interval
	ToMm   float64 `json:"toMm,omitzero"`
	F      float64 `json:"f,omitzero"` // its variance over that of the others; 0 where theirs is not known
	P      float64 `json:"p,omitzero"` // chance of such an F, did the row scatter like the others
}

// Times is how many times as much as the others the row scatters.
func (s *Scatter) Times() float64 { return math.Sqrt(s.F) }

// Figures of setting rows apart.
const (
	// ApartP is the chance below which a row stands on its own scatter.
	ApartP = 0.05
	// ToldP is the chance, over all rows together, below which the scatter is called the row's trouble: of digs of
	// rows that scatter alike at most one in ten is told so. Our choice, no source.
	ToldP = 0.1
	// fewestOthers is how many rows it takes to say that another one is odd.
	fewestOthers = 2
)

// BrownForsythe tests whether groups scatter alike: the analysis of variance of the distances from each group's
// median (J. Amer. Statist. Assoc. 69, 1974: from memory). Groups of one value say nothing and are left out.
func BrownForsythe(groups [][]float64) (a Anova, ok bool) {
	var distances [][]float64
	for _, g := range groups {
		if len(g) < 2 {
			continue
		}
		median := estimate.Median(g)
		of := make([]float64, len(g))
		for i, y := range g {
			of[i] = math.Abs(y - median)
		}
		distances = append(distances, of)
	}
	if len(distances) < 2 {
		return Anova{}, false
	}
	return OneWay(distances), true
}

// scatters are the rows' own scatters, and which rows are set apart for theirs.
type scatters struct {
	squares []float64 // sum about the row's mean
	degrees []float64
	apart   []bool
	told    []bool    // and when it was set apart, so much was more than chance over all rows together
	f, p    []float64 // against the pool of the others
	pool    pooled    // of the rows that are not set apart
}

// pooled is a sum of squares over rows.
type pooled struct {
	squares, degrees float64
	rows             int // with two seeds or more
}

func (p pooled) variance() float64 {
	if p.degrees == 0 {
		return 0
	}
	return p.squares / p.degrees
}

func (s *scatters) variance(i int) float64 { return s.squares[i] / s.degrees[i] }

// scattersOf sets apart, one by one, the row that stands out most against the pooled variance of the others, until
// none does, or so many are apart that they are no exception.
func scattersOf(groups [][]float64) scatters {
	n := len(groups)
	s := scatters{squares: make([]float64, n), degrees: make([]float64, n), apart: make([]bool, n), told: make([]bool, n), f: make([]float64, n), p: make([]float64, n)}
	for i, g := range groups {
		mean := estimate.Mean(g)
		for _, y := range g {
			s.squares[i] += (y - mean) * (y - mean)
		}
		s.degrees[i] = float64(len(g) - 1)
	}
	for apart := 1; ; apart++ {
		worst := s.compare()
		if worst < 0 || 2*apart >= n {
			return s
		}
		s.apart[worst] = true
		s.told[worst] = 1-math.Pow(1-s.p[worst], float64(s.pool.rows)) <= ToldP
	}
}

// compare holds every row against the pool of the others that are not apart, and finds the one that is to be set
// apart next; -1: none.
func (s *scatters) compare() (worst int) {
	s.pool = pooled{}
	for i := range s.squares {
		if !s.apart[i] && s.degrees[i] > 0 {
			s.pool.squares, s.pool.degrees, s.pool.rows = s.pool.squares+s.squares[i], s.pool.degrees+s.degrees[i], s.pool.rows+1
		}
	}
	worst = -1
	for i := range s.squares {
		s.f[i], s.p[i] = 0, 1
		others := s.pool
		if !s.apart[i] && s.degrees[i] > 0 {
			others = pooled{max(0, others.squares-s.squares[i]), others.degrees - s.degrees[i], others.rows - 1}
		}
		// Seeds that do not differ at all are hidden by the ruling and nothing to compare with.
		if s.degrees[i] == 0 || others.rows < fewestOthers || others.variance() == 0 {
			continue
		}
		s.f[i] = s.variance(i) / others.variance()
		s.p[i] = estimate.FisherTail(s.f[i], s.degrees[i], others.degrees)
		if !s.apart[i] && s.p[i] <= ApartP && (worst < 0 || s.p[i] < s.p[worst]) {
			worst = i
		}
	}
	return worst
}

// of is the scatter of a row with its interval; nil where one seed was dug.
func (s *scatters) of(i int, confidence float64) *Scatter {
	if s.degrees[i] == 0 {
		return nil
	}
	limit := func(p float64) float64 { return math.Sqrt(s.squares[i] / estimate.ChiSquareQuantile(p, s.degrees[i])) }
	return &Scatter{Mm: math.Sqrt(s.variance(i)), FromMm: limit((1 + confidence) / 2), ToMm: limit((1 - confidence) / 2), F: s.f[i], P: s.p[i]}
}

// counted is the variance of a row's seeds as it counts, with its degrees of freedom: the pool's, or of a row that is
// set apart its own.
func (s *scatters) counted(i int) (mm2, degrees float64) {
	if s.apart[i] {
		return s.variance(i), s.degrees[i]
	}
	return s.pool.variance(), s.pool.degrees
}
