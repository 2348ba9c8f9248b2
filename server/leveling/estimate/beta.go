package estimate

import "math"

// Beta is the regularized incomplete beta function I_x(a, b), a and b above 0, 0 ≤ x ≤ 1: by the continued
// fraction of DLMF 8.17.22, on the side of the mean where it converges fast.
func Beta(x, a, b float64) float64 {
	switch {
	case x <= 0:
		return 0
	case x >= 1:
		return 1
	case x > (a+1)/(a+b+2):
		return 1 - Beta(1-x, b, a)
	}
	return math.Exp(a*math.Log(x)+b*math.Log1p(-x)-logBeta(a, b)) / (a * betaFraction(x, a, b))
}

func logBeta(a, b float64) float64 {
	la, _ := math.Lgamma(a)
	lb, _ := math.Lgamma(b)
	lab, _ := math.Lgamma(a + b)
	return la + lb - lab
}

// betaFraction is the continued fraction 1 + d₁/(1 + d₂/(1 + …)) by the method of Lentz.
func betaFraction(x, a, b float64) float64 {
	const tiny, most = 1e-300, 10000 // no term is 0; the square root of the larger parameter is enough terms
	fraction, c, d := 1.0, 1.0, 0.0
	for i := 1; i < most; i++ {
		m := float64(i / 2)
		term := m * (b - m) * x / ((a + 2*m - 1) * (a + 2*m))
		if i%2 == 1 {
			term = -(a + m) * (a + b + m) * x / ((a + 2*m) * (a + 2*m + 1))
		}
		if c = 1 + term/c; c == 0 {
			c = tiny
		}
		if d = 1 + term*d; d == 0 {
			d = tiny
		}
		d = 1 / d
		fraction *= c * d
		if math.Abs(c*d-1) < 1e-16 {
			break
		}
	}
	return fraction
}

// FisherTail is the chance that F with d1 and d2 degrees of freedom exceeds f.
func FisherTail(f, d1, d2 float64) float64 {
	switch {
	case f <= 0:
		return 1
	case math.IsInf(f, 1):
		return 0
	}
	return Beta(d2/(d2+d1*f), d2/2, d1/2)
}

// StudentTail is the chance that |t| with nu degrees of freedom exceeds t.
func StudentTail(t, nu float64) float64 {
	switch {
	case math.IsInf(nu, 1):
		return 2 * NormalCDF(-math.Abs(t))
	case math.IsInf(t, 0):
		return 0
	}
	return Beta(nu/(nu+t*t), nu/2, 0.5)
}
