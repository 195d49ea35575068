package quantity

import (
	"math"
	"testing"

	"pgregory.net/rapid"
)

var ops = []Op{Less, LessEqual, Greater, GreaterEqual}

// exactly is the comparison of two numbers.
func exactly(x float64, op Op, t float64) bool {
	return map[Op]bool{Less: x < t, LessEqual: x <= t, Greater: x > t, GreaterEqual: x >= t}[op]
}

// drawEnds draws numbers from a coarse lattice, so that ends and thresholds often coincide, infinite ones among them.
func drawEnd(t *rapid.T, label string) float64 {
	n := rapid.IntRange(-5, 5).Draw(t, label)
	switch n {
	case -5, 5:
		return math.Inf(n)
	}
	return float64(n) / 2
}

// The definition itself: true for all of the interval, false for all of it, or undecided. A comparison with a threshold is
// monotone, so the two ends speak for all.
func TestCompareIsTrueOfEveryNumberInside(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		a, b, threshold := drawEnd(t, "a"), drawEnd(t, "b"), drawEnd(t, "threshold")
		lo, hi := min(a, b), max(a, b)
		for _, op := range ops {
			want := Undecided
			if atLo, atHi := exactly(lo, op, threshold), exactly(hi, op, threshold); atLo && atHi {
				want = Holds
			} else if !atLo && !atHi {
				want = Fails
			}
			got, overlap := Compare(lo, hi, op, threshold)
			if got != want {
				t.Errorf("[%g, %g] %v %g: %v, want %v", lo, hi, op, threshold, got, want)
			}
			if !(overlap >= 0) || got != Undecided && overlap != 0 {
				t.Errorf("[%g, %g] %v %g: %v with overlap %g", lo, hi, op, threshold, got, overlap)
			}
			if lo == hi && got == Undecided {
				t.Errorf("%g %v %g: no width, yet undecided", lo, op, threshold)
			}
		}
	})
}

// A better reading never turns holds into fails: once decided, every part of the interval is decided alike.
func TestShrinkingNeverFlips(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		e := make([]float64, 4)
		for i := range e {
			e[i] = drawEnd(t, "end")
		}
		lo, hi := min(e[0], e[1]), max(e[0], e[1])
		slo, shi := min(max(lo, e[2]), hi), max(min(hi, e[3]), lo)
		slo, shi = min(slo, shi), max(slo, shi)
		threshold := drawEnd(t, "threshold")
		for _, op := range ops {
			wide, _ := Compare(lo, hi, op, threshold)
			narrow, _ := Compare(slo, shi, op, threshold)
			if wide != Undecided && narrow != wide {
				t.Errorf("[%g, %g] %v %g %v, but its part [%g, %g] %v", lo, hi, op, threshold, wide, slo, shi, narrow)
			}
		}
	})
}

// Taking the overlap away, and a hair more, on the side of the nearer end decides the comparison; taking away less doesn't.
func TestOverlapIsWhatADecisionMisses(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		a, b := rapid.Float64Range(-9, 9).Draw(t, "a"), rapid.Float64Range(-9, 9).Draw(t, "b")
		lo, hi, threshold := min(a, b), max(a, b), rapid.Float64Range(-9, 9).Draw(t, "threshold")
		for _, op := range ops {
			o, overlap := Compare(lo, hi, op, threshold)
			if o != Undecided {
				continue
			}
			const hair = 1e-9
			cut := func(by float64) Outcome {
				if hi-threshold <= threshold-lo {
					o, _ = Compare(lo, max(lo, hi-by), op, threshold)
				} else {
					o, _ = Compare(min(hi, lo+by), hi, op, threshold)
				}
				return o
			}
			if cut(overlap+hair) == Undecided {
				t.Errorf("[%g, %g] %v %g: still undecided without the overlap %g", lo, hi, op, threshold, overlap)
			}
			if overlap > 2*hair && cut(overlap-hair) != Undecided {
				t.Errorf("[%g, %g] %v %g: decided with less than the overlap %g gone", lo, hi, op, threshold, overlap)
			}
		}
	})
}

func TestCompareRefractometerLimit(t *testing.T) {
	above, inf := Above(1.81), math.Inf(1)
	for _, c := range []struct {
		lo, hi float64
		op     Op
		t      float64
		want   Outcome
	}{
		{above.Lo, above.Hi, Greater, 1.81, Holds}, // "above 1.81" leaves the limit itself out
		{above.Lo, above.Hi, LessEqual, 1.81, Fails},
		{1.81, inf, Greater, 1.81, Undecided}, // "1.81 or more" doesn't
		{1.81, inf, GreaterEqual, 1.81, Holds},
		{above.Lo, above.Hi, Less, 2, Undecided},
		{math.NaN(), 1, Less, 2, Undecided},
		{0, math.NaN(), Less, 2, Undecided},
		{0, 1, Less, math.NaN(), Undecided},
		{2, 1, Less, 9, Undecided},
		{0, 1, Op(9), 9, Undecided},
	} {
		if got, _ := Compare(c.lo, c.hi, c.op, c.t); got != c.want {
			t.Errorf("[%g, %g] %v %g: %v, want %v", c.lo, c.hi, c.op, c.t, got, c.want)
		}
	}
	below := Below(2)
	if o, _ := Compare(below.Lo, below.Hi, Less, 2); o != Holds {
		t.Errorf("below 2 < 2: %v", o)
	}
}
