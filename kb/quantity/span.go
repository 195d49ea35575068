package quantity

import (
	"fmt"
	"math"
)

// span is a closed interval of real numbers. lo is finite or -Inf, hi finite or +Inf, lo <= hi: infinity is a direction
// here and never a member, which is why 0 times an infinite end is 0.
type span struct{ lo, hi float64 }

// newSpan puts the ends right: in order, NaN as no bound, and an end that overflowed to the wrong infinity pulled back
// to the largest finite number, so that the span still holds what it should.
func newSpan(lo, hi float64) span {
	if math.IsNaN(lo) {
		lo = math.Inf(-1)
	}
	if math.IsNaN(hi) {
		hi = math.Inf(1)
	}
	if lo > hi {
		lo, hi = hi, lo
	}
	// Adding 0 makes a negative zero positive: no reader should meet "-0".
	return span{min(lo, math.MaxFloat64) + 0, max(hi, -math.MaxFloat64) + 0}
}

func (s span) middle() float64 {
	switch {
	case finite(s.lo) && finite(s.hi):
		return s.lo/2 + s.hi/2
	case finite(s.lo):
		return s.lo
	case finite(s.hi):
		return s.hi
	}
	return 0
}

func (s span) contains(v float64) bool { return s.lo <= v && v <= s.hi }

func (s span) String() string {
	if s.lo == s.hi {
		return fmt.Sprintf("%g", s.lo)
	}
	return fmt.Sprintf("%g to %g", s.lo, s.hi)
}

// hull is the smallest span that holds f of every pair of ends: the range of a function that is monotone in each
// argument.
func hull(x, y span, f func(a, b float64) float64) span {
	a, b, c, d := f(x.lo, y.lo), f(x.lo, y.hi), f(x.hi, y.lo), f(x.hi, y.hi)
	return newSpan(min(a, b, c, d), max(a, b, c, d))
}

func addSpans(x, y span) (span, error) { return newSpan(x.lo+y.lo, x.hi+y.hi), nil }

func subSpans(x, y span) (span, error) { return newSpan(x.lo-y.hi, x.hi-y.lo), nil }

func mulSpans(x, y span) (span, error) {
	return hull(x, y, func(a, b float64) float64 {
		if a == 0 || b == 0 {
			return 0
		}
		return a * b
	}), nil
}

func divSpans(x, y span) (span, error) {
	if y.contains(0) {
		return span{}, fmt.Errorf("%w: the divisor is %v", ErrDivideByZero, y)
	}
	return hull(x, y, func(a, b float64) float64 {
		if math.IsInf(b, 0) {
			return 0 // the limit; that a / b also grows without limit for small b is seen at the other end of y
		}
		return a / b
	}), nil
}

// powSpans: with a whole exact exponent any base will do; else the base must not be negative, and x^y is then monotone
// in x for every y and in y for every x.
func powSpans(x, y span) (span, error) {
	whole := y.lo == y.hi && y.lo == math.Trunc(y.lo)
	switch {
	case x.contains(0) && y.lo < 0:
		return span{}, fmt.Errorf("%w: %v to the power %v", ErrDivideByZero, x, y)
	case x.lo < 0 && !whole:
		return span{}, fmt.Errorf("%w: %v to the power %v", ErrNegativeRoot, x, y)
	}
	s := hull(x, y, math.Pow)
	if x.lo < 0 && x.hi > 0 && y.lo > 0 && math.Mod(y.lo, 2) == 0 {
		s.lo = 0 // an even power turns at 0
	}
	return s, nil
}
