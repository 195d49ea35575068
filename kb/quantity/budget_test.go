package quantity

import (
	"errors"
	"math"
	"math/rand/v2"
	"testing"

	"pgregory.net/rapid"
)

// Source: testdata/published/jcgm101_mass.csv. First order misses the buoyancy of air; second order must not.
func TestMassCalibrationJCGM101(t *testing.T) {
	var in []Input
	want := map[string]map[string]string{}
	for _, row := range published(t, "jcgm101_mass.csv") {
		if row["kind"] == "output" {
			want[row["name"]] = row
			continue
		}
		i := Input{Name: row["name"]}
		if row["value"] != "" {
			i.Value, i.U = number(t, row["value"]), number(t, row["uncertainty"])
		} else {
			low, high := number(t, row["low"]), number(t, row["high"])
			i.Value, i.U = (low+high)/2, (high-low)/2/math.Sqrt(3)
		}
		in = append(in, i)
	}
	b := must(Propagate(in, func(x []float64) (float64, error) {
		return (x[0]+x[1])*(1+(x[2]-1.2)*(1/x[3]-1/x[4])) - 100000, nil
	}))
	for name, u := range map[string]float64{"first order": b.First, "second order": b.U} {
		row := want[name]
		if math.Abs(b.Value-number(t, row["value"])) > half(row["value"]) ||
			math.Abs(u-number(t, row["uncertainty"])) > half(row["uncertainty"]) {
			t.Errorf("%s: %.5f ± %.5f, published %s ± %s", name, b.Value, u, row["value"], row["uncertainty"])
		}
	}
	if simulated := number(t, want["Monte Carlo"]["uncertainty"]); math.Abs(b.U-simulated) > 0.01*simulated {
		t.Errorf("second order gives %.4f, the simulation %.4f", b.U, simulated)
	}
	if len(in) != 5 || len(want) != 3 {
		t.Errorf("%d inputs, %d outputs: the table is not whole", len(in), len(want))
	}
}

// Source: JCGM 100:2008, example H.1: every contribution of its table, 32 nm of first order, 34 nm with the second.
func TestBudgetOfEndGaugeJCGM100H1(t *testing.T) {
	var in []Input
	want := map[string]map[string]string{}
	for _, row := range published(t, "jcgm100_h1.csv") {
		if row["kind"] == "input" {
			in = append(in, Input{Name: row["name"], Value: number(t, row["estimate"]), U: standardUncertainty(t, row)})
			continue
		}
		want[row["kind"]+" "+row["name"]] = row
	}
	at := map[string]int{}
	for i := range in {
		at[in[i].Name] = i
	}
	b := must(Propagate(in, func(x []float64) (float64, error) {
		v := func(name string) float64 { return x[at[name]] }
		expansion := v("d_alpha")*(v("theta_mean")+v("theta_cyclic")) + v("alpha_s")*v("d_theta")
		return v("ls")*(1-expansion) + v("d_mean") + v("d_random") + v("d_systematic"), nil
	}))
	checked := 0
	for _, p := range b.Parts {
		row, ok := want["contribution "+p.Name]
		if !ok {
			continue
		}
		checked++
		if math.Abs(p.Contribution-number(t, row["uncertainty"])) > half(row["uncertainty"]) {
			t.Errorf("%s brings %.4g, published %s", p.Name, p.Contribution, row["uncertainty"])
		}
	}
	for name, got := range map[string]float64{"output u_c": b.First, "output u_c_second_order": b.U} {
		if text := want[name]["uncertainty"]; math.Abs(got-number(t, text)) > half(text) {
			t.Errorf("%s = %.4g, published %s", name, got, text)
		}
	}
	if checked < 6 {
		t.Errorf("only %d contributions checked", checked)
	}
}

// The square of 0 ± u: first order has nothing, the variance of a squared normal variable is 2 u⁴ (textbook).
func TestSecondOrderWhereTheFirstVanishes(t *testing.T) {
	b := must(Propagate([]Input{{Name: "x", U: 0.3}}, func(x []float64) (float64, error) { return x[0] * x[0], nil }))
	if b.First > 1e-12 || math.Abs(b.U-math.Sqrt2*0.09) > 1e-9 {
		t.Errorf("(0 ± 0.3)² = %g ± %g, of first order %g", b.Value, b.U, b.First)
	}
}

// Third derivatives count: the variances of x³ and of x y² in normal variables are known in closed form (moments of the
// normal distribution, textbook), and the second order has all of them but the sixth power of the uncertainties.
func TestThirdDerivatives(t *testing.T) {
	const a, b, u, v = 1.2, 0.7, 0.02, 0.03
	cube := must(Propagate([]Input{{Value: a, U: u}}, func(x []float64) (float64, error) {
		return x[0] * x[0] * x[0],
			nil
	}))
	exact := 9*math.Pow(a, 4)*u*u + 36*a*a*math.Pow(u, 4) + 15*math.Pow(u, 6)
	mixed := must(Propagate([]Input{{Value: a, U: u}, {Value: b, U: v}},
		func(x []float64) (float64, error) { return x[0] * x[1] * x[1], nil }))
	square := b*b + v*v
	exactMixed := (a*a+u*u)*(math.Pow(b, 4)+6*b*b*v*v+3*math.Pow(v, 4)) - a*a*square*square
	for name, got := range map[string][2]float64{"x³": {cube.U * cube.U, exact},
		"x y²": {mixed.U * mixed.U, exactMixed}} {
		if math.Abs(got[0]/got[1]-1) > 1e-6 {
			t.Errorf("variance of %s = %.10g, in closed form %.10g", name, got[0], got[1])
		}
	}
}

// A formula of second degree in three normal variables against a simulation with a fixed seed.
func TestSecondOrderAgainstSimulation(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 2))
	const draws = 100000
	for range 5 {
		var c [10]float64
		for i := range c {
			c[i] = rng.NormFloat64()
		}
		f := func(x []float64) (float64, error) {
			a, b, d := x[0], x[1], x[2]
			return c[0] + c[1]*a + c[2]*b + c[3]*d + c[4]*a*a + c[5]*b*b + c[6]*d*d + c[7]*a*b + c[8]*a*d + c[9]*b*d,
				nil
		}
		in := []Input{{Value: 0.2, U: 0.5}, {Value: -0.1, U: 0.3}, {Value: 0.4, U: 0.8}}
		b := must(Propagate(in, f))
		sum, squares, x := 0.0, 0.0, make([]float64, 3)
		for range draws {
			for i := range x {
				x[i] = in[i].Value + in[i].U*rng.NormFloat64()
			}
			v, _ := f(x)
			sum, squares = sum+v, squares+v*v
		}
		if u := math.Sqrt(squares/draws - sum/draws*sum/draws); math.Abs(b.U/u-1) > 0.02 {
			t.Errorf("second order gives %.4f, the simulation %.4f", b.U, u)
		}
	}
}

// The first order of a budget is that of quantities that carry their derivatives.
func TestBudgetAgreesWithPartials(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		f := drawFormula(t, 3, 3, false)
		x := make([]float64, 3)
		for i := range x {
			x[i] = rapid.Float64Range(0.5, 3).Draw(t, "x")
		}
		ctx := &Context{U: []float64{1e-4, 2e-4, 3e-4}}
		q, err := f(ctx, []Q{Measured(x[0], 0), Measured(x[1], 1), Measured(x[2], 2)})
		if err != nil || math.Abs(q.Value) > 100 {
			return
		}
		in := make([]Input, 3)
		for i := range in {
			in[i] = Input{Value: x[i], U: ctx.U[i]}
		}
		b, err := Propagate(in, func(x []float64) (float64, error) {
			q, err := f(ctx, []Q{Exact(x[0]), Exact(x[1]), Exact(x[2])})
			return q.Value, err
		})
		if err != nil {
			return
		}
		if u := q.Uncertainty(ctx); math.Abs(b.First-u) > 1e-4*u+1e-9 {
			t.Errorf("a budget has %g, partial derivatives %g", b.First, u)
		}
	})
}

func TestBudgetRefusals(t *testing.T) {
	bad := errors.New("not there")
	for name, c := range map[string]struct {
		in   []Input
		f    func([]float64) (float64, error)
		want error
	}{
		"negative uncertainty": {[]Input{{U: -1}}, func([]float64) (float64, error) { return 1, nil }, ErrNotFinite},
		"NaN": {[]Input{{Value: math.NaN()}}, func([]float64) (float64, error) { return 1, nil },
			ErrNotFinite},
		"result without end": {[]Input{{U: 1}}, func([]float64) (float64, error) { return math.Inf(1), nil },
			ErrNotFinite},
		"outside": {[]Input{{U: 1}}, func(x []float64) (float64, error) {
			if x[0] < 0 {
				return 0, bad
			}
			return x[0], nil
		}, bad},
	} {
		if b, err := Propagate(c.in, c.f); !errors.Is(err, c.want) {
			t.Errorf("%s: %v, %v", name, b, err)
		}
	}
	if b := must(Propagate(nil, func([]float64) (float64, error) { return 7, nil })); b.Value != 7 || b.U != 0 {
		t.Errorf("a constant = %g ± %g", b.Value, b.U)
	}
}
