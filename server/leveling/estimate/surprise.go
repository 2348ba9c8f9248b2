package estimate

import (
	"math"
	"slices"

	"rowdatum/server/leveling"
)

// How far is surprising, in standard deviations; our choice, no source.
const (
	surprisingReading = 3.5
	surprisingRow     = 5
	fewestOthers      = 4      // rows whose median says something of a row
	madToSd           = 1.4826 // 1/Φ⁻¹(3/4): sd of a Gaussian over its median absolute deviation
)

// Surprise is a reading that looks wrong.
type Surprise struct {
	Row       int     // index into the rows asked about
	Reading   int     // index into that row's readings
	Lonely    bool    // the row's only reading, far from the other rows; else far from its row's others
	ReadingMm float64 // the reading
	OthersMm  float64 // what it was held against: the mean of its row's others, the median of the rows
}

// Surprises names the readings that look wrong, at most one a row: a row's only reading is held against
// the other rows, every other reading against the others of its stay, and the furthest off is named.
// Nothing is left out of any estimate.
func Surprises(f leveling.Fixture, rows [][]float64) []Surprise {
	var out []Surprise
	means := make([]float64, len(rows))
	for i, readings := range rows {
		means[i] = Mean(readings)
	}
	for i, readings := range rows {
		if len(readings) == 1 {
			if median, ok := apart(f, readings[0], without(means, i)); ok {
				out = append(out, Surprise{Row: i, Lonely: true, ReadingMm: readings[0], OthersMm: median})
			}
		} else if j, others, ok := outlier(f, readings); ok {
			out = append(out, Surprise{Row: i, Reading: j, ReadingMm: readings[j], OthersMm: others})
		}
	}
	return out
}

// outlier finds the reading furthest from the mean of the others of its stay, the later of two, if it is
// too far off by scatter and by more than one ruling.
func outlier(f leveling.Fixture, readings []float64) (j int, others float64, ok bool) {
	worst := 0.0
	for i, y := range readings {
		mean := Mean(without(readings, i))
		if off := math.Abs(y - mean); off >= worst {
			j, others, worst = i, mean, off
		}
	}
	m := float64(len(readings) - 1)
	scatter := math.Sqrt(budget(f).PerReadingMm2 * (1 + 1/m))
	ruling := f.ResolutionMm * (1 + 1e-9) // one ruling apart is one ruling, whatever the last bits say
	return j, others, worst > surprisingReading*scatter && worst > ruling
}

func without(xs []float64, i int) []float64 { return slices.Delete(slices.Clone(xs), i, i+1) }

// apart says whether a row's only reading is too far from the median of the other rows.
func apart(f leveling.Fixture, y float64, others []float64) (median float64, ok bool) {
	if len(others) < fewestOthers {
		return 0, false
	}
	median = Median(others)
	deviations := make([]float64, len(others))
	for i, x := range others {
		deviations[i] = math.Abs(x - median)
	}
	mad := madToSd * Median(deviations)
	sd := math.Sqrt(mad*mad + f.RepeatabilityMm*f.RepeatabilityMm + f.ResolutionMm*f.ResolutionMm/12)
	return median, math.Abs(y-median) > surprisingRow*sd
}

// Median is the middle of xs, or the mean of its two middles; 0 of none. It sorts xs.
func Median(xs []float64) float64 {
	if len(xs) == 0 {
		return 0
	}
	slices.Sort(xs)
	low, high := xs[(len(xs)-1)/2], xs[len(xs)/2]
	return low + (high-low)/2
}
