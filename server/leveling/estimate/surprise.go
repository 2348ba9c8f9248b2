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
	sorted := slices.Sorted(slices.Values(means))
	others := make([]float64, 0, len(rows))
	for i, readings := range rows {
		if len(readings) == 1 {
			at, _ := slices.BinarySearch(sorted, means[i])
			others = append(append(others[:0], sorted[:at]...), sorted[at+1:]...)
			if median, ok := apart(f, readings[0], others); ok {
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
	ruling := f.ResolutionMm * (1 + 1e-9) // one ruling apart is one ruling, whatever the last bits say
	if len(readings) < 2 || slices.Max(readings)-slices.Min(readings) <= ruling {
		return 0, 0, false
	}
	worst := 0.0
	for i, y := range readings {
		mean := Mean(without(readings, i))
		if off := math.Abs(y - mean); off >= worst {
			j, others, worst = i, mean, off
		}
	}
	m := float64(len(readings) - 1)
	scatter := math.Sqrt(budget(f).PerReadingMm2 * (1 + 1/m))
	return j, others, worst > surprisingReading*scatter && worst > ruling
}

func without(xs []float64, i int) []float64 { return slices.Delete(slices.Clone(xs), i, i+1) }

// apart says whether a row's only reading is too far from the median of the other rows. It sorts others.
func apart(f leveling.Fixture, y float64, others []float64) (median float64, ok bool) {
	if len(others) < fewestOthers {
		return 0, false
	}
	median = Median(others)
	mad := madToSd * medianDeviation(others, median)
	sd := math.Sqrt(mad*mad + f.RepeatabilityMm*f.RepeatabilityMm + f.ResolutionMm*f.ResolutionMm/12)
	return median, math.Abs(y-median) > surprisingRow*sd
}

// medianDeviation is the median of |x − median| over the sorted xs: these rise from the median outwards on either side.
func medianDeviation(xs []float64, median float64) float64 {
	right, _ := slices.BinarySearch(xs, median)
	left := right - 1
	var before, here float64
	for range len(xs)/2 + 1 {
		before = here
		if right == len(xs) || left >= 0 && median-xs[left] <= xs[right]-median {
			here, left = median-xs[left], left-1
		} else {
			here, right = xs[right]-median, right+1
		}
	}
	if len(xs)%2 == 1 {
		return here
	}
	return before + (here-before)/2
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
