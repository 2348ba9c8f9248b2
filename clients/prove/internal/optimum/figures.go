package optimum

import "math"

// ruled is what a mean of k readings of one row is worth: its standard uncertainty, mm. Readings scatter by repeat before a
// ruling of resolution rounds them; floor is the floor's unevenness.
func ruled(resolution, repeat, floor float64, k int) float64 {
	rounding := resolution * resolution / 12
	stays := staying(resolution, repeat)
	return math.Sqrt((repeat*repeat+rounding-stays)/float64(k) + stays + floor*floor)
}

// readOnce is what is known of a depth once it was read: foretold with a variance that holds the floor's, mm², and then one
// reading, the part that stays counted whole.
func readOnce(resolution, repeat, floor, foretold float64) float64 {
	stays := staying(resolution, repeat)
	reading := repeat*repeat + resolution*resolution/12 - stays
	open := math.Max(0, foretold-floor*floor-stays)
	if open > 0 || reading > 0 {
		open *= reading / (open + reading)
	}
	return math.Sqrt(stays + open + floor*floor)
}

// staying is the part of the rounding that no repeated reading takes away, as a variance, mm².
func staying(resolution, repeat float64) float64 {
	if resolution == 0 {
		return 0
	}
	if repeat == 0 {
		return resolution * resolution / 12
	}
	sum, ratio := 0.0, repeat/resolution
	for m := 1.0; ; m++ {
		term := math.Exp(-4*math.Pi*math.Pi*m*m*ratio*ratio) / (m * m)
		if sum += term; term < 1e-18 {
			return resolution * resolution / (2 * math.Pi * math.Pi) * sum
		}
	}
}

// within is the chance that a depth known to u lies within tolerance of a datum that is away from its estimate.
func within(away, u, tolerance float64) float64 {
	below := (-tolerance - away) / (u * math.Sqrt2)
	above := (tolerance - away) / (u * math.Sqrt2)
	return (math.Erf(above) - math.Erf(below)) / 2
}

// halfWidth is how far a datum may be from an estimate known to u before the chance falls below the wanted one; negative
// where it is below it everywhere.
func halfWidth(u, tolerance, wanted float64) float64 {
	if u == 0 {
		return tolerance
	}
	if within(0, u, tolerance) < wanted {
		return -1
	}
	near, far := 0.0, tolerance+10*u
	for range 200 {
		if middle := (near + far) / 2; within(middle, u, tolerance) >= wanted {
			near = middle
		} else {
			far = middle
		}
	}
	return near
}
