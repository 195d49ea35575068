package physics

import (
	"errors"
	"math"
	"testing"

	"pgregory.net/rapid"

	"whystone/kb/quantity"
)

// Source: testdata/published/reflectance.csv (computed outside this code from a CC0 database's indices), to the digits printed.
func TestPublishedReflectance(t *testing.T) {
	rows := published(t, "reflectance.csv")
	for _, row := range rows {
		n := number(t, row["n_D"])
		printedFrom(t, row["db_path"]+" reflectance", n, row["R_percent"], Reflectance)
		printedFrom(t, row["db_path"]+" critical angle", n, row["critical_angle_deg"], CriticalAngle)
		printedFrom(t, row["db_path"]+" Brewster angle", n, row["brewster_angle_deg"], BrewsterAngle)
		within(t, row["db_path"]+" back", IndexFromReflectance(Reflectance(n)), n, 1e-12)
	}
	if len(rows) != 109 {
		t.Errorf("%d rows: the table is not whole", len(rows))
	}
}

// printedFrom allows for both roundings of a table: that of the figure and that of the index it was computed from (5 decimals).
func printedFrom(t *testing.T, what string, n float64, want string, f func(float64) float64) {
	t.Helper()
	a, b := f(n-5e-6), f(n+5e-6)
	w := number(t, want)
	if !(w >= min(a, b)-0.00050001 && w <= max(a, b)+0.00050001) {
		t.Errorf("%s = %.6f to %.6f, printed %s", what, a, b, want)
	}
}

// Uncertainty by the derivative against differences, and bounds against the ends.
func TestOpticsCarryUncertainty(t *testing.T) {
	functions := map[string]func(*quantity.Context, quantity.Q) (quantity.Q, error){
		"reflectance": ReflectanceQ, "critical angle": CriticalAngleQ, "Brewster angle": BrewsterAngleQ, "index": IndexFromReflectanceQ,
	}
	ctx := &quantity.Context{U: []float64{0.01}}
	rapid.Check(t, func(t *rapid.T) {
		x := rapid.Float64Range(1.3, 3).Draw(t, "x")
		for name, f := range functions {
			slope := (must(f(nil, exact(x+1e-6))).Value - must(f(nil, exact(x-1e-6))).Value) / 2e-6
			if u := must(f(ctx, quantity.Measured(x, 0))).Uncertainty(ctx); math.Abs(u-0.01*math.Abs(slope)) > 1e-6 {
				t.Errorf("u of %s at %g = %g, differences give %g", name, x, u, 0.01*math.Abs(slope))
			}
			q := must(f(nil, quantity.Between(x, x+0.5)))
			a, b := must(f(nil, exact(x))).Value, must(f(nil, exact(x+0.5))).Value
			if q.Lo != min(a, b) || q.Hi != max(a, b) {
				t.Errorf("%s of %g to %g = %g to %g, its ends give %g and %g", name, x, x+0.5, q.Lo, q.Hi, a, b)
			}
		}
	})
	// A refractometer that stays dark to 1.81 says at least this much.
	above := quantity.Above(1.81)
	for name, want := range map[string][2]float64{"reflectance": {8.309, 100}, "critical angle": {0, 33.538}, "Brewster angle": {61.080, 90}} {
		q := must(functions[name](nil, above))
		within(t, name+", low", q.Lo, want[0], 5e-4)
		within(t, name+", high", q.Hi, want[1], 5e-4)
	}
}

func TestOpticsRefusals(t *testing.T) {
	first := func(_ quantity.Q, err error) error { return err }
	for name, c := range map[string]struct{ err, want error }{
		"index below 1":                {first(ReflectanceQ(nil, exact(0.9))), ErrRange},
		"index NaN":                    {first(BrewsterAngleQ(nil, exact(math.NaN()))), ErrRange},
		"index perhaps below 1":        {first(CriticalAngleQ(nil, quantity.Below(1.5))), ErrRange},
		"reflectance of 100":           {first(IndexFromReflectanceQ(nil, exact(100))), ErrRange},
		"reflectance below 0":          {first(IndexFromReflectanceQ(nil, exact(-1))), ErrRange},
		"reflectance perhaps 100":      {first(IndexFromReflectanceQ(nil, quantity.Above(10))), ErrRange},
		"critical angle of measured 1": {first(CriticalAngleQ(nil, quantity.Measured(1, 0))), quantity.ErrNotFinite},
	} {
		if !errors.Is(c.err, c.want) {
			t.Errorf("%s: %v, want %v", name, c.err, c.want)
		}
	}
}
