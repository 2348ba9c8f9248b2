package worth

import "rowdatum/server/leveling"

const (
	points = 512
	strata = 16 // point k is of stratum k mod 16
)

// permutation walks through k → ak² + bk + c (mod 512), k = 0, 1, 2, …; a even and b odd make it one.
type permutation struct{ at, step, bend uint32 }

// The dimensions, but that of the first group's middle, which is 0.
const (
	zeroDimension = 1
	rowDimension  = 2                               // of the first row
	moreMiddles   = rowDimension + leveling.MaxRows // of the second group's middle
)

// sequence is that of one dimension.
func sequence(dimension int) permutation {
	r := mixed(uint64(dimension) + seed<<32)
	a, b, c := uint32(r)&0x1fe, uint32(r>>16)|1, uint32(r>>40)
	return permutation{at: c, step: a + b, bend: 2 * a}
}

// seed is the best of 4,000 tried: the range and the chance of up to 48 like Gaussians, see the tests.
const seed = 468

// next is the Gaussian quantile of the next point, of a whole table.
func (p *permutation) next(table *[points]float64) float64 {
	k := p.at % points
	p.at += p.step
	p.step += p.bend
	return table[k]
}

// whole is the table of all quantiles.
func whole() (table [points]float64) {
	for k, q := range quantiles {
		table[k], table[points-1-k] = q, -q
	}
	return table
}

// mixed spreads an integer's bits over a whole word (the finaliser of SplitMix64; Steele, Lea and Flood,
// 2014).
func mixed(x uint64) uint64 {
	x = (x + 0x9e3779b97f4a7c15)
	x = (x ^ x>>30) * 0xbf58476d1ce4e5b9
	x = (x ^ x>>27) * 0x94d049bb133111eb
	return x ^ x>>31
}
