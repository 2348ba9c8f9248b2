package dig

// components are the components of variance and how well they are known.
type components struct {
	between, within            float64 // σ_b², taken as 0 where it came out negative, and σ_w²
	estimated                  float64 // σ_b² as it came out
	betweenVar, withinVar, cov float64 // of the estimates themselves, were the depths Gaussian
}

// componentsOf equates the mean squares to what is expected of them (Henderson's first method). The
// variances of the estimates are those of Searle for unbalanced groups.
func componentsOf(a Anova, sizes []float64) components {
	var n, squares, cubes float64
	for _, k := range sizes {
		n, squares, cubes = n+k, squares+k*k, cubes+k*k*k
	}
	m := float64(len(sizes))
	effective := n - squares/n // (m − 1)·n₀
	c := components{within: a.WithinMean()}
	c.estimated = (a.BetweenMean() - c.within) * (m - 1) / effective
	c.between = max(0, c.estimated)

	b, w := c.between, c.within
	spread := squares - 2*cubes/n + squares*squares/(n*n)
	c.withinVar = 2 * w * w / (n - m)
	c.betweenVar = 2 / (effective * effective) * ((m-1)*(n-1)/(n-m)*w*w + 2*effective*w*b + spread*b*b)
	c.cov = -(m - 1) / effective * c.withinVar
	return c
}

// shrink is w, the share of a row's own mean in what is said of a row of k seeds.
func (c components) shrink(k float64) float64 {
	if c.between == 0 {
		return 0
	}
	return c.between / (c.between + c.within/k)
}

// mean is the rows' mean, each weighted by 1/(σ_b² + σ_w²/k), with its variance.
func (c components) mean(means, sizes []float64) (mean, variance float64) {
	var weights, weighted float64
	for i, k := range sizes {
		w := 1.0
		if v := c.between + c.within/k; v > 0 {
			w = 1 / v
		}
		weights, weighted = weights+w, weighted+w*(means[i]-means[0])
	}
	if c.between+c.within == 0 {
		return means[0] + weighted/weights, 0
	}
	return means[0] + weighted/weights, 1 / weights
}

// own is the part of a row's variance that more seeds of the row reduce: σ_b²(1 − w).
func (c components) own(k float64) float64 { return c.between * (1 - c.shrink(k)) }

// rest is the other part: the mean's, and twice Prasad and Rao's term for the components themselves being
// estimated.
func (c components) rest(k, meanVar float64) float64 {
	miss := 1 - c.shrink(k)
	return miss*miss*meanVar + 2*c.estimation(k)
}

// variance is that of a row's depth from k seeds. Prasad and Rao's term knows no bound where few rows tell of
// σ_b²; a row is never less known than by its own seeds alone, which is then told.
func (c components) variance(k, meanVar float64) (mm2 float64, alone bool) {
	shrunk, plain := c.own(k)+c.rest(k, meanVar), c.within/k
	return min(shrunk, plain), shrunk > plain
}

func (c components) estimation(k float64) float64 {
	b, w := c.between, c.within
	if w == 0 {
		return 0
	}
	v := b + w/k
	return (w*w*c.betweenVar + b*b*c.withinVar - 2*b*w*c.cov) / (k * k * v * v * v)
}
