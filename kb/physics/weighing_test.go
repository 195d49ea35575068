package physics

import (
	"errors"
	"math"
	"testing"

	"whystone/kb/quantity"
)

// Source: testdata/published/water_density.csv. The formula's own column to the digits printed; and the independent IAPWS-95
// column to the difference that the table states.
func TestPublishedWaterDensity(t *testing.T) {
	rows := published(t, "water_density.csv")
	saturated := 0
	for _, row := range rows {
		celsius := number(t, row["t_C"])
		rho := must(WaterDensity(celsius))
		printed(t, row["t_C"]+" °C", rho, row["tanaka_kg_m3"])
		within(t, row["t_C"]+" °C against IAPWS-95", rho, number(t, row["iapws95_kg_m3"]), 0.00115)
		if want := row["tanaka_air_saturated_kg_m3"]; want != "" {
			saturated++
			printed(t, row["t_C"]+" °C with air", rho+must(WaterAirSaturation(celsius)), want)
		}
	}
	if len(rows) != 41 || saturated != 26 {
		t.Errorf("%d rows, %d with air: the table is not whole", len(rows), saturated)
	}
}

// Source: IAPWS SR6-08 at 0.1 MPa against IAPWS-95 at 101.325 kPa, in the same table: the difference is the compression by
// 1325 Pa, some 6e-4 kg/m³. The figures are printed to 1e-5 and the two formulations differ by a few 1e-5, hence the slack by row;
// over all rows that levels out.
func TestWaterCompression(t *testing.T) {
	ours, theirs := 0.0, 0.0
	for _, row := range published(t, "water_density.csv") {
		celsius, rho := number(t, row["t_C"]), number(t, row["iapws95_kg_m3"])
		change, want := rho*(must(WaterCompression(celsius, 100000))-1), number(t, row["iapws_sr6_08_kg_m3"])-rho
		within(t, row["t_C"]+" °C, 1325 Pa less", change, want, 5e-5)
		ours, theirs = ours+change, theirs+want
	}
	within(t, "compression over all rows", ours/theirs, 1, 0.02)
	if f := must(WaterCompression(20, 101325)); f != 1 {
		t.Errorf("no pressure difference gives a factor of %g", f)
	}
}

func TestWaterDensityCarriesUncertainty(t *testing.T) {
	ctx := &quantity.Context{U: []float64{1}}
	for _, celsius := range []float64{0.5, 4, 12, 20, 33, 39.5} {
		up, down := must(WaterDensity(celsius+1e-4)), must(WaterDensity(celsius-1e-4))
		u := must(WaterDensityQ(ctx, quantity.Measured(celsius, 0))).Uncertainty(ctx)
		within(t, "u of water's density for 1 °C", u, math.Abs(up-down)/2e-4, 1e-6)
	}
	// 20 °C: 0.2056 kg/m³ (testdata/published/hydrostatic_example.csv).
	within(t, "at 20 °C", must(WaterDensityQ(ctx, quantity.Measured(20, 0))).Uncertainty(ctx), 0.2056, 0.002)
	for _, b := range [][2]float64{{18, 25}, {0, 10}, {5, 9}, {0, 3}} {
		q := must(WaterDensityQ(nil, quantity.Between(b[0], b[1])))
		lo, hi := math.Inf(1), math.Inf(-1)
		for i := range 10001 {
			v := must(WaterDensity(b[0] + (b[1]-b[0])*float64(i)/10000))
			lo, hi = min(lo, v), max(hi, v)
		}
		within(t, "lower bound", q.Lo, lo, 1e-6)
		within(t, "upper bound", q.Hi, hi, 1e-6)
	}
}

// The approximation against the gas laws: dry air of 28.965 g/mol and water vapour of 18.015 g/mol, saturation pressure by the
// Magnus formula 6.112 exp(17.62 t/(243.12 + t)) hPa, R = 8.314463 (all from memory); real air is denser by up to 5 parts in 10,000.
func TestAirDensityAgainstGasLaws(t *testing.T) {
	for _, celsius := range []float64{10, 15, 20, 25, 30} {
		for _, pressure := range []float64{900, 1013.25, 1050} {
			for _, humidity := range []float64{0, 30, 60, 80} {
				vapour := humidity / 100 * 6.112 * math.Exp(17.62*celsius/(243.12+celsius))
				gas := 100 * ((pressure-vapour)*0.028965 + vapour*0.018015) / (8.314463 * (celsius + 273.15))
				within(t, "density of air", must(AirDensity(celsius, pressure, humidity))/gas, 1.0003, 6e-4)
			}
		}
	}
}

// Source: testdata/published/hydrostatic_example.csv (derived outside this code, not published).
func TestHydrostaticExample(t *testing.T) {
	want, slack := map[string]float64{}, map[string]float64{}
	for _, row := range published(t, "hydrostatic_example.csv") {
		want[row["name"]], slack[row["name"]] = number(t, row["value"]), number(t, row["tolerance"])
	}
	check := func(name string, got float64) {
		t.Helper()
		if _, ok := want[name]; !ok {
			t.Fatalf("no figure %q", name)
		}
		within(t, name, got, want[name], slack[name])
	}
	wa, wl, water := quantity.Measured(want["Wa"], 0), quantity.Measured(want["Wl"], 1), quantity.Measured(want["rho_l"], 2)
	for name, d := range map[string]float64{"u_d_0.1_mg": 0.0001, "u_d_1_mg": 0.001} {
		ctx := &quantity.Context{U: []float64{d / math.Sqrt(12), d / math.Sqrt(12), 0.2056}}
		rho := must(HydrostaticDensity(ctx, wa, wl, water, exact(want["rho_a"])))
		check("density", rho.Value/1000)
		check(name, rho.Uncertainty(ctx)/1000)
		for i, s := range []string{"sensitivity_Wa", "sensitivity_Wl", "sensitivity_rho_l"} {
			check(s, rho.Partials[i].D/1000)
		}
		check("density_without_air", must(HydrostaticDensity(ctx, wa, wl, water, exact(0))).Value/1000)
		sg := must(SpecificGravity(ctx, wa, wl, water, exact(want["rho_a"])))
		within(t, "specific gravity", sg.Value, rho.Value/999.97495, 1e-12)
		within(t, "u of specific gravity", sg.Uncertainty(ctx), rho.Uncertainty(ctx)/999.97495, 1e-12)
	}
}

// A stone of known density, weighed by Archimedes: what it weighs in air and in the liquid gives its density back.
func TestWeighingRoundTrip(t *testing.T) {
	for _, rho := range []float64{1080, 2650, 3520, 5900, 19300} {
		for _, liquid := range []float64{789.42, 866.89, 998.2067} {
			for _, air := range []float64{0, 1.2} {
				const volume = 1e-4
				got := must(HydrostaticDensity(nil, exact(volume*(rho-air)), exact(volume*(rho-liquid)), exact(liquid), exact(air)))
				within(t, "density", got.Value, rho, 1e-8*rho)
			}
		}
	}
	// Amber in brine floats: held down by a sinker, its own weight in the liquid is negative.
	got := must(HydrostaticDensity(nil, exact(1.08-0.0012), exact(1.08-1.197), exact(1197), exact(1.2)))
	within(t, "amber in brine", got.Value, 1080, 1e-6)
}

// Hard bounds on the weights bound the density: no combination within them gives more or less, and the ends are reached.
func TestBoundedWeights(t *testing.T) {
	a, l := quantity.Between(0.199, 0.201), quantity.Between(0.143, 0.1435)
	q := must(HydrostaticDensity(nil, a, l, exact(998.2), exact(1.2)))
	lo, hi := math.Inf(1), math.Inf(-1)
	for _, wa := range []float64{a.Lo, a.Value, a.Hi} {
		for _, wl := range []float64{l.Lo, l.Value, l.Hi} {
			v := must(HydrostaticDensity(nil, exact(wa), exact(wl), exact(998.2), exact(1.2))).Value
			lo, hi = min(lo, v), max(hi, v)
		}
	}
	within(t, "least", q.Lo, lo, 1e-9)
	within(t, "most", q.Hi, hi, 1e-9)
}

func TestWeighingRefusals(t *testing.T) {
	first := func(_ quantity.Q, err error) error { return err }
	plain := func(_ float64, err error) error { return err }
	sg := func(a, l quantity.Q) error { return first(SpecificGravity(nil, a, l, exact(998), exact(1.2))) }
	nan := math.NaN()
	for name, c := range map[string]struct{ err, want error }{
		"heavier in the liquid":   {sg(exact(0.2), exact(0.3)), ErrRange},
		"as heavy in the liquid":  {sg(exact(0.2), exact(0.2)), ErrRange},
		"no weight":               {sg(exact(0), exact(-1)), ErrRange},
		"NaN weight":              {sg(exact(nan), exact(0.1)), ErrRange},
		"bounds that may be even": {sg(quantity.Between(0.19, 0.21), quantity.Between(0.10, 0.20)), quantity.ErrDivideByNought},
		"infinite liquid":         {first(HydrostaticDensity(nil, exact(2), exact(1), exact(math.Inf(1)), exact(0))), quantity.ErrNotFinite},
		"ice":                     {first(WaterDensityQ(nil, exact(-1))), ErrRange},
		"hot water":               {first(WaterDensityQ(nil, exact(41))), ErrRange},
		"perhaps hot water":       {first(WaterDensityQ(nil, quantity.Between(20, 45))), ErrRange},
		"NaN water":               {first(WaterDensityQ(nil, exact(nan))), ErrRange},
		"saturation beyond 25":    {plain(WaterAirSaturation(26)), ErrRange},
		"pressure in hPa":         {plain(WaterCompression(20, 1013.25)), ErrRange},
		"air pressure in Pa":      {plain(AirDensity(20, 101325, 50)), ErrRange},
		"humidity of 120 percent": {plain(AirDensity(20, 1013, 120)), ErrRange},
	} {
		if !errors.Is(c.err, c.want) {
			t.Errorf("%s: %v, want %v", name, c.err, c.want)
		}
	}
}
