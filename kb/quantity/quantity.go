// Package quantity does arithmetic on uncertain quantities.
//
// A quantity is one of three things:
//
//   - exact, a number of the rule's author;
//   - measured, a value that rests on readings. It carries its partial derivative by each reading it rests on, so that
//     uncertainty is propagated to first order with all correlations (JCGM 100:2008, 5.1.2 and 5.2.2), and a reading that is
//     used twice cancels as it must: x - x is 0 with no uncertainty at all;
//   - bounded, hard limits within which the value lies, perhaps infinite. As soon as a bounded quantity takes part, interval
//     arithmetic is done, and measured operands are first widened to their expanded interval, value ± 2u (k = 2).
//
// First order has its known limit: where a derivative is 0 the uncertainty vanishes, so the square of 0 ± u comes out
// as 0 ± 0. Where a function has a kink (Abs, Min, Max) and the readings don't say on which side of it they lie, the
// result is bounded instead. The ends of intervals are rounded to nearest: an interval is sound for the arithmetic as a
// float64 does it.
//
// The unit of a quantity is its caller's business. Quantities are immutable, their slices may be shared.
package quantity

import "math"

// coverage is the coverage factor k of expanded intervals.
const coverage = 2

// Context carries what belongs to the readings rather than to a quantity: uncertainties and correlations.
type Context struct {
	// U is the standard uncertainty (k = 1) of each reading, by reading index. A reading that it lacks, or gives as
	// negative or NaN, has an infinite one: nothing is known of it, so no comparison is decided by it.
	U []float64
	// R is the correlation coefficient of two different readings, symmetrical, from -1 to 1; nil means independent.
	R func(i, j int) float64
}

// Q is a quantity. The zero value is an exact 0.
type Q struct {
	// Value is the best estimate. Of a bounded quantity it is only a stand-in (the middle, the finite end, or 0), of
	// which nothing is computed.
	Value float64
	// Partials are the derivatives of Value by reading: sorted by reading, none twice, none 0. Empty when exact or
	// bounded.
	Partials []Partial
	// Bounded says that Lo and Hi, which may be infinite, hold the value; else they are 0.
	Bounded bool
	Lo, Hi  float64
}

// Partial is the partial derivative of a quantity by one reading.
type Partial struct {
	Reading int
	D       float64
}

// Exact is a number without uncertainty.
func Exact(v float64) Q { return Q{Value: v} }

// Measured is the value of a reading itself; reading is its index in Context.U.
func Measured(v float64, reading int) Q {
	if reading >= 0 && reading < len(ones) {
		return Q{Value: v, Partials: ones[reading : reading+1 : reading+1]}
	}
	return Q{Value: v, Partials: []Partial{{Reading: reading, D: 1}}}
}

// ones are the partial derivatives of the first readings by themselves: nobody writes into a quantity's partials.
var ones = func() (out [64]Partial) {
	for i := range out {
		out[i] = Partial{Reading: i, D: 1}
	}
	return out
}()

// Between is a quantity known to lie from lo to hi, both included; either may be infinite. Ends in the wrong order are
// swapped, and an end that is NaN bounds nothing.
func Between(lo, hi float64) Q {
	s := newSpan(lo, hi)
	return Q{Value: s.middle(), Bounded: true, Lo: s.lo, Hi: s.hi}
}

// Above is a quantity known to be more than v. The bound itself is left out, so that "above 1.81" decides x > 1.81.
func Above(v float64) Q { return Between(math.Nextafter(v, math.Inf(1)), math.Inf(1)) }

// Below is a quantity known to be less than v, v itself left out.
func Below(v float64) Q { return Between(math.Inf(-1), math.Nextafter(v, math.Inf(-1))) }

// Interval is the expanded interval (k = 2) of a measured quantity, the hard limits of a bounded one, and a point for
// an exact number. What is not finite gives the whole line; neither end is ever NaN.
func (q Q) Interval(ctx *Context) (lo, hi float64) {
	if q.Bounded {
		return q.Lo, q.Hi
	}
	u := q.Uncertainty(ctx)
	if !finite(q.Value) || math.IsInf(u, 1) {
		return math.Inf(-1), math.Inf(1)
	}
	return q.Value - coverage*u, q.Value + coverage*u
}

// Uncertainty is the combined standard uncertainty (k = 1), sqrt(sum_i sum_j d_i d_j u_i u_j r_ij), JCGM 100:2008,
// 5.2.2. It is 0 for an exact number and never NaN. Of hard limits it is that of the rectangular distribution between
// them, half the width over sqrt(3) (4.3.7), infinite where a limit is. Correlations that no readings can have (a
// coefficient beyond ±1, or together a negative variance) give the largest uncertainty that any correlations would,
// sum_i |d_i| u_i.
func (q Q) Uncertainty(ctx *Context) float64 {
	if q.Bounded {
		return (q.Hi/2 - q.Lo/2) / math.Sqrt(3)
	}
	if len(q.Partials) == 1 {
		return math.Abs(contribution(ctx, q.Partials[0]))
	}
	parts, largest := contributions(ctx, q.Partials)
	if largest == 0 || math.IsInf(largest, 1) {
		return largest
	}
	variance, possible := relativeVariance(ctx, q.Partials, parts, largest)
	if possible {
		return largest * math.Sqrt(variance)
	}
	sum := 0.0
	for _, p := range parts {
		sum += math.Abs(p)
	}
	return sum
}

// contribution is d u of one reading: the part of the uncertainty that it brings, with the sign of the derivative.
func contribution(ctx *Context, p Partial) float64 {
	u := math.Inf(1)
	if ctx != nil && p.Reading >= 0 && p.Reading < len(ctx.U) && ctx.U[p.Reading] >= 0 {
		u = ctx.U[p.Reading]
	}
	switch {
	case p.D == 0 || u == 0:
		return 0
	case math.IsNaN(p.D):
		return math.Inf(1)
	}
	return p.D * u
}

func contributions(ctx *Context, ps []Partial) (parts []float64, largest float64) {
	parts = make([]float64, len(ps))
	for i, p := range ps {
		parts[i] = contribution(ctx, p)
		largest = max(largest, math.Abs(parts[i]))
	}
	return parts, largest
}

// relativeVariance is the combined variance in units of largest², so that neither tiny nor huge units under- or
// overflow.
func relativeVariance(ctx *Context, ps []Partial, parts []float64, largest float64) (variance float64, possible bool) {
	squares := 0.0
	for i, p := range parts {
		s := p / largest
		squares += float64(s * s)
		if ctx.R == nil {
			continue
		}
		for j := range i {
			r := ctx.R(ps[j].Reading, ps[i].Reading)
			if !(math.Abs(r) <= 1) {
				return 0, false
			}
			variance += float64(2 * s * (parts[j] / largest) * r)
		}
	}
	variance += squares
	// Full correlation cancels to a remainder of rounding, which may fall below 0.
	if variance < -1e-12*squares {
		return 0, false
	}
	return max(variance, 0), true
}

func finite(v float64) bool { return !math.IsNaN(v) && !math.IsInf(v, 0) }
