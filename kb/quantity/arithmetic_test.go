package quantity

import (
	"errors"
	"math"
	"testing"

	"pgregory.net/rapid"

	"whystone/kb/kbtest"
)

// independent readings 0, 1, 2 with plain uncertainties.
var independent = &Context{U: []float64{0.1, 0.2, 0.3}}

// A reading used twice cancels, bit for bit: no remainder of rounding may be left as an uncertainty.
func TestReadingsCancel(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		c := independent
		value := rapid.Float64Range(-1e6, 1e6).Filter(func(v float64) bool { return math.Abs(v) > 1e-6 })
		x, y := Measured(value.Draw(t, "x"), 0), Measured(value.Draw(t, "y"), 1)
		k := Exact(rapid.SampledFrom([]float64{-4, 1, 2, 8}).Draw(t, "k")) // others leave the rounding of k x
		for name, got := range map[string]struct {
			q    Q
			want float64
		}{
			"x - x":         {must(Sub(c, x, x)), 0},
			"x / x":         {must(Div(c, x, x)), 1},
			"x y - y x":     {must(Sub(c, must(Mul(c, x, y)), must(Mul(c, y, x)))), 0},
			"x + y - y - x": {must(Sub(c, must(Sub(c, must(Add(c, x, y)), must(Add(c, y, x)))), Exact(0))), 0},
			"k x / x":       {must(Div(c, must(Mul(c, k, x)), x)), k.Value},
			"x x - x^2":     {must(Sub(c, must(Mul(c, x, x)), must(Pow(c, x, Exact(2))))), 0},
			"x + (-x)":      {must(Add(c, x, must(Neg(c, x)))), 0},
			"0 x":           {must(Mul(c, Exact(0), x)), 0},
			"min(x, x) - x": {must(Sub(c, must(Min(c, x, x)), x)), 0},
		} {
			if len(got.q.Partials) != 0 || got.q.Uncertainty(c) != 0 || got.q.Value != got.want || got.q.Bounded {
				t.Errorf("%s = %+v, want exactly %g with nothing left", name, got.q, got.want)
			}
		}
	})
}

// Partial derivatives against central differences of the same formula in plain numbers.
func TestPartialsAgainstCentralDifferences(t *testing.T) {
	compared := 0
	rapid.Check(t, func(t *rapid.T) {
		f := drawFormula(t, 4, 3, false)
		x := make([]float64, 3)
		for i := range x {
			x[i] = rapid.Float64Range(0.5, 3).Draw(t, "x")
		}
		q, err := f(independent, []Q{Measured(x[0], 0), Measured(x[1], 1), Measured(x[2], 2)})
		if err != nil || math.Abs(q.Value) > 1e4 {
			return
		}
		for i, p := range q.Partials {
			if i > 0 && q.Partials[i-1].Reading >= p.Reading || p.D == 0 {
				t.Fatalf("partials not sorted, doubled or zero: %+v", q.Partials)
			}
		}
		for i := range x {
			wide, ok1 := slope(f, x, i, 2e-5)
			narrow, ok2 := slope(f, x, i, 1e-5)
			// How far the two steps differ tells how well differences follow the formula.
			if d := partial(q, i); ok1 && ok2 {
				compared++
				if math.Abs(narrow-d) > 1e-5*(1+math.Abs(d))+4*math.Abs(wide-narrow) {
					t.Errorf("derivative by x%d = %g, differences give %g", i, d, narrow)
				}
			}
		}
	})
	kbtest.Drawn(t, "derivatives compared", compared, 50)
}

// slope is a central difference of f by variable i; ok is false where f leaves its domain within the step.
func slope(f formula, x []float64, i int, h float64) (d float64, ok bool) {
	at := func(v float64) (Q, error) {
		y := []Q{Exact(x[0]), Exact(x[1]), Exact(x[2])}
		y[i] = Exact(v)
		return f(independent, y)
	}
	up, err1 := at(x[i] + h)
	down, err2 := at(x[i] - h)
	return (up.Value - down.Value) / (2 * h), err1 == nil && err2 == nil
}

func TestUncertaintyFollowsCorrelation(t *testing.T) {
	x, y := Measured(3, 0), Measured(2, 1)
	for _, c := range []struct{ r, sum, difference float64 }{
		{0, math.Sqrt(0.05), math.Sqrt(0.05)},
		{1, 0.3, 0.1},
		{-1, 0.1, 0.3},
		{0.5, math.Sqrt(0.05 + 0.02), math.Sqrt(0.05 - 0.02)},
	} {
		ctx := &Context{U: []float64{0.1, 0.2}, R: func(int, int) float64 { return c.r }}
		if u := must(Add(ctx, x, y)).Uncertainty(ctx); !near(u, c.sum, 1e-12) {
			t.Errorf("r = %g: u(x + y) = %g, want %g", c.r, u, c.sum)
		}
		if u := must(Sub(ctx, x, y)).Uncertainty(ctx); !near(u, c.difference, 1e-12) {
			t.Errorf("r = %g: u(x - y) = %g, want %g", c.r, u, c.difference)
		}
	}
}

// Nonsense in the context never turns into NaN, nor into certainty that isn't there.
func TestUncertaintyOfNonsense(t *testing.T) {
	inf, nan := math.Inf(1), math.NaN()
	three := Q{Value: 1, Partials: []Partial{{0, 1}, {1, 1}, {2, 1}}}
	constant := func(r float64) func(int, int) float64 { return func(int, int) float64 { return r } }
	for name, c := range map[string]struct {
		ctx  *Context
		want float64
	}{
		"no context":             {nil, inf},
		"a reading missing":      {&Context{U: []float64{0.1, 0.1}}, inf},
		"NaN uncertainty":        {&Context{U: []float64{0.1, nan, 0.1}}, inf},
		"negative uncertainty":   {&Context{U: []float64{0.1, -1, 0.1}}, inf},
		"infinite uncertainty":   {&Context{U: []float64{0.1, inf, 0.1}, R: constant(0)}, inf},
		"NaN correlation":        {&Context{U: []float64{0.1, 0.1, 0.1}, R: constant(nan)}, 0.3},
		"correlation beyond one": {&Context{U: []float64{0.1, 0.1, 0.1}, R: constant(1.5)}, 0.3},
		"impossible together":    {&Context{U: []float64{0.1, 0.1, 0.1}, R: constant(-0.9)}, 0.3},
		"tiny":                   {&Context{U: []float64{1e-300, 0, 0}}, 1e-300},
		"huge":                   {&Context{U: []float64{3e300, 4e300, 0}}, 5e300},
	} {
		if u := three.Uncertainty(c.ctx); !(u == c.want || math.Abs(u-c.want) <= 1e-12*c.want) {
			t.Errorf("%s: u = %g, want %g", name, u, c.want)
		}
	}
	if lo, hi := three.Interval(nil); !math.IsInf(lo, -1) || !math.IsInf(hi, 1) {
		t.Errorf("interval of unknown uncertainty = %g to %g", lo, hi)
	}
	if u := Exact(7).Uncertainty(nil); u != 0 {
		t.Errorf("u of an exact number = %g", u)
	}
	if u := Between(1, 3).Uncertainty(nil); !near(u, 1/math.Sqrt(3), 1e-15) {
		t.Errorf("u of 1 to 3 = %g, want the rectangular 1/sqrt(3)", u)
	}
}

func TestRefusals(t *testing.T) {
	c, x := independent, Measured(0, 0)
	whole := Between(math.Inf(-1), math.Inf(1))
	pair := func(op binaryOp, a, b Q) error { _, err := op(c, a, b); return err }
	one := func(op unaryOp, a Q) error { _, err := op(c, a); return err }
	for name, k := range map[string]struct{ err, want error }{
		"1 / 0":                    {pair(Div, Exact(1), x), ErrDivideByZero},
		"1 / [-1, 1]":              {pair(Div, Exact(1), Between(-1, 1)), ErrDivideByZero},
		"1 / [0, 1]":               {pair(Div, Exact(1), Between(0, 1)), ErrDivideByZero},
		"[1, 2] / (0.1 ± 0.1)":     {pair(Div, Between(1, 2), Measured(0.1, 0)), ErrDivideByZero},
		"0 ^ -1":                   {pair(Pow, x, Exact(-1)), ErrDivideByZero},
		"[-1, 1] ^ -2":             {pair(Pow, Between(-1, 1), Exact(-2)), ErrDivideByZero},
		"(-2) ^ 0.5":               {pair(Pow, Exact(-2), Exact(0.5)), ErrNegativeRoot},
		"(-2) ^ measured 2":        {pair(Pow, Exact(-2), Measured(2, 0)), ErrNegativeRoot},
		"[-1, 1] ^ [1, 2]":         {pair(Pow, Between(-1, 1), Between(1, 2)), ErrNegativeRoot},
		"0 ^ 0.5, measured":        {pair(Pow, x, Exact(0.5)), ErrNotFinite},
		"0 ^ measured 0":           {pair(Pow, Exact(0), x), ErrNotFinite},
		"sqrt -1":                  {one(Sqrt, Exact(-1)), ErrNegativeRoot},
		"sqrt [-1, 1]":             {one(Sqrt, Between(-1, 1)), ErrNegativeRoot},
		"sqrt of a measured 0":     {one(Sqrt, x), ErrNotFinite},
		"exp 1000":                 {one(exp, Exact(1000)), ErrNotFinite},
		"1e308 * 1e308":            {pair(Mul, Exact(1e308), Exact(1e308)), ErrNotFinite},
		"NaN + 1":                  {pair(Add, Exact(math.NaN()), Exact(1)), ErrNotFinite},
		"infinity - infinity":      {pair(Sub, Exact(math.Inf(1)), Exact(math.Inf(1))), ErrNotFinite},
		"NaN + the whole line":     {pair(Add, whole, Exact(math.NaN())), ErrNotFinite},
		"min(NaN, 1)":              {pair(Min, Exact(math.NaN()), Exact(1)), ErrNotFinite},
		"abs NaN":                  {one(Abs, Exact(math.NaN())), ErrNotFinite},
		"sqrt of an exact 0":       {one(Sqrt, Exact(0)), nil},
		"whole line + whole line":  {pair(Add, whole, whole), nil},
		"0 ^ 0.5, exact":           {pair(Pow, Exact(0), Exact(0.5)), nil},
		"(-2) ^ 3":                 {pair(Pow, Measured(-2, 0), Exact(3)), nil},
		"[-1, 1] ^ 2":              {pair(Pow, Between(-1, 1), Exact(2)), nil},
		"[1, 2] / (0.5 ± 2 * 0.1)": {pair(Div, Between(1, 2), Measured(0.5, 0)), nil},
	} {
		if !errors.Is(k.err, k.want) {
			t.Errorf("%s: error %v, want %v", name, k.err, k.want)
		}
	}
}
