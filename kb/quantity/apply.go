package quantity

import "math"

// Apply is f of several quantities, for a function of the caller's that rises or falls throughout in each of its
// arguments. Of measured ones the uncertainty is of first order, by central differences; of hard limits the result's
// lie at their ends. What f refuses is refused.
func Apply(ctx *Context, f func(x []float64) (float64, error), args ...Q) (Q, error) {
	x, owner := room(len(args))
	defer leave(owner)
	bounded := false
	for i, a := range args {
		x[i] = a.Value
		bounded = bounded || a.Bounded
	}
	if bounded {
		return applyAtEnds(ctx, f, args, x)
	}
	v, err := f(x)
	if err != nil {
		return Q{}, err
	}
	var ps []Partial
	for i, a := range args {
		if len(a.Partials) == 0 {
			continue
		}
		slope, err := slopeOf(f, x, i)
		if err != nil {
			return Q{}, err
		}
		ps = linear(1, ps, slope, a.Partials)
	}
	return measured(v, ps)
}

// slopeOf is the derivative of f by its i-th argument.
func slopeOf(f func([]float64) (float64, error), x []float64, i int) (float64, error) {
	at, h := x[i], 1e-5*max(math.Abs(x[i]), 1e-3)
	defer func() { x[i] = at }()
	x[i] = at + h
	up, err := f(x)
	if err != nil {
		return 0, err
	}
	x[i] = at - h
	down, err := f(x)
	return (up - down) / (2 * h), err
}

// applyAtEnds asks f at every combination of the ends of its arguments.
func applyAtEnds(ctx *Context, f func([]float64) (float64, error), args []Q, x []float64) (Q, error) {
	low, high := math.Inf(1), math.Inf(-1)
	for corner := range 1 << len(args) {
		for i, a := range args {
			s, err := toSpan(ctx, a)
			if err != nil {
				return Q{}, err
			}
			if x[i] = s.lo; corner>>i&1 == 1 {
				x[i] = s.hi
			}
		}
		v, err := f(x)
		if err != nil {
			return Q{}, err
		}
		low, high = min(low, v), max(high, v)
	}
	return Between(low, high), nil
}
