package engine_test

import (
	"math"
	"testing"

	"gonum.org/v1/gonum/integrate/quad"
)

// normal is the standard normal distribution function.
func normal(x float64) float64 { return math.Erfc(-x/math.Sqrt2) / 2 }

// uniformRead is "uniform over its range [a, b] ... The reading is normal about it with standard uncertainty u:
// L = (Phi((b-x)/u) - Phi((a-x)/u)) / (b-a)".
func uniformRead(x, u, a, b float64) float64 {
	return (normal((b-x)/u) - normal((a-x)/u)) / (b - a)
}

// nodes of Gauss and Legendre on [-1, 1].
var gaussX, gaussW = func() (x, w []float64) {
	x, w = make([]float64, 16), make([]float64, 16)
	quad.Legendre{}.FixedLocations(x, w, -1, 1)
	return x, w
}()

// integral adds panels no wider than step.
func integral(f func(x float64) float64, lo, hi, step float64) float64 {
	if hi <= lo {
		return 0
	}
	n := math.Ceil((hi - lo) / step)
	half := (hi - lo) / n / 2
	sum := 0.0
	for k := range int(n) {
		for i, x := range gaussX {
			sum += gaussW[i] * half * f(lo+half*(2*float64(k)+1+x))
		}
	}
	return sum
}

// uniformBetween is "A bound or interval integrates the reading's density over x", numerically: fine near the ends of
// the range, where the density bends, coarse between, where it is flat.
func uniformBetween(lo, hi, u, a, b float64) float64 {
	const reach = 10 // standard uncertainties beyond which nothing is left
	ends := []float64{a - reach*u, b + reach*u}
	if b-a > 2*reach*u {
		ends = []float64{a - reach*u, a + reach*u, b - reach*u, b + reach*u}
	}
	sum := 0.0
	for i := range len(ends) - 1 {
		step := 2 * u
		if i == 1 {
			step = math.Inf(1)
		}
		from, to := math.Max(lo, ends[i]), math.Min(hi, ends[i+1])
		if math.IsInf(step, 1) {
			step = ends[i+1] - ends[i]
		}
		sum += integral(func(x float64) float64 { return uniformRead(x, u, a, b) }, from, to, step)
	}
	return sum
}

// widen is "a range narrower than `resolution` is widened about its middle".
func widen(a, b, resolution float64) (float64, float64) {
	if b-a < resolution {
		middle := (a + b) / 2
		return middle - resolution/2, middle + resolution/2
	}
	return a, b
}

// contributes is "c = ln(L' / L_any), with L' = (1 - e) L + e L_any".
func contributes(l, any, e float64) float64 {
	return math.Log(((1-e)*l + e*any) / any)
}

// The integral of the density against what is known of it: all of it is 1, half lies on each side of the middle, and
// where the range is wide the part covered is the length's.
func TestUniformBetween(t *testing.T) {
	inf := math.Inf(1)
	for _, c := range []struct{ lo, hi, u, a, b, want float64 }{
		{-inf, inf, 0.01, 1, 2, 1},
		{-inf, inf, 5, 1, 1.001, 1},
		{1.5, inf, 0.01, 1, 2, 0.5},
		{-inf, 1.5, 3, 1, 2, 0.5},
		{1.2, 1.3, 0.001, 1, 2, 0.1},
		{1, inf, 1, 0.9, 1.1, 0.5},
		{5, 6, 0.01, 1, 2, 0},
	} {
		if got := uniformBetween(c.lo, c.hi, c.u, c.a, c.b); math.Abs(got-c.want) > 1e-13 {
			t.Errorf("from %g to %g, u %g, range %g to %g: %.17g, want %.17g", c.lo, c.hi, c.u, c.a, c.b, got, c.want)
		}
	}
}
