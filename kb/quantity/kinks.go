package quantity

import "math"

// Abs is the absolute value of a. Where the expanded interval of a measured a lies on one side of 0 it is a or -a, with
// its uncertainty; where it straddles 0 no derivative describes it, and the result is bounded, from 0 to the farther
// end.
func Abs(ctx *Context, a Q) (Q, error) {
	x, err := toSpan(ctx, a)
	switch {
	case err != nil:
		return Q{}, err
	case x.lo >= 0:
		return a, nil
	case x.hi <= 0:
		return Neg(ctx, a)
	}
	return Between(0, max(-x.lo, x.hi)), nil
}

// Min is the lesser of a and b. When the expanded interval of a - b (correlations counted) doesn't straddle 0 it is the
// lesser operand itself, with its uncertainty, and a if they are equal. When the readings don't say which is the
// lesser, it is bounded, from the lesser of the lower ends to the lesser of the upper ends of the two intervals: that
// holds whichever it is.
func Min(ctx *Context, a, b Q) (Q, error) { return pick(ctx, a, b, -1) }

// Max is the greater of a and b, by the rule of Min.
func Max(ctx *Context, a, b Q) (Q, error) { return pick(ctx, a, b, 1) }

// pick is Min (side -1) or Max (side 1).
func pick(ctx *Context, a, b Q, side float64) (Q, error) {
	x, err := toSpan(ctx, a)
	if err != nil {
		return Q{}, err
	}
	y, err := toSpan(ctx, b)
	if err != nil {
		return Q{}, err
	}
	d, err := Sub(ctx, a, b)
	if err != nil {
		return Q{}, err
	}
	lo, hi := d.Interval(ctx)
	switch {
	case lo*side >= 0 && hi*side >= 0:
		return a, nil
	case lo*side <= 0 && hi*side <= 0:
		return b, nil
	case side < 0:
		return Between(math.Min(x.lo, y.lo), math.Min(x.hi, y.hi)), nil
	}
	return Between(math.Max(x.lo, y.lo), math.Max(x.hi, y.hi)), nil
}
