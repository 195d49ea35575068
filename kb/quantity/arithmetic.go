package quantity

import (
	"fmt"
	"math"
)

// Add is a + b.
func Add(ctx *Context, a, b Q) (Q, error) {
	if a.Bounded || b.Bounded {
		return onSpans(ctx, a, b, addSpans)
	}
	return measured(a.Value+b.Value, linear(1, a.Partials, 1, b.Partials))
}

// Sub is a - b.
func Sub(ctx *Context, a, b Q) (Q, error) {
	if a.Bounded || b.Bounded {
		return onSpans(ctx, a, b, subSpans)
	}
	return measured(a.Value-b.Value, linear(1, a.Partials, -1, b.Partials))
}

// Mul is a times b.
func Mul(ctx *Context, a, b Q) (Q, error) {
	if a.Bounded || b.Bounded {
		return onSpans(ctx, a, b, mulSpans)
	}
	return measured(a.Value*b.Value, linear(b.Value, a.Partials, a.Value, b.Partials))
}

// Div is a / b. A divisor that is 0, or bounded by an interval that contains 0, is ErrDivideByZero.
func Div(ctx *Context, a, b Q) (Q, error) {
	if a.Bounded || b.Bounded {
		return onSpans(ctx, a, b, divSpans)
	}
	if b.Value == 0 {
		return Q{}, fmt.Errorf("%w: the divisor is 0", ErrDivideByZero)
	}
	q := a.Value / b.Value
	// (da - q db) / b rather than da/b - a db/b²: x / x then cancels exactly.
	ps := linear(1, a.Partials, -q, b.Partials)
	if len(ps) > 0 && b.Value != 1 {
		scaled := make([]Partial, len(ps))
		for i, p := range ps {
			scaled[i] = Partial{p.Reading, p.D / b.Value}
		}
		ps = scaled
	}
	return measured(q, ps)
}

// Neg is -a.
func Neg(_ *Context, a Q) (Q, error) {
	if a.Bounded {
		return Between(-a.Hi, -a.Lo), nil
	}
	return measured(0-a.Value, linear(-1, a.Partials, 0, nil))
}

// measured makes a quantity of a first-order result, refusing what is not finite.
func measured(v float64, ps []Partial) (Q, error) {
	if !finite(v) {
		return Q{}, fmt.Errorf("%w: the result is %v", ErrNotFinite, v)
	}
	for _, p := range ps {
		if !finite(p.D) {
			return Q{}, fmt.Errorf("%w: the result is %g, but a reading's share in its uncertainty has no limit there",
				ErrNotFinite, v)
		}
	}
	return Q{Value: v, Partials: ps}, nil
}

// linear is the partial derivatives of fa*a + fb*b, those that cancel left out.
func linear(fa float64, a []Partial, fb float64, b []Partial) []Partial {
	if len(b) == 0 && fa == 1 {
		return a
	}
	if len(a) == 0 && fb == 1 {
		return b
	}
	out := make([]Partial, 0, len(a)+len(b))
	for i, j := 0, 0; i < len(a) || j < len(b); {
		var p Partial
		switch {
		case j == len(b) || i < len(a) && a[i].Reading < b[j].Reading:
			p = Partial{a[i].Reading, fa * a[i].D}
			i++
		case i == len(a) || b[j].Reading < a[i].Reading:
			p = Partial{b[j].Reading, fb * b[j].D}
			j++
		default:
			// The conversions keep a compiler from fusing the sum, which would make x*y - y*x differ from 0 on some
			// machines.
			p = Partial{a[i].Reading, float64(fa*a[i].D) + float64(fb*b[j].D)}
			i, j = i+1, j+1
		}
		if p.D != 0 {
			out = append(out, p)
		}
	}
	if len(out) == 0 {
		return nil
	}
	return out
}

// toSpan is the interval that stands for q in interval arithmetic.
func toSpan(ctx *Context, q Q) (span, error) {
	if !q.Bounded && !finite(q.Value) {
		return span{}, fmt.Errorf("%w: an operand is %v", ErrNotFinite, q.Value)
	}
	return newSpan(q.Interval(ctx)), nil
}

func onSpans(ctx *Context, a, b Q, f func(x, y span) (span, error)) (Q, error) {
	x, err := toSpan(ctx, a)
	if err != nil {
		return Q{}, err
	}
	return onSpan(ctx, b, func(y span) (span, error) { return f(x, y) })
}

func onSpan(ctx *Context, a Q, f func(x span) (span, error)) (Q, error) {
	x, err := toSpan(ctx, a)
	if err != nil {
		return Q{}, err
	}
	s, err := f(x)
	if err != nil {
		return Q{}, err
	}
	return Between(s.lo, s.hi), nil
}

// each applies a function with a known derivative to a measured or exact quantity. The derivative is asked for only
// where there is something to propagate: sqrt(0) is fine when the 0 is exact.
func each(a Q, f, derivative func(float64) float64) (Q, error) {
	v := f(a.Value)
	if len(a.Partials) == 0 {
		return measured(v, nil)
	}
	d := derivative(a.Value)
	if math.IsNaN(d) || math.IsInf(d, 0) {
		return measured(v, []Partial{{D: d}})
	}
	return measured(v, linear(d, a.Partials, 0, nil))
}
