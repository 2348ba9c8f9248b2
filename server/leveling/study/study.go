package study

import (
	"cmp"
	"math"
	"slices"

	"rowdatum/server/leveling"
	"rowdatum/server/leveling/estimate"
)

// Problem is everything a study follows from. The caller has checked it (Check).
type Problem struct {
	Readings    []Reading        // in any order
	Fixture     leveling.Fixture // its repeatability is what is looked for and not read
	ToleranceMm float64          // that it should be good for, above 0
	Confidence  float64          // 0.5 or more and below 1
	Voice       leveling.Voice
}

// Reading is one reading of a study.
type Reading struct {
	Row     int
	Person  string
	ValueMm float64
}

// Study is what the readings say of the fixture.
type Study struct {
	Method            string     `json:"method,omitzero"`
	Rows              int        `json:"rows,omitzero"`
	People            int        `json:"people,omitzero"`
	Trials            int        `json:"trials,omitzero"` // of each row by each person
	Anova             Anova      `json:"anova,omitzero"`
	Pooled            bool       `json:"pooled,omitzero"`     // the interaction is part of the repeatability
	Components        Components `json:"components,omitzero"` // as they count
	RepeatabilityMm   float64    `json:"repeatabilityMm,omitzero"`
	Degrees           float64    `json:"degrees,omitzero"`           // of the repeatability
	ReproducibilityMm float64    `json:"reproducibilityMm,omitzero"` // people, and people by rows
	RowToRowMm        float64    `json:"rowToRowMm,omitzero"`
	ScatterMm         float64    `json:"scatterMm,omitzero"`      // repeatability before the ruling rounds: what a fixture's figure is
	Provable          []Provable `json:"provable,omitzero"`       // by 1 to 5 readings
	ReadingsNeeded    int        `json:"readingsNeeded,omitzero"` // of a row, for the wanted tolerance; 0: not within MostReadings
	Verdict           string     `json:"verdict,omitzero"`
	Cautions          []string   `json:"cautions,omitzero"`
}

// Anova is the table of a study. With one person only rows and error have degrees.
type Anova struct {
	Rows, People, Interaction, Error Source
	InteractionF, InteractionP       float64
}

// Source is one line of the table.
type Source struct {
	Squares float64
	Degrees int
}

// Mean is the mean square.
func (s Source) Mean() float64 {
	if s.Degrees == 0 {
		return 0
	}
	return s.Squares / float64(s.Degrees)
}

// Components are components of variance, mm².
type Components struct {
	Repeatability, Interaction, People, Rows float64
	Negative                                 []string // those that came out negative: interaction, people, rows
}

// Provable is what a number of readings of each row can prove.
type Provable struct {
	Readings    int     `json:"readings,omitzero"`
	ToleranceMm float64 `json:"toleranceMm,omitzero"` // one person reads all rows: what that person adds is in all of them
	SeveralMm   float64 `json:"severalMm,omitzero"`   // rows are read by different people
}

// Figures of the method.
const (
	// Pooling is the chance above which an interaction is pooled; common practice of gauge studies, from memory.
	Pooling = 0.25
	// MostReadings is how many readings of a row are worth talking about.
	MostReadings = 20

	MaxRows, MaxPeople, MaxReadings = 30, 10, 2000
	tellReadings                    = 5
)

// Check notes what is wrong with the readings; field is where they stand in the request.
func Check(field string, readings []Reading, v *leveling.Violations) {
	if n := len(readings); n > MaxReadings {
		say(v, field, func(p *phrases) string { return p.tooMany }, n, MaxReadings)
		return
	}
	t := tabulate(readings)
	if n := len(t.rows); n < 2 || n > MaxRows {
		say(v, field, func(p *phrases) string { return p.wrongRows }, n, MaxRows)
	}
	if n := len(t.people); n > MaxPeople {
		say(v, field, func(p *phrases) string { return p.wrongPeople }, n, MaxPeople)
	}
	trials := 0
	for _, of := range t.cells {
		for _, cell := range of {
			trials = max(trials, len(cell))
		}
	}
	for i, of := range t.cells {
		for j, cell := range of {
			if len(cell) != trials || trials < 2 {
				say(v, field, func(p *phrases) string { return p.unequal }, len(cell), t.rows[i], t.people[j], max(2, trials))
			}
		}
	}
}

func say(v *leveling.Violations, field string, phrase func(*phrases) string, args ...any) {
	v.Say(field, catalogue.Message(phrase, args...))
}

// table is the readings by row and person.
type table struct {
	rows   []int
	people []string
	cells  [][][]float64
}

func tabulate(readings []Reading) table {
	var t table
	sorted := slices.SortedFunc(slices.Values(readings), func(a, b Reading) int {
		return cmp.Or(cmp.Compare(a.Row, b.Row), cmp.Compare(a.Person, b.Person), cmp.Compare(a.ValueMm, b.ValueMm))
	})
	for _, r := range sorted {
		t.rows, t.people = append(t.rows, r.Row), append(t.people, r.Person)
	}
	slices.Sort(t.people)
	t.rows, t.people = slices.Compact(t.rows), slices.Compact(t.people)
	t.cells = make([][][]float64, len(t.rows))
	for i := range t.cells {
		t.cells[i] = make([][]float64, len(t.people))
	}
	for _, r := range sorted {
		i, _ := slices.BinarySearch(t.rows, r.Row)
		j, _ := slices.BinarySearch(t.people, r.Person)
		t.cells[i][j] = append(t.cells[i][j], r.ValueMm-sorted[0].ValueMm) // large common parts cost no digits
	}
	return t
}

// Analyze finds all of it.
func Analyze(p Problem) Study {
	t := tabulate(p.Readings)
	out := Study{Rows: len(t.rows), People: len(t.people), Trials: len(t.cells[0][0]), Anova: t.anova()}
	out.components()
	c := out.Components
	out.RepeatabilityMm = math.Sqrt(c.Repeatability)
	out.ReproducibilityMm = math.Sqrt(c.People + c.Interaction)
	out.RowToRowMm = math.Sqrt(c.Rows)
	out.ScatterMm = estimate.BeforeRuling(p.Fixture.ResolutionMm, out.RepeatabilityMm)
	for k := 1; k <= tellReadings; k++ {
		out.Provable = append(out.Provable, out.provable(p, k))
	}
	for k := MostReadings; k > 0 && out.provable(p, k).ToleranceMm <= p.ToleranceMm; k-- {
		out.ReadingsNeeded = k
	}
	newWords(p, &out).say()
	return out
}

// anova is the table of a balanced study.
func (t table) anova() Anova {
	n, m, k := float64(len(t.rows)), float64(len(t.people)), float64(len(t.cells[0][0]))
	rowMeans, personMeans := make([]float64, len(t.rows)), make([]float64, len(t.people))
	cellMeans := make([][]float64, len(t.rows))
	var a Anova
	for i, of := range t.cells {
		for j, cell := range of {
			mean := estimate.Mean(cell)
			cellMeans[i] = append(cellMeans[i], mean)
			rowMeans[i] += mean / m
			personMeans[j] += mean / n
			for _, y := range cell {
				a.Error.Squares += (y - mean) * (y - mean)
			}
		}
	}
	grand := estimate.Mean(rowMeans)
	for i, row := range rowMeans {
		a.Rows.Squares += m * k * (row - grand) * (row - grand)
		for j, person := range personMeans {
			d := cellMeans[i][j] - row - person + grand
			a.Interaction.Squares += k * d * d
		}
	}
	for _, person := range personMeans {
		a.People.Squares += n * k * (person - grand) * (person - grand)
	}
	rows, people := len(t.rows), len(t.people)
	a.Rows.Degrees, a.People.Degrees = rows-1, people-1
	a.Interaction.Degrees, a.Error.Degrees = (rows-1)*(people-1), rows*people*(int(k)-1)
	a.InteractionP = 1
	if a.Interaction.Degrees > 0 && a.Interaction.Squares > 0 {
		const most = 1e12 // where readings of a cell do not differ at all
		a.InteractionF = min(most, a.Interaction.Mean()/a.Error.Mean())
		a.InteractionP = estimate.FisherTail(a.InteractionF, float64(a.Interaction.Degrees), float64(a.Error.Degrees))
	}
	return a
}

// components equates the mean squares to what is expected of them.
func (s *Study) components() {
	a, c := s.Anova, &s.Components
	n, m, k := float64(s.Rows), float64(s.People), float64(s.Trials)
	against := a.Interaction.Mean() // what rows and people are held against
	c.Repeatability, s.Degrees = a.Error.Mean(), float64(a.Error.Degrees)
	if s.Pooled = a.InteractionP > Pooling; s.Pooled {
		s.Degrees += float64(a.Interaction.Degrees)
		c.Repeatability = (a.Error.Squares + a.Interaction.Squares) / s.Degrees
		against = c.Repeatability
	} else {
		c.Interaction = c.positive("interaction", (against-c.Repeatability)/k)
	}
	if s.People > 1 {
		c.People = c.positive("people", (a.People.Mean()-against)/(n*k))
	}
	c.Rows = c.positive("rows", (a.Rows.Mean()-against)/(m*k))
}

func (c *Components) positive(name string, v float64) float64 {
	if v < 0 {
		c.Negative = append(c.Negative, name)
	}
	return max(0, v)
}

// provable is the smallest tolerance that k readings of every row prove. The scatter enters as little known as
// its degrees of freedom make it; what a person does to one row and not to others stays however often it is read.
func (s *Study) provable(p Problem, k int) Provable {
	f := p.Fixture
	f.RepeatabilityMm = estimate.Inflated(s.ScatterMm, s.Degrees, p.Confidence)
	u := estimate.Uncertainty(f, k)
	own := u*u + s.Components.Interaction
	return Provable{
		Readings:    k,
		ToleranceMm: estimate.ProvableTolerance(math.Sqrt(own), p.Confidence),
		SeveralMm:   estimate.ProvableTolerance(math.Sqrt(own+s.Components.People), p.Confidence),
	}
}
