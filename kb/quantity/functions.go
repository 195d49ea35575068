package quantity

import (
	"fmt"
	"math"
)

// Pow is a to the power b. A negative base needs a whole exponent that is exact, else ErrNegativeRoot; 0 to a negative power is
// ErrDivideByNought; 0 to the power 0 is 1.
func Pow(ctx *Context, a, b Q) (Q, error) {
	if a.Bounded || b.Bounded {
		return onSpans(ctx, a, b, powSpans)
	}
	whole := len(b.Partials) == 0 && b.Value == math.Trunc(b.Value)
	switch {
	case a.Value < 0 && !whole:
		return Q{}, fmt.Errorf("%w: %g to the power %g", ErrNegativeRoot, a.Value, b.Value)
	case a.Value == 0 && b.Value < 0:
		return Q{}, fmt.Errorf("%w: 0 to the power %g", ErrDivideByNought, b.Value)
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

// Sqrt is the square root of a. Below 0, or bounded by an interval that reaches below 0, is ErrNegativeRoot; the root of a
// measured 0 has no finite uncertainty to first order and is ErrNotFinite.
func Sqrt(ctx *Context, a Q) (Q, error) {
	if x := domain(a); x.lo < 0 {
		return Q{}, fmt.Errorf("%w: the square root of %v", ErrNegativeRoot, x)
	}
	return Monotone(ctx, a, math.Sqrt, func(x float64) float64 { return 0.5 / math.Sqrt(x) })
}

// Exp is e to the power a.
func Exp(ctx *Context, a Q) (Q, error) { return Monotone(ctx, a, math.Exp, math.Exp) }

// Monotone is f(a) for a function of the caller's, with its derivative; f must rise or fall throughout where a may lie, and take
// an infinite argument if a may have no limit. Where the domain of f is limited, checking a is the caller's part.
func Monotone(ctx *Context, a Q, f, derivative func(float64) float64) (Q, error) {
	if a.Bounded {
		return onSpan(ctx, a, func(x span) (span, error) { return newSpan(f(x.lo), f(x.hi)), nil })
	}
	return each(a, f, derivative)
}

// Log is the natural logarithm of a. What is not above 0, or bounded by an interval that isn't, is ErrLogarithm.
func Log(ctx *Context, a Q) (Q, error) {
	if x := domain(a); x.lo <= 0 {
		return Q{}, fmt.Errorf("%w: %v", ErrLogarithm, x)
	}
	return Monotone(ctx, a, math.Log, func(x float64) float64 { return 1 / x })
}

// domain is where a function of a must be defined: all of hard limits, or the value itself, as first order looks no further.
func domain(a Q) span {
	if a.Bounded {
		return span{a.Lo, a.Hi}
	}
	return span{a.Value, a.Value}
}

// Sin is the sine of a, in radians.
func Sin(ctx *Context, a Q) (Q, error) {
	if a.Bounded {
		return onSpan(ctx, a, sinSpan)
	}
	return each(a, math.Sin, math.Cos)
}

// Cos is the cosine of a, in radians.
func Cos(ctx *Context, a Q) (Q, error) {
	if a.Bounded {
		return onSpan(ctx, a, cosSpan)
	}
	return each(a, math.Cos, func(x float64) float64 { return -math.Sin(x) })
}
