package physics

import (
	"fmt"
	"math"

	"whystone/kb/quantity"
)

// MaximumWaterDensity is the density of air-free water at its densest, near 4 °C, in kg/m³ (a5 of Tanaka et al.
// 2001): what specific gravity is counted in.
const MaximumWaterDensity = 999.974950

// Tanaka's coefficients a1 to a4.
const tanaka1, tanaka2, tanaka3, tanaka4 = -3.983035, 301.797, 522528.9, 69.34881

// WaterDensity is the density of air-free water in kg/m³ at 101.325 kPa, from 0 to 40 °C: a5 (1 - (t+a1)² (t+a2)/(a3
// (t+a4))), the formula that CIPM recommended in 2001 (M. Tanaka, G. Girard, R. Davis, A. Peuto, N. Bignell,
// Metrologia 38 (2001) 301-309; coefficients read in four public source files that cite the paper, which was not
// itself opened). ErrRange outside.
func WaterDensity(celsius float64) (float64, error) {
	if !(celsius >= 0 && celsius <= 40) {
		return 0, fmt.Errorf("%w: the density of water at %g °C, the formula holds from 0 to 40 °C", ErrRange, celsius)
	}
	x, y, z := celsius+tanaka1, celsius+tanaka2, celsius+tanaka4
	return MaximumWaterDensity * (1 - x*x*y/(tanaka3*z)), nil
}

// WaterAirSaturation is what air saturation adds to the density of water, in kg/m³ (it is negative), from 0 to 25 °C:
// s0 + s1 t. Source as for WaterDensity (read on a page that restates the formula).
func WaterAirSaturation(celsius float64) (float64, error) {
	if !(celsius >= 0 && celsius <= 25) {
		return 0, fmt.Errorf("%w: air saturation of water at %g °C, the formula holds from 0 to 25 °C", ErrRange,
			celsius)
	}
	return -4.612e-3 + 0.106e-3*celsius, nil
}

// WaterCompression is the factor by which the density of water changes from 101.325 kPa to the given pressure in Pa,
// near the atmosphere's: 1 + (k0 + k1 t + k2 t²)(p - 101325). Source as for WaterDensity (read in a public source
// file).
func WaterCompression(celsius, pascal float64) (float64, error) {
	if !(celsius >= 0 && celsius <= 40 && pascal >= 5e4 && pascal <= 2e5) {
		return 0, fmt.Errorf("%w: the compression of water at %g °C and %g Pa, wanted 0 to 40 °C and 50 to 200 kPa",
			ErrRange, celsius, pascal)
	}
	return 1 + (50.74e-11-0.326e-11*celsius+0.00416e-11*celsius*celsius)*(pascal-101325), nil
}

// AirDensity is the density of moist air in kg/m³ from temperature (°C), pressure (hPa) and relative humidity
// (percent): (0.34848 p - 0.009 h exp(0.061 t))/(273.15 + t), the approximation used in mass metrology (OIML R 111-1;
// formula and reference from memory, not opened; the tests hold it against the gas laws). Good to some parts in
// 10,000 in a heated room.
func AirDensity(celsius, hectopascal, humidity float64) (float64, error) {
	if !(celsius >= 0 && celsius <= 40 && hectopascal >= 500 && hectopascal <= 1100 && humidity >= 0 &&
		humidity <= 100) {
		return 0, fmt.Errorf("%w: air at %g °C, %g hPa, %g %% humidity, wanted 0 to 40 °C, 500 to 1100 hPa, 0 to 100 %%",
			ErrRange, celsius, hectopascal, humidity)
	}
	return (0.34848*hectopascal - 0.009*humidity*math.Exp(0.061*celsius)) / (273.15 + celsius), nil
}

// HydrostaticDensity is the density of a stone, in the unit of the liquid's and the air's, from its weight in air and
// in the liquid, both on a balance adjusted with weights: (Wa rho_liquid - Wl rho_air)/(Wa - Wl), which is
// Archimedes' principle with the buoyancy of air counted for the stone (that of the balance's weights cancels). The
// weight in the liquid is negative of a stone that floats, held down by a sinker whose own weight was taken off.
// ErrRange unless the stone weighs something in air, and less in the liquid.
func HydrostaticDensity(inAir, inLiquid, liquid, air float64) (float64, error) {
	if !(inAir > 0 && inLiquid < inAir) || math.IsInf(inAir, 0) || math.IsInf(inLiquid, 0) {
		return 0, fmt.Errorf("%w: %g in air and %g in the liquid, a stone weighs less in a liquid than in air",
			ErrRange, inAir, inLiquid)
	}
	return (inAir*liquid - inLiquid*air) / (inAir - inLiquid), nil
}

// AirBudget is AirDensity with its uncertainty, from temperature (°C), pressure (hPa) and relative humidity
// (percent), each with its standard uncertainty.
func AirBudget(celsius, celsiusU, hectopascal, hectopascalU, humidity, humidityU float64) (*quantity.Budget, error) {
	return quantity.Propagate([]quantity.Input{
		{Name: "temperature of the air", Unit: "°C", Value: celsius, U: celsiusU},
		{Name: "pressure of the air", Unit: "hPa", Value: hectopascal, U: hectopascalU},
		{Name: "humidity of the air", Unit: "percent", Value: humidity, U: humidityU},
	}, func(x []float64) (float64, error) { return AirDensity(x[0], x[1], x[2]) })
}
