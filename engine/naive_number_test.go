package engine_test

import (
	"math"
	"math/big"
	"testing"
)

// The second implementation of the arithmetic adds, exponentiates and compares with 200 bits. Only the contributions
// themselves are computed in float64, from the textbook formulas.

// number is immutable here: every operation gives a new one.
type number = *big.Float

const precision = 200

func num(x float64) number     { return new(big.Float).SetPrec(precision).SetFloat64(x) }
func plus(a, b number) number  { return new(big.Float).SetPrec(precision).Add(a, b) }
func minus(a, b number) number { return new(big.Float).SetPrec(precision).Sub(a, b) }
func times(a, b number) number { return new(big.Float).SetPrec(precision).Mul(a, b) }
func over(a, b number) number  { return new(big.Float).SetPrec(precision).Quo(a, b) }
func float(a number) float64   { f, _ := a.Float64(); return f }
func abs(a number) number      { return new(big.Float).SetPrec(precision).Abs(a) }
func less(a, b number) bool    { return a.Cmp(b) < 0 }

// ln2 is the sum of 1/(n 2^n).
var ln2 = func() number {
	s, power := num(0), num(1)
	for n := 1.0; n <= precision+10; n++ {
		power = times(power, num(0.5))
		s = plus(s, over(power, num(n)))
	}
	return s
}()

// reciprocal is 1/n, by n.
var reciprocal = func() (list [21]number) {
	for n := 1; n < len(list); n++ {
		list[n] = over(num(1), num(float64(n)))
	}
	return list
}()

// exponential is e^x: x = k ln 2 + r, e^(r/1024) by its series, squared ten times, and doubled k times.
func exponential(x number) number {
	k := math.Round(float(over(x, ln2)))
	r := minus(x, times(num(k), ln2))
	r = times(r, num(1.0/1024))
	s, term := num(1), num(1)
	for n := 1.0; n <= 20; n++ {
		term = times(times(term, r), reciprocal[int(n)])
		s = plus(s, term)
	}
	for range 10 {
		s = times(s, s)
	}
	return new(big.Float).SetPrec(precision).SetMantExp(s, int(k))
}

// logarithm is ln x for x above zero: a start in float64, and two of Newton's steps on e^y = x, each doubling the
// figures.
func logarithm(x number) number {
	mantissa := new(big.Float)
	exponent := x.MantExp(mantissa)
	y := plus(num(math.Log(float(mantissa))), times(num(float64(exponent)), ln2))
	for range 3 {
		y = plus(y, minus(over(x, exponential(y)), num(1)))
	}
	return y
}

// The published figures: e, ln 2 and ln 10 to 50 decimals (OEIS A001113, A002162, A002392, from memory), and that each
// undoes the other.
func TestNumbers(t *testing.T) {
	for name, c := range map[string]struct {
		got  number
		want string
	}{
		"e":     {exponential(num(1)), "2.71828182845904523536028747135266249775724709369995"},
		"ln 2":  {ln2, "0.69314718055994530941723212145817656807550013436025"},
		"ln 10": {logarithm(num(10)), "2.30258509299404568401799145468436420760110148862877"},
	} {
		want, _, err := big.ParseFloat(c.want, 10, precision, big.ToNearestEven)
		if err != nil {
			t.Fatal(err)
		}
		if d := math.Abs(float(minus(c.got, want))); d > 1e-49 {
			t.Errorf("%s is %s, want %s", name, c.got.Text('f', 50), c.want)
		}
	}
	for _, x := range []float64{-700, -33.3, -1e-9, 0, 1e-5, 0.7, 12, 345.6} {
		if d := math.Abs(float(minus(logarithm(exponential(num(x))), num(x)))); d > 1e-50*(1+math.Abs(x)) {
			t.Errorf("ln e^%g is %g off", x, d)
		}
	}
}
