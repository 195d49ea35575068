package quantity

import (
	"fmt"
	"math"
	"math/big"

	"testing"

	"pgregory.net/rapid"
)

// The weighted mean against the same sums with 300 bits.
func TestCombineAgainstBigFloat(t *testing.T) {
	tried, combined := 0, 0
	rapid.Check(t, func(t *rapid.T) {
		centre := rapid.Float64Range(-10, 10).Draw(t, "centre")
		scale := math.Pow(10, float64(rapid.IntRange(-6, 3).Draw(t, "scale")))
		s := make([]Sample, rapid.IntRange(1, 6).Draw(t, "n"))
		for i := range s {
			u := scale * rapid.Float64Range(0.1, 10).Draw(t, "u")
			s[i] = Sample{centre + u*rapid.Float64Range(-1.5, 1.5).Draw(t, "deviation"), u}
		}
		tried++
		got, ok := Combine(s)
		if ok != pairsAgree(s) {
			t.Fatalf("%v: ok = %v", s, ok)
		}
		if !ok {
			if got != (Sample{}) {
				t.Errorf("%v: refused, yet %v", s, got)
			}
			return
		}
		combined++
		value, u := bigCombine(s)
		largest := 0.0
		for _, x := range s {
			largest = max(largest, math.Abs(x.Value))
		}
		if math.Abs(got.Value-value) > 1e-14*largest || math.Abs(got.U-u) > 1e-14*u {
			t.Errorf("%v: %v, with 300 bits %g ± %g", s, got, value, u)
		}
		for range 3 {
			if again, _ := Combine(rapid.Permutation(s).Draw(t, "order")); again != got {
				t.Errorf("%v: %v in one order, %v in another", s, got, again)
			}
		}
	})
	if 10*combined < 3*tried {
		t.Errorf("only %d of %d combinations compared", combined, tried)
	}
}

func pairsAgree(s []Sample) bool {
	for i, a := range s {
		for _, b := range s[i+1:] {
			if math.Abs(a.Value-b.Value) > 2*math.Sqrt(a.U*a.U+b.U*b.U)*(1+1e-15) {
				return false
			}
		}
	}
	return true
}

func bigCombine(s []Sample) (value, u float64) {
	b := func(v float64) *big.Float { return new(big.Float).SetPrec(300).SetFloat64(v) }
	weights, sum := b(0), b(0)
	for _, x := range s {
		w := b(1)
		w.Quo(w, b(x.U)).Quo(w, b(x.U))
		weights.Add(weights, w)
		sum.Add(sum, w.Mul(w, b(x.Value)))
	}
	value, _ = sum.Quo(sum, weights).Float64()
	u, _ = weights.Quo(b(1), weights.Sqrt(weights)).Float64()
	return value, u
}

func TestCombineByHand(t *testing.T) {
	inf, nan := math.Inf(1), math.NaN()
	for name, c := range map[string]struct {
		in   []Sample
		want Sample
		ok   bool
	}{
		"nothing":               {nil, Sample{}, false},
		"one":                   {[]Sample{{3.52, 0.02}}, Sample{3.52, 0.02}, true},
		"two alike":             {[]Sample{{3, 0.2}, {3, 0.2}}, Sample{3, 0.2 / math.Sqrt2}, true},
		"weights 1/u²":          {[]Sample{{1, 1}, {2, 0.5}}, Sample{1.8, 1 / math.Sqrt(5)}, true},
		"just at the limit":     {[]Sample{{0, 3}, {10, 4}}, Sample{3.6, 2.4}, true},
		"just beyond it":        {[]Sample{{0, 3}, {10.001, 4}}, Sample{}, false},
		"one of three astray":   {[]Sample{{1, 0.1}, {2, 0.1}, {1.5, 9}}, Sample{}, false},
		"exact among measured":  {[]Sample{{1.5, 1}, {1, 0}}, Sample{1, 0}, true},
		"two exact alike":       {[]Sample{{1, 0}, {1, 0}}, Sample{1, 0}, true},
		"two exact unlike":      {[]Sample{{1, 0}, {1.1, 0}}, Sample{}, false},
		"negative uncertainty":  {[]Sample{{1, -1}}, Sample{}, false},
		"infinite uncertainty":  {[]Sample{{1, inf}, {1, 1}}, Sample{}, false},
		"NaN":                   {[]Sample{{nan, 1}}, Sample{}, false},
		"NaN uncertainty":       {[]Sample{{1, nan}}, Sample{}, false},
		"uncertainties of 1e-9": {[]Sample{{1e6, 1e-9}, {1e6, 1e-9}}, Sample{1e6, 1e-9 / math.Sqrt2}, true},
	} {
		before := fmt.Sprint(c.in)
		got, ok := Combine(c.in)
		if ok != c.ok || !near(got.Value, c.want.Value, 1e-15) || math.Abs(got.U-c.want.U) > 1e-15*max(c.want.U,
			1e-300) {
			t.Errorf("%s: %v %v, want %v %v", name, got, ok, c.want, c.ok)
		}
		if fmt.Sprint(c.in) != before {
			t.Errorf("%s: the caller's samples were changed", name)
		}
	}
}
