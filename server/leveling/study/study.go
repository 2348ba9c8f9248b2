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
	Fixture     leveling.Fixture // its repeatability is what is looked for; it stays where the ruling hides it
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
	KeptMm            float64    `json:"keptMm,omitzero"`         // what the fixture keeps as its repeatability, never 0
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
	Readings    int      `json:"readings,omitzero"`
	ToleranceMm float64  `json:"toleranceMm,omitzero"` // one person reads all rows: what that person adds is in all of them
	SeveralMm   *float64 `json:"severalMm,omitempty"`  // rows are read by different people; nil below FewestPeople
}

// Figures of the method.
const (
	// Pooling is the chance above which an interaction is pooled; common practice of gauge studies, from memory.
	Pooling = 0.25
	// MostReadings is how many readings of a row are worth talking about.
	MostReadings = 20
	// FewestPeople is how many people it takes to say what several prove: two differ by whatever these two differ by.
	FewestPeople = 3

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
	out.KeptMm = cmp.Or(out.ScatterMm, p.Fixture.RepeatabilityMm, leveling.DefaultFixture().RepeatabilityMm)
	all := out.provables(p)
	out.Provable = all[:tellReadings:tellReadings]
	out.ReadingsNeeded = 1 + slices.IndexFunc(all, func(by Provable) bool { return by.ToleranceMm <= p.ToleranceMm })
	newWords(p, &out).say(all[MostReadings-1].ToleranceMm)
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
	c.Repeatability, s.Degrees = a.Error.Mean(), float64(a.Error.Degrees)
	if s.Pooled = a.InteractionP > Pooling; s.Pooled {
		s.Degrees += float64(a.Interaction.Degrees)
		c.Repeatability = (a.Error.Squares + a.Interaction.Squares) / s.Degrees
	} else {
		c.Interaction = c.positive("interaction", (a.Interaction.Mean()-c.Repeatability)/k)
	}
	against := s.against()
	if s.People > 1 {
		c.People = c.positive("people", (a.People.Mean()-against)/(n*k))
	}
	c.Rows = c.positive("rows", (a.Rows.Mean()-against)/(m*k))
}

// against is the mean square that rows and people are held against.
func (s *Study) against() float64 {
	if s.Pooled {
		return s.Components.Repeatability
	}
	return s.Anova.Interaction.Mean()
}

func (c *Components) positive(name string, v float64) float64 {
	if v < 0 {
		c.Negative = append(c.Negative, name)
	}
	return max(0, v)
}

// provables are the smallest tolerances that 1 to MostReadings readings of every row prove. What fewer prove more do:
// with more, what is little known can weigh more than the little that is gained.
func (s *Study) provables(p Problem) []Provable {
	out := make([]Provable, MostReadings)
	for i := range out {
		out[i] = s.provableBy(p, i+1)
		if i == 0 {
			continue
		}
		out[i].ToleranceMm = min(out[i].ToleranceMm, out[i-1].ToleranceMm)
		if several := out[i].SeveralMm; several != nil {
			*several = min(*several, *out[i-1].SeveralMm)
		}
	}
	return out
}

// provableBy is the tolerance that k readings of every row prove. What a person does to one row and not to
// others stays however often it is read. Each component enters as the mean squares that it was found from, so that the
// sum counts the degrees of freedom of all of them.
func (s *Study) provableBy(p Problem, k int) Provable {
	f := p.Fixture
	f.RepeatabilityMm = s.ScatterMm
	b := estimate.BudgetOf(f)
	c, a := &s.Components, &s.Anova
	cells, trials := float64(s.Rows*s.Trials), float64(s.Trials)
	v := sum{known: b.LastingMm2 + b.FloorMm2, repeats: b.PerReadingMm2 / float64(k)}
	if c.Interaction > 0 {
		v.interaction += a.Interaction.Mean() / trials
		v.repeats -= c.Repeatability / trials
	}
	out := Provable{Readings: k, ToleranceMm: s.bound(v, p.Confidence)}
	if s.People < FewestPeople {
		return out
	}
	if c.People > 0 {
		v.interaction -= s.against() / cells
		v.people += a.People.Mean() / cells
	}
	several := s.bound(v, p.Confidence)
	out.SeveralMm = &several
	return out
}

// sum is a sum of variances, by the mean square that each part was found from.
type sum struct{ known, repeats, interaction, people float64 }

// bound is the tolerance that errors of a sum of variances keep within at confidence c: what was estimated by Student's
// t with Satterthwaite's degrees of freedom, beside what is known.
func (s *Study) bound(v sum, c float64) float64 {
	variances, degrees := []float64{v.repeats}, []float64{s.Degrees}
	if s.Pooled {
		variances[0] += v.interaction
	} else {
		variances, degrees = append(variances, v.interaction), append(degrees, float64(s.Anova.Interaction.Degrees))
	}
	if v.people > 0 {
		variances, degrees = append(variances, v.people), append(degrees, float64(s.Anova.People.Degrees))
	}
	total := max(0, v.repeats+v.interaction+v.people)
	u := estimate.Inflated(math.Sqrt(total), max(1, estimate.SumDegrees(variances, degrees)), c)
	return estimate.ProvableTolerance(math.Sqrt(u*u+v.known), c)
}
