package engine

import "math"

// phi is the standard normal distribution function.
func phi(x float64) float64 { return 0.5 * math.Erfc(-x/math.Sqrt2) }

// density is the standard normal density.
func density(x float64) float64 { return math.Exp(-x*x/2) / math.Sqrt(2*math.Pi) }

// widened is [a, b], or where that is narrower than resolution, an interval of that width about its middle.
func widened(a, b, resolution float64) (float64, float64) {
	if b-a >= resolution {
		return a, b
	}
	mid := a + (b-a)/2
	return mid - resolution/2, mid + resolution/2
}

// far is so many standard uncertainties away that what lies beyond is lost in the last figure of 1.
const far = 9

// valueDensity is the density at x of a true value uniform over [a, b], read with standard uncertainty u.
// Its unit is the inverse of x's.
func valueDensity(x, u, a, b float64) float64 {
	if u == 0 {
		if x < a || x > b {
			return 0
		}
		return 1 / (b - a)
	}
	lo, hi := (a-x)/u, (b-x)/u
	if lo < -far && hi > far {
		return 1 / (b - a)
	}
	if lo > 0 {
		// Both in the upper tail, where 1 - phi keeps its figures and phi doesn't.
		lo, hi = -hi, -lo
	}
	// What the far end adds or takes is lost in the last figure of phi at the other.
	switch {
	case hi > far:
		return (1 - phi(lo)) / (b - a)
	case lo < -far && hi >= 0:
		return phi(hi) / (b - a)
	}
	return (phi(hi) - phi(lo)) / (b - a)
}

// intervalProbability is the probability that a reading, with standard uncertainty u, of a true value uniform over
// [a, b] falls into [p, q], either of which may be infinite: the integral of valueDensity.
func intervalProbability(p, q, u, a, b float64) float64 {
	return clamp(cumulative(q, u, a, b)-cumulative(p, u, a, b), 0, 1)
}

// cumulative is the distribution function at z of a reading of a true value uniform over [a, b]:
// u/(b-a) (psi((z-a)/u) - psi((z-b)/u)) with psi(s) = s phi(s) + density(s), the integral of phi.
func cumulative(z, u, a, b float64) float64 {
	switch {
	case math.IsInf(z, 1):
		return 1
	case math.IsInf(z, -1):
		return 0
	case u == 0:
		return clamp((z-a)/(b-a), 0, 1)
	}
	s, t := (z-a)/u, (z-b)/u
	if t > 8 {
		return 1
	}
	return clamp(u/(b-a)*(psi(s)-psi(t)), 0, 1)
}

func psi(s float64) float64 { return s*phi(s) + density(s) }

func clamp(x, lo, hi float64) float64 { return math.Max(lo, math.Min(hi, x)) }

// typicalWeight is how much of a material's stones lie in the typical part of a range.
const typicalWeight = 0.9

// contribution is c = ln(L'/L_any), L' = (1-e) L + e L_any: the weight of evidence of a reading whose likelihood is
// likelihood under the material and any under any material, with blunder rate e.
func contribution(likelihood, any, e float64) float64 {
	return math.Log((1-e)*likelihood/any + e)
}
