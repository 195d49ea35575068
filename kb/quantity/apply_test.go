package quantity

import (
	"errors"
	"math"
	"testing"

	"pgregory.net/rapid"
)

// A function that is applied is what the same arithmetic gives step by step.
func TestApplyAgreesWithArithmetic(t *testing.T) {
	f := func(x []float64) (float64, error) { return x[0] * x[1] / (1 + x[2]), nil }
	rapid.Check(t, func(t *rapid.T) {
		ctx := &Context{U: []float64{0.01, 0.02, 0.03}}
		// beside which step by step widens what is measured later than Apply does
		limits := rapid.Bool().Draw(t, "hard limits")
		draw := func(i int) Q {
			v := rapid.Float64Range(0.5, 4).Draw(t, "value")
			switch {
			case rapid.Bool().Draw(t, "exact"):
				return Exact(v)
			case limits:
				return Between(v, v+rapid.Float64Range(0, 1).Draw(t, "width"))
			}
			return Measured(v, i)
		}
		a, b, c := draw(0), draw(1), draw(2)
		got := must(Apply(ctx, f, a, b, c))
		want := must(Div(ctx, must(Mul(ctx, a, b)), must(Add(ctx, Exact(1), c))))
		lo, hi := got.Interval(ctx)
		wl, wh := want.Interval(ctx)
		if got.Bounded != want.Bounded || math.Abs(lo-wl) > 1e-7 || math.Abs(hi-wh) > 1e-7 {
			t.Errorf("applied %g to %g, step by step %g to %g", lo, hi, wl, wh)
		}
		// A reading that is used twice cancels.
		x := Measured(2, 0)
		if q := must(Apply(ctx, func(x []float64) (float64, error) { return x[0] - x[1], nil }, x,
			x)); q.Uncertainty(ctx) > 1e-12 {
			t.Errorf("x - x = %g ± %g", q.Value, q.Uncertainty(ctx))
		}
	})
}

func TestApplyRefusals(t *testing.T) {
	bad := errors.New("not there")
	f := func(x []float64) (float64, error) {
		if x[0] < 1 {
			return 0, bad
		}
		return 1 / (x[0] - 1), nil
	}
	for name, q := range map[string]Q{"value": Measured(0.5, 0), "slope": Measured(1+1e-9, 0), "end": Between(0, 3)} {
		if got, err := Apply(independent, f, q); !errors.Is(err, bad) {
			t.Errorf("%s: %v, %v", name, got, err)
		}
	}
	if got, err := Apply(independent, f, Exact(1)); !errors.Is(err, ErrNotFinite) {
		t.Errorf("no finite value: %v, %v", got, err)
	}
}
