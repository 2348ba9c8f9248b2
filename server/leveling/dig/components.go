package dig

// components are the components of variance and how well they are known.
type components struct {
	between, within float64 // σ_b², taken as 0 where it came out negative, and σ_w² of the rows that scatter alike
	estimated       float64 // σ_b² as it came out
	unknown         float64 // what is not known of both, as Prasad and Rao's term takes it, mm⁴
	alone           bool    // a row is judged by its own seeds, whatever the others are like
}

// componentsOf equates the sum of squares between rows to what is expected of it (Henderson's first method). A row
// counts with sizes[i] seeds of the common scatter, of degrees of freedom: one of its own scatter with as many as make
// its mean as certain. The variances of the estimates are those of Searle for unbalanced groups.
func componentsOf(means, sizes []float64, within, degrees float64) components {
	var n, squares, cubes, weighted float64
	for i, k := range sizes {
		n, squares, cubes, weighted = n+k, squares+k*k, cubes+k*k*k, weighted+k*(means[i]-means[0])
	}
	var between float64
	for i, k := range sizes {
		away := means[i] - means[0] - weighted/n
		between += k * away * away
	}
	m := float64(len(sizes))
	effective := n - squares/n // (m − 1)·n₀
	c := components{within: within, estimated: (between - (m-1)*within) / effective}
	c.between = max(0, c.estimated)

	b, w := c.between, c.within
	spread := squares - 2*cubes/n + squares*squares/(n*n)
	betweenVar := 2 / (effective * effective) * ((m-1)*(m-1+degrees)/degrees*w*w + 2*effective*w*b + spread*b*b)
	withinVar := 2 / degrees                    // over w²
	cov := -(m - 1) / effective * withinVar * w // over w
	c.unknown = betweenVar + b*b*withinVar - 2*b*cov
	return c
}

// shrink is w, the share of a row's own mean in what is said of a row whose mean has the variance plain.
func (c components) shrink(plain float64) float64 {
	switch {
	case c.alone:
		return 1
	case c.between == 0:
		return 0
	}
	return c.between / (c.between + plain)
}

// mean is the rows' mean, each weighted by 1/(σ_b² + its own variance), with its variance.
func (c components) mean(means, plains []float64) (mean, variance float64) {
	var weights, weighted, most float64
	for i, plain := range plains {
		most = max(most, c.between+plain)
		w := 1.0
		if v := c.between + plain; v > 0 {
			w = 1 / v
		}
		weights, weighted = weights+w, weighted+w*(means[i]-means[0])
	}
	if most == 0 {
		return means[0] + weighted/weights, 0
	}
	return means[0] + weighted/weights, 1 / weights
}

// own is the part of a row's variance that more seeds of the row reduce: σ_b²(1 − w).
func (c components) own(plain float64) float64 { return c.between * (1 - c.shrink(plain)) }

// rest is the other part: the mean's, and twice Prasad and Rao's term for the components themselves being
// estimated.
func (c components) rest(plain, meanVar float64) float64 {
	miss := 1 - c.shrink(plain)
	return miss*miss*meanVar + 2*c.estimation(plain)
}

// variance is that of a row's depth. Prasad and Rao's term knows no bound where few rows tell of σ_b²; a row is never
// less known than by its own seeds alone, which is then told.
func (c components) variance(plain, meanVar float64) (mm2 float64, alone bool) {
	if c.alone {
		return plain, true
	}
	shrunk := c.own(plain) + c.rest(plain, meanVar)
	return min(shrunk, plain), shrunk > plain
}

func (c components) estimation(plain float64) float64 {
	if plain == 0 {
		return 0
	}
	v := c.between + plain
	return plain * plain * c.unknown / (v * v * v)
}
