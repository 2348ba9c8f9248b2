package dig

// components are the components of variance and how well they are known.
type components struct {
	between, within      float64 // σ_b², taken as 0 where it came out negative, and σ_w² of the rows that scatter alike
	estimated            float64 // σ_b² as it came out
	betweenVar, relative float64 // variance of the estimate of σ_b², and of that of σ_w² over σ_w²²
	cov                  float64 // of both, over σ_w²
}

// component is what a row tells of the components.
type component struct {
	mean, seeds float64
	scatter     float64 // variance of its seeds, as estimated
	degrees     float64 // of scatter, where the row is set apart; 0: it shares the pooled variance
}

// componentsOf equates the sum of squares between rows to what is expected of it (Henderson's first method), each row's
// seeds scattering as they do. Rows that share the pooled variance within know it with so many degrees. The variances
// of the estimates, were the depths Gaussian, are those of a quadratic form; where all rows scatter alike, Searle's.
func componentsOf(rows []component, within, degrees float64) components {
	var n, squares, weighted float64
	for _, r := range rows {
		n, squares, weighted = n+r.seeds, squares+r.seeds*r.seeds, weighted+r.seeds*(r.mean-rows[0].mean)
	}
	effective := n - squares/n // (m − 1)·n₀
	var sum, shared, own float64
	for _, r := range rows {
		away, share := r.mean-rows[0].mean-weighted/n, 1-r.seeds/n
		sum += r.seeds*away*away - share*r.scatter
		if r.degrees > 0 {
			own += share * share * 2 * r.scatter * r.scatter / r.degrees
		} else {
			shared += share
		}
	}
	c := components{within: within, estimated: sum / effective}
	c.between = max(0, c.estimated)

	var diagonal, cross float64 // of the trace of the form's square
	for _, r := range rows {
		v := r.seeds*c.between + r.scatter // seeds times the variance of the row's mean
		diagonal, cross = diagonal+v*v*(1-2*r.seeds/n), cross+r.seeds*v
	}
	c.relative = 2 / degrees
	c.betweenVar = (2*(diagonal+cross*cross/(n*n)) + own + shared*shared*c.relative*within*within) / (effective * effective)
	c.cov = -shared / effective * c.relative * within
	return c
}

// shrink is w, the share of a row's own mean in what is said of a row whose mean has the variance plain.
func (c components) shrink(plain float64) float64 {
	if c.between == 0 {
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
	shrunk := c.own(plain) + c.rest(plain, meanVar)
	return min(shrunk, plain), shrunk > plain
}

func (c components) estimation(plain float64) float64 {
	if plain == 0 {
		return 0
	}
	v := c.between + plain
	return plain * plain * (c.betweenVar + c.between*c.between*c.relative - 2*c.between*c.cov) / (v * v * v)
}
