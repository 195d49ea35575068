package physics

import (
	"errors"
	"math"
	"testing"
)

// Source: testdata/published/water_density.csv. The formula's own column to the digits printed; and the independent
// IAPWS-95 column to the difference that the table states.
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

// Source: IAPWS SR6-08 at 0.1 MPa against IAPWS-95 at 101.325 kPa, in the same table: the difference is the
// compression by 1325 Pa, some 6e-4 kg/m³. The figures are printed to 1e-5 and the two formulations differ by a few
// 1e-5, hence the slack by row; over all rows that levels out.
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

// The approximation against the gas laws: dry air of 28.965 g/mol and water vapour of 18.015 g/mol, saturation
// pressure by the Magnus formula 6.112 exp(17.62 t/(243.12 + t)) hPa, R = 8.314463 (all from memory); real air is
// denser by up to 5 parts in 10,000.
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

// A stone of known density, weighed by Archimedes: what it weighs in air and in the liquid gives its density back.
func TestWeighingRoundTrip(t *testing.T) {
	for _, rho := range []float64{1080, 2650, 3520, 5900, 19300} {
		for _, liquid := range []float64{789.42, 866.89, 998.2067} {
			for _, air := range []float64{0, 1.2} {
				const volume = 1e-4
				got := must(HydrostaticDensity(volume*(rho-air), volume*(rho-liquid), liquid, air))
				within(t, "density", got, rho, 1e-8*rho)
			}
		}
	}
	// Amber in brine floats: held down by a sinker, its own weight in the liquid is negative.
	within(t, "amber in brine", must(HydrostaticDensity(1.08-0.0012, 1.08-1.197, 1197, 1.2)), 1080, 1e-6)
}

func TestWeighingRefusals(t *testing.T) {
	plain := func(_ float64, err error) error { return err }
	density := func(a, l float64) error { return plain(HydrostaticDensity(a, l, 998, 1.2)) }
	nan := math.NaN()
	for name, err := range map[string]error{
		"heavier in the liquid":   density(0.2, 0.3),
		"as heavy in the liquid":  density(0.2, 0.2),
		"no weight":               density(0, -1),
		"NaN weight":              density(nan, 0.1),
		"no end":                  density(math.Inf(1), 0.1),
		"ice":                     plain(WaterDensity(-1)),
		"hot water":               plain(WaterDensity(41)),
		"NaN water":               plain(WaterDensity(nan)),
		"saturation beyond 25":    plain(WaterAirSaturation(26)),
		"pressure in hPa":         plain(WaterCompression(20, 1013.25)),
		"air pressure in Pa":      plain(AirDensity(20, 101325, 50)),
		"humidity of 120 percent": plain(AirDensity(20, 1013, 120)),
	} {
		if !errors.Is(err, ErrRange) {
			t.Errorf("%s: %v, want %v", name, err, ErrRange)
		}
	}
}
