package physics

import (
	"errors"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"pgregory.net/rapid"
)

// Source: testdata/published/hydrostatic_liquids.csv.
func TestPublishedLiquids(t *testing.T) {
	rows := published(t, "hydrostatic_liquids.csv")
	for _, row := range rows {
		l, ok := FindLiquid(row["liquid"])
		if !ok {
			t.Fatalf("no liquid %q", row["liquid"])
		}
		celsius := number(t, row["t_C"])
		printed(t, l.Name, must(l.Density(celsius, 101325)), row["density"])
		if slope := row["slope_15_25"]; slope != "" {
			within(t, l.Name+", slope", (must(l.Density(25, 101325))-must(l.Density(15, 101325)))/10, number(t, slope),
				5.0001e-5)
		}
	}
	if len(rows) != 4 {
		t.Errorf("%d rows: the table is not whole", len(rows))
	}
	for _, l := range append(Liquids(), KnownDensity(2890, 5)) {
		if len(l.Cautions) == 0 || l.Source == "" || l.U <= 0 {
			t.Errorf("%s: cautions %q, source %q, ± %g", l.Name, l.Cautions, l.Source, l.U)
		}
		if _, err := l.Density(60, 101325); l.Source != "as given" && !errors.Is(err, ErrRange) {
			t.Errorf("%s at 60 °C: %v", l.Name, err)
		}
	}
	if _, err := KnownDensity(-1, 0).Density(20, 101325); !errors.Is(err, ErrRange) {
		t.Errorf("a liquid lighter than nothing: %v", err)
	}
}

// example is the stone of testdata/published/hydrostatic_example.csv on a balance of some resolution in carat.
func example(t *testing.T, resolution float64) (Weighing, func(string) (value, slack float64)) {
	t.Helper()
	rows := map[string]map[string]string{}
	for _, row := range published(t, "hydrostatic_example.csv") {
		rows[row["name"]] = row
	}
	figure := func(name string) (value, slack float64) {
		t.Helper()
		if rows[name] == nil {
			t.Fatalf("no figure %q", name)
		}
		return number(t, rows[name]["value"]), number(t, rows[name]["tolerance"])
	}
	inAir, _ := figure("Wa")
	inLiquid, _ := figure("Wl")
	w := AtADesk(inAir*5, resolution/math.Sqrt(12)) // 1 g is 5 ct
	w.InLiquid, w.Liquid.U, w.AirU = inLiquid*5, 1e-6, 0
	return w, figure
}

// Source: testdata/published/hydrostatic_example.csv (derived outside this code, not published): value, uncertainty
// on two balances, every sensitivity, and what leaving the air out comes to.
func TestHydrostaticExample(t *testing.T) {
	for name, resolution := range map[string]float64{"u_d_0.1_mg": 0.0005, "u_d_1_mg": 0.005} {
		w, figure := example(t, resolution)
		check := func(name string, got float64) {
			t.Helper()
			want, slack := figure(name)
			within(t, name, got, want, slack)
		}
		sg := must(w.SpecificGravity())
		b := must(w.Budget(sg))
		const density = MaximumWaterDensity / 1000 // g/cm³ for a specific gravity of 1
		check("density", sg*density)
		check(name, b.U*density)
		check("sensitivity_Wa", b.Parts[0].Sensitivity*5*density)
		check("sensitivity_Wl", b.Parts[1].Sensitivity*5*density)
		// which is the mean slope from 15 to 25 °C
		within(t, "by the temperature", math.Abs(b.Parts[2].Sensitivity)*density, 0.0035211*0.2056, 4e-6)
		check("sensitivity_rho_l", b.Parts[3].Sensitivity*density)
		w.Air = 0
		check("density_without_air", must(w.SpecificGravity())*density)
	}
}

// The coarse balance of the example, simulated anew with a fixed seed, against the simulation that stands in the
// table and against the budget.
func TestHydrostaticExampleSimulated(t *testing.T) {
	w, figure := example(t, 0.005)
	b := must(w.Budget(must(w.SpecificGravity())))
	rng := rand.New(rand.NewPCG(3, 4))
	const draws = 200000
	values, sum := make([]float64, draws), 0.0
	for i := range values {
		u := w.Repeats
		x := w
		x.InAir, x.InLiquid = w.InAir+u*rng.NormFloat64(), w.InLiquid+u*rng.NormFloat64()
		x.Celsius += rng.NormFloat64()
		values[i] = must(x.SpecificGravity()) * MaximumWaterDensity / 1000
		sum += values[i]
	}
	slices.Sort(values)
	mean, squares := sum/draws, 0.0
	for _, v := range values {
		squares += (v - mean) * (v - mean)
	}
	u := math.Sqrt(squares / draws)
	for name, got := range map[string]float64{"monte_carlo_u_d_1_mg": u, "monte_carlo_low": values[draws/40],
		"monte_carlo_high": values[draws*39/40]} {
		want, slack := figure(name)
		within(t, name, got, want, slack+5e-4)
	}
	density, _ := figure("density")
	raised, slack := figure("monte_carlo_raised")
	within(t, "mean raised by", mean-density, raised, slack+1e-4)
	within(t, "budget against simulation", b.U*MaximumWaterDensity/1000/u, 1, 0.01)
}

// Where the sensitivity vanishes the second order does not: water at its densest, read to 1 °C.
func TestTemperatureAtTheMaximum(t *testing.T) {
	w := AtADesk(1e6, 0) // so heavy that the balance is no matter
	w.Celsius, w.CelsiusU, w.Liquid.U, w.AirU = 3.983035, 1, 0, 0
	b := must(w.Budget(3.5))
	rng, sum, squares := rand.New(rand.NewPCG(5, 6)), 0.0, 0.0
	const draws = 100000
	for range draws {
		rho := must(WaterDensity(math.Abs(3.983035 + rng.NormFloat64())))
		v := 3.5 * rho / MaximumWaterDensity
		sum, squares = sum+v, squares+v*v
	}
	u := math.Sqrt(squares/draws - sum/draws*sum/draws)
	if b.First > 1e-3*u || math.Abs(b.U/u-1) > 0.05 {
		t.Errorf("of first order %.2g, with the second %.3g, simulated %.3g", b.First, b.U, u)
	}
}

// What only knows a reading and the stone's weight gets the uncertainty of the whole weighing, to the last digit.
func TestWeighingUncertaintyIsTheBudgets(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		carat, loss := rapid.Float64Range(0.1, 20).Draw(t, "carat"), rapid.Float64Range(0.13, 0.9).Draw(t, "loss")
		w := AtADesk(carat, 0.002)
		w.InLiquid = carat * (1 - loss)
		sg, err := w.SpecificGravity()
		if err != nil {
			t.Fatal(err)
		}
		b, err := w.Budget(sg)
		if err != nil {
			return // lighter than what its balance shows
		}
		if carat/sg/2 < 0.002 {
			return
		}
		if u := must(WeighingUncertainty(sg, carat, 0.002)); u != b.U {
			t.Errorf("%g ct of %g: %v, the budget has %v", carat, sg, u, b.U)
		}
	})
}

// It rises or falls throughout: nobody gets a better figure from a lighter stone or a worse balance, where nothing
// can be told too.
func TestWeighingUncertaintyIsMonotone(t *testing.T) {
	for _, sg := range []float64{1.08, 2.65, 3.52, 5.9} {
		last := 0.0
		for carat := 20.0; carat > 1e-4; carat *= 0.93 {
			u := must(WeighingUncertainty(sg, carat, 0.002))
			if !(u > last) {
				t.Fatalf("%g ct of %g: ± %g, a heavier one ± %g", carat, sg, u, last)
			}
			last = u
		}
	}
	for _, c := range [][3]float64{{0, 1, 0.002}, {3.5, 0, 0.002}, {3.5, 1, -1}, {math.NaN(), 1, 1},
		{math.Inf(1), 1, 1}} {
		if u, err := WeighingUncertainty(c[0], c[1], c[2]); !errors.Is(err, ErrRange) {
			t.Errorf("%v: ± %g, %v", c, u, err)
		}
	}
}

// From the least weight on it is good enough, and below it is not.
func TestLeastCarat(t *testing.T) {
	w := AtADesk(0, 0.002)
	least := must(w.LeastCarat(3.52, 0.02))
	for carat, enough := range map[float64]bool{least: true, least * 0.99: false} {
		if u := must(WeighingUncertainty(3.52, carat, 0.002)); u <= 0.02 != enough {
			t.Errorf("%g ct: ± %g", carat, u)
		}
	}
	if c, err := w.LeastCarat(3.52, 1e-6); !errors.Is(err, ErrRange) {
		t.Errorf("a weighing to one in a million from %g ct on, %v", c, err)
	}
}
