package quantity

import (
	"fmt"
	"math"
)

// Pow is a to the power b. A negative base needs a whole exponent that is exact, else ErrNegativeRoot; 0 to a negative
// power is ErrDivideByZero; 0 to the power 0 is 1.
func Pow(ctx *Context, a, b Q) (Q, error) {
	if a.Bounded || b.Bounded {
		return onSpans(ctx, a, b, powSpans)
	}
	whole := len(b.Partials) == 0 && b.Value == math.Trunc(b.Value)
	switch {
	case a.Value < 0 && !whole:
		return Q{}, fmt.Errorf("%w: %g to the power %g", ErrNegativeRoot, a.Value, b.Value)
	case a.Value == 0 && b.Value < 0:
		return Q{}, fmt.Errorf("%w: 0 to the power %g", ErrDivideByZero, b.Value)
	}
	v := math.Pow(a.Value, b.Value)
	var byBase, byExponent float64
	if len(a.Partials) > 0 && b.Value != 0 {
		byBase = b.Value * math.Pow(a.Value, b.Value-1)
	}
	if len(b.Partials) > 0 && (a.Value != 0 || b.Value == 0) {
		byExponent = v * math.Log(a.Value)
	}
	if !finite(byBase) || !finite(byExponent) {
		return measured(v, []Partial{{D: math.Inf(1)}})
	}
	return measured(v, linear(byBase, a.Partials, byExponent, b.Partials))
}

// Sqrt is the square root of a. Below 0, or bounded by an interval that reaches below 0, is ErrNegativeRoot; the root
// of a measured 0 has no finite uncertainty to first order and is ErrNotFinite.
func Sqrt(ctx *Context, a Q) (Q, error) {
	if x := domain(a); x.lo < 0 {
		return Q{}, fmt.Errorf("%w: the square root of %v", ErrNegativeRoot, x)
	}
	return Monotone(ctx, a, math.Sqrt, func(x float64) float64 { return 0.5 / math.Sqrt(x) })
}

// Monotone is f(a) for a function of the caller's, with its derivative; f must rise or fall throughout where a may lie,
// and take an infinite argument if a may have no limit. Where the domain of f is limited, checking a is the caller's
// part.
func Monotone(ctx *Context, a Q, f, derivative func(float64) float64) (Q, error) {
	if a.Bounded {
		return onSpan(ctx, a, func(x span) (span, error) { return newSpan(f(x.lo), f(x.hi)), nil })
	}
	return each(a, f, derivative)
}

// domain is where a function of a must be defined: all of hard limits, or the value itself, as first order looks no
// further.
func domain(a Q) span {
	if a.Bounded {
		return span{a.Lo, a.Hi}
	}
	return span{a.Value, a.Value}
}
