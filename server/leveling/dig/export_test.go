package dig

import (
	"math"

	"rowdatum/server/leveling"
	"rowdatum/server/leveling/estimate"
)

// ComponentsOf are the components of rows, all of which are taken to scatter alike, with the rows' mean.
func ComponentsOf(rows []leveling.RowSeeds) (out Analysis) {
	var groups [][]float64
	for _, r := range rows {
		groups = append(groups, r.DepthsMm)
	}
	a := OneWay(groups)
	var means, sizes, plains []float64
	for _, g := range groups {
		k := float64(len(g))
		means, sizes, plains = append(means, estimate.Mean(g)), append(sizes, k), append(plains, a.WithinMean()/k)
	}
	c := componentsOf(means, sizes, a.WithinMean(), float64(a.WithinDegrees))
	mean, variance := c.mean(means, plains)
	return Analysis{BetweenMm2: c.estimated, WithinMm2: c.within, RowsMeanMm: mean, RowsMeanSdMm: math.Sqrt(variance)}
}
