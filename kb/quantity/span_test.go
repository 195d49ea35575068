package quantity

import (
	"errors"
	"math"
	"testing"

	"pgregory.net/rapid"

	"whystone/kb/kbtest"
)

func TestIntervalArithmeticByHand(t *testing.T) {
	inf, c := math.Inf(1), &Context{U: []float64{0.1}}
	for name, k := range map[string]struct {
		q      Q
		lo, hi float64
	}{
		"[1, 2] + [10, 20]":        {must(Add(c, Between(1, 2), Between(10, 20))), 11, 22},
		"[1, 2] - [1, 2]":          {must(Sub(c, Between(1, 2), Between(1, 2))), -1, 1},
		"[-1, 2] * [-3, 4]":        {must(Mul(c, Between(-1, 2), Between(-3, 4))), -6, 8},
		"0 * [-inf, inf]":          {must(Mul(c, Exact(0), Between(-inf, inf))), 0, 0},
		"[0, inf] * [0, inf]":      {must(Mul(c, Between(0, inf), Between(0, inf))), 0, inf},
		"[-1, inf] * [0, 2]":       {must(Mul(c, Between(-1, inf), Between(0, 2))), -2, inf},
		"[1, 2] / [4, inf]":        {must(Div(c, Between(1, 2), Between(4, inf))), 0, 0.5},
		"[1, inf] / [4, inf]":      {must(Div(c, Between(1, inf), Between(4, inf))), 0, inf},
		"[-inf, inf] / 2":          {must(Div(c, Between(-inf, inf), Exact(2))), -inf, inf},
		"[1, 2] / [-4, -2]":        {must(Div(c, Between(1, 2), Between(-4, -2))), -1, -0.25},
		"[1e308, 1e308] * 10":      {must(Mul(c, Between(1e308, 1e308), Exact(10))), math.MaxFloat64, inf},
		"[-2, 3] ^ 2":              {must(Pow(c, Between(-2, 3), Exact(2))), 0, 9},
		"[-2, 3] ^ 3":              {must(Pow(c, Between(-2, 3), Exact(3))), -8, 27},
		"[-4, -2] ^ -1":            {must(Pow(c, Between(-4, -2), Exact(-1))), -0.5, -0.25},
		"[-2, 3] ^ 0":              {must(Pow(c, Between(-2, 3), Exact(0))), 1, 1},
		"[0.5, 2] ^ [-1, 3]":       {must(Pow(c, Between(0.5, 2), Between(-1, 3))), 0.125, 8},
		"[0, 4] ^ 0.5":             {must(Pow(c, Between(0, 4), Exact(0.5))), 0, 2},
		"sqrt [4, inf]":            {must(Sqrt(c, Between(4, inf))), 2, inf},
		"exp [-inf, 0]":            {must(exp(c, Between(-inf, 0))), 0, 1},
		"exp [0, 1000]":            {must(exp(c, Between(0, 1000))), 1, inf},
		"-[1, inf]":                {must(Neg(c, Between(1, inf))), -inf, -1},
		"-[0, 1]":                  {must(Neg(c, Between(0, 1))), -1, 0},
		"-[-1, 0]":                 {must(Neg(c, Between(-1, 0))), 0, 1},
		"(5 ± 2 * 0.1) + [0, 1]":   {must(Add(c, Measured(5, 0), Between(0, 1))), 4.8, 6.2},
		"[0, 1] - (5 ± 2 * 0.1)":   {must(Sub(c, Between(0, 1), Measured(5, 0))), -5.2, -3.8},
		"unknown reading + [0, 1]": {must(Add(c, Measured(5, 9), Between(0, 1))), -inf, inf},
		"between the wrong way":    {Between(3, 1), 1, 3},
		"between NaN and 1":        {Between(math.NaN(), 1), -inf, 1},
		"abs [-3, 2]":              {must(Abs(c, Between(-3, 2))), 0, 3},
		"abs [-3, -2]":             {must(Abs(c, Between(-3, -2))), 2, 3},
		"abs (0.1 ± 2 * 0.1)":      {must(Abs(c, Measured(0.1, 0))), 0, 0.3},
		"min([1, 4], [2, 3])":      {must(Min(c, Between(1, 4), Between(2, 3))), 1, 3},
		"max([1, 4], [2, inf])":    {must(Max(c, Between(1, 4), Between(2, inf))), 2, inf},
	} {
		lo, hi := k.q.Interval(c)
		if !k.q.Bounded || !same(lo, k.lo) || !same(hi, k.hi) || math.Signbit(lo) != math.Signbit(k.lo) ||
			math.Signbit(hi) != math.Signbit(k.hi) {
			t.Errorf("%s = [%g, %g], want [%g, %g]", name, lo, hi, k.lo, k.hi)
		}
		if !finite(k.q.Value) || k.q.Value < lo || k.q.Value > hi {
			t.Errorf("%s: stand-in value %g is not within it", name, k.q.Value)
		}
	}
}

func same(a, b float64) bool { return a == b || math.Abs(a-b) <= 1e-15*math.Abs(b) }

// Whatever numbers the operands really are, the result lies in the interval; and where the interval was given, no
// number in it is outside the domain.
func TestIntervalsAreSound(t *testing.T) {
	checked := 0
	rapid.Check(t, func(t *rapid.T) {
		ctx := &Context{U: []float64{0.05, 0.2, 0.01}}
		f := drawFormula(t, 3, 3, true)
		x := make([]Q, 3)
		for i := range x {
			x[i] = drawOperand(t, ctx, i)
		}
		q, err := f(ctx, x)
		if err != nil || !q.Bounded {
			return
		}
		for range 20 {
			point := make([]Q, 3)
			for i := range point {
				point[i] = Exact(drawInside(t, ctx, x[i]))
			}
			p, err := f(ctx, point)
			if errors.Is(err, ErrNotFinite) {
				continue // a number too large for the machine
			}
			if err != nil {
				t.Fatalf("the interval is %g to %g, but at %v: %v", q.Lo, q.Hi, point, err)
			}
			checked++
			slack := 1e-9 * max(1, math.Abs(p.Value))
			if p.Value < q.Lo-slack || p.Value > q.Hi+slack {
				t.Fatalf("%g at %v lies outside %g to %g", p.Value, point, q.Lo, q.Hi)
			}
		}
	})
	kbtest.Drawn(t, "points checked", checked, 200)
}

// drawOperand draws a bounded operand. A measured one is widened at once: what is done to it before that is first
// order, which claims no hard limits.
func drawOperand(t *rapid.T, ctx *Context, reading int) Q {
	v := rapid.Float64Range(-4, 8).Draw(t, "value")
	switch rapid.IntRange(0, 5).Draw(t, "operand") {
	case 0:
		return must(Add(ctx, Measured(v, reading), Between(0, 0)))
	case 1:
		return Above(v)
	case 2:
		return Below(v)
	}
	return Between(v, v+rapid.Float64Range(0, 4).Draw(t, "width"))
}

// drawInside draws a number that the operand may really be, its ends among them.
func drawInside(t *rapid.T, ctx *Context, q Q) float64 {
	lo, hi := q.Interval(ctx)
	lo, hi = max(lo, -1e3), min(hi, 1e3)
	if rapid.Bool().Draw(t, "at an end") {
		return rapid.SampledFrom([]float64{lo, hi}).Draw(t, "end")
	}
	return rapid.Float64Range(lo, hi).Draw(t, "inside")
}

// Soundness alone would be met by the whole line: for one operation on finite operands, the interval is also no wider
// than a dense grid of its operands shows.
func TestIntervalsAreTight(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		ops := []binaryOp{Add, Sub, Mul, Div, Pow, Min, Max}
		for _, op := range []unaryOp{Neg, Sqrt, exp, Abs} {
			ops = append(ops, func(ctx *Context, a, _ Q) (Q, error) { return op(ctx, a) })
		}
		op := ops[rapid.IntRange(0, len(ops)-1).Draw(t, "op")]
		draw := func() Q {
			lo := float64(rapid.IntRange(-4, 4).Draw(t, "lo"))
			return Between(lo, lo+float64(rapid.IntRange(0, 4).Draw(t, "width"))/2)
		}
		a, b := draw(), draw()
		if rapid.Bool().Draw(t, "whole") {
			b = Exact(math.Round(b.Lo))
		}
		q, err := op(nil, a, b)
		if err != nil {
			return
		}
		bl, bh := b.Interval(nil)
		lo, hi := math.Inf(1), math.Inf(-1)
		const steps = 60
		for i := range steps + 1 {
			for j := range steps + 1 {
				x := a.Lo + (a.Hi-a.Lo)*float64(i)/steps
				y := bl + (bh-bl)*float64(j)/steps
				p := must(op(nil, Exact(x), Exact(y)))
				lo, hi = min(lo, p.Value), max(hi, p.Value)
			}
		}
		qlo, qhi := q.Interval(nil)
		if slack := 0.02 * max(1, math.Abs(qlo), math.Abs(qhi)); lo-qlo > slack || qhi-hi > slack {
			t.Errorf("%g to %g, but a grid of %v and %v gives only %g to %g", qlo, qhi, a, b, lo, hi)
		}
	})
}

// TestBoundsLeaveTheirLimitOut: "above 1.81" decides x > 1.81, as a refractometer's liquid was passed, not met.
func TestBoundsLeaveTheirLimitOut(t *testing.T) {
	if q := Above(1.81); !(q.Lo > 1.81) || q.Lo > 1.81+1e-12 || !math.IsInf(q.Hi, 1) {
		t.Errorf("above 1.81 is from %v to %v", q.Lo, q.Hi)
	}
	if q := Below(2); !(q.Hi < 2) || q.Hi < 2-1e-12 || !math.IsInf(q.Lo, -1) {
		t.Errorf("below 2 is from %v to %v", q.Lo, q.Hi)
	}
}
