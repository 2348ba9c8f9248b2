package estimate

import "math"

// StudentQuantile is the x below which a share p of Student's t with nu degrees of freedom lies, 0 < p
// < 1; nu above 0, infinite for a Gaussian.
func StudentQuantile(p, nu float64) float64 {
	switch {
	case math.IsInf(nu, 1):
		return NormalQuantile(p)
	case p < 0.5:
		return -StudentQuantile(1-p, nu)
	case p == 0.5:
		return 0
	}
	return studentBeyond(2*(1-p), nu)
}

// studentBeyond is the t that |t| exceeds with chance tail: Newton's steps for the logarithm of the tail
// in that of t, which is all but straight where t is large, kept within a bracket.
func studentBeyond(tail, nu float64) float64 {
	low, high := 0.0, 1.0
	for StudentTail(high, nu) > tail && high < math.MaxFloat64/4 {
		low, high = high, 2*high
	}
	scale := 2 * math.Exp(-logBeta(nu/2, 0.5)) / math.Sqrt(nu) // twice the density at 0
	t := low + (high-low)/2
	for range 100 { // a bound only: half a dozen steps do, and bisection needs no more than 60
		now := StudentTail(t, nu)
		if now > tail {
			low = t
		} else {
			high = t
		}
		density := scale * math.Exp(-(nu+1)/2*math.Log1p(t*t/nu))
		next := t * math.Exp((math.Log(now)-math.Log(tail))*now/(t*density))
		if !(next > low && next < high) {
			next = low + (high-low)/2
		}
		if math.Abs(next-t) <= 1e-15*t {
			return next
		}
		t = next
	}
	return t
}

// Inflated is u as it enters a Gaussian interval of confidence c when it was itself estimated with nu
// degrees of freedom: u·t/z, two-sided.
func Inflated(u, nu, c float64) float64 {
	p := (1 + c) / 2
	return u * StudentQuantile(p, nu) / NormalQuantile(p)
}

// EffectiveDegrees is the Welch–Satterthwaite number of degrees of freedom of the root sum of squares
// of us, each estimated with its own nus (JCGM 100:2008, G.4.1); infinite where nothing was estimated.
func EffectiveDegrees(us, nus []float64) float64 {
	squares := make([]float64, len(us))
	for i, u := range us {
		squares[i] = u * u
	}
	return SumDegrees(squares, nus)
}

// SumDegrees is Satterthwaite's number of degrees of freedom of a sum of variances, each estimated with its own nus; a
// variance that the sum takes off is negative. Infinite where nothing was estimated.
func SumDegrees(variances, nus []float64) float64 {
	var total, sum float64
	for i, v := range variances {
		total += v
		sum += v * v / nus[i]
	}
	if sum == 0 {
		return math.Inf(1)
	}
	return total * total / sum
}
