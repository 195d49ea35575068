package quantity

import (
	"math"
	"testing"
)

func TestKinksOfMeasuredQuantities(t *testing.T) {
	c := &Context{U: []float64{0.1, 0.1}}
	// Clearly apart: the operand itself, so that it still cancels.
	low, high := Measured(1, 0), Measured(2, 1)
	for name, q := range map[string]Q{
		"min - low":  must(Sub(c, must(Min(c, low, high)), low)),
		"min' - low": must(Sub(c, must(Min(c, high, low)), low)),
		"max - high": must(Sub(c, must(Max(c, low, high)), high)),
		"abs + -3":   must(Sub(c, must(Abs(c, Measured(-3, 0))), must(Neg(c, Measured(-3, 0))))),
	} {
		if q.Bounded || q.Value != 0 || len(q.Partials) != 0 {
			t.Errorf("%s = %+v, want 0 with nothing left", name, q)
		}
	}
	// Overlapping: which is the lesser is not known, so bounds that hold either way.
	near := Measured(1.1, 1)
	if q := must(Min(c, low, near)); !q.Bounded || !same(q.Lo, 0.8) || !same(q.Hi, 1.2) {
		t.Errorf("min(1 ± 0.1, 1.1 ± 0.1) = %+v, want 0.8 to 1.2", q)
	}
	if q := must(Max(c, low, near)); !q.Bounded || !same(q.Lo, 0.9) || !same(q.Hi, 1.3) {
		t.Errorf("max(1 ± 0.1, 1.1 ± 0.1) = %+v, want 0.9 to 1.3", q)
	}
	// The same two readings, fully correlated, keep their order for certain.
	c.R = func(int, int) float64 { return 1 }
	if q := must(Min(c, low, near)); q.Bounded || q.Value != 1 || q.Uncertainty(c) != 0.1 {
		t.Errorf("min of fully correlated readings = %+v, want the first", q)
	}
	if q := must(Max(c, low, low)); q.Bounded || q.Value != 1 || partial(q, 0) != 1 {
		t.Errorf("max(x, x) = %+v, want x", q)
	}
	if q := must(Min(c, Between(math.Inf(-1), 1), Exact(2))); q.Hi != 1 || !math.IsInf(q.Lo, -1) {
		t.Errorf("min(below 1, 2) = %+v", q)
	}
}
