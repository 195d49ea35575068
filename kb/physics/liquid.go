package physics

import (
	"fmt"
	"slices"
)

// Liquid is what a stone is weighed in.
type Liquid struct {
	Name string
	// Density is in kg/m³, at a temperature in °C and a pressure in Pa. ErrRange where it is not known.
	Density  func(celsius, pascal float64) (float64, error)
	U        float64 // standard uncertainty of that density in a clean bottle on a desk, kg/m³: a choice of ours
	Cautions []string
	Source   string
}

const (
	tanaka  = "M. Tanaka and others, Metrologia 38 (2001) 301-309"
	lemmon  = "the equation of state of Lemmon and Span 2006, computed outside this program; the paper was not opened"
	schroed = "the equation of state of Schroeder and others 2014, computed outside this program; the paper was not " +
		"opened"
)

// Cautions of a liquid; all common practice. The supplier's safety sheet and local codes go before them.
var (
	caresOfWater = []string{
		"No water on porous stones, nor on assembled stones whose glue it may reach.",
	}
	caresOfSolvents = []string{
		"It burns, and its vapour travels to a flame or spark: no ignition source in the room, and fresh air or a " +
			"fume hood.",
		"Never for porous, filled, oiled, coated, dyed or assembled stones: it dissolves oils, resins, dyes and glues.",
		"Work by the supplier's safety sheet and local codes; gloves that stand up to it, and eye protection.",
	}
	caresOfToluene = append([]string{
		"Toluene harms by breath and through the skin, and may harm the unborn child: only in a fume hood, by " +
			"trained staff.",
	}, caresOfSolvents...)
)

// liquids are those that are known by name, water first.
var liquids = []Liquid{
	{"water", WaterAtPressure, 0.05, caresOfWater, tanaka + "; boiled and cooled, so without air"},
	{"aired water", airedWater, 0.1, caresOfWater, tanaka + "; water that has stood in air"},
	{"ethanol", line(789.42, -0.8556), 1, caresOfSolvents, schroed},
	{"toluene", line(866.89, -0.9297), 0.5, caresOfToluene, lemmon},
}

// Liquids lists those that are known by name, water first.
func Liquids() []Liquid { return slices.Clone(liquids) }

// FindLiquid finds one by its name.
func FindLiquid(name string) (Liquid, bool) {
	for _, l := range liquids {
		if l.Name == name {
			return l, true
		}
	}
	return Liquid{}, false
}

// KnownDensity is a liquid whose density (kg/m³) at the temperature of the weighing was looked up or measured, with
// its standard uncertainty. What it is, and how dangerous, is not known.
func KnownDensity(density, u float64) Liquid {
	return Liquid{Name: fmt.Sprintf("a liquid of %g kg/m³", density), U: u, Source: "as given",
		Density: func(float64, float64) (float64, error) {
			if !(density > 0 && density < 1e4) {
				return 0, fmt.Errorf("%w: a liquid of %g kg/m³", ErrRange, density)
			}
			return density, nil
		},
		Cautions: append([]string{
			"Heavy liquids are poisonous, and some are corrosive; no desk should keep Clerici's solution.",
		}, caresOfSolvents...)}
}

// WaterAtPressure is the density of air-free water in kg/m³ at a temperature in °C and a pressure in Pa.
func WaterAtPressure(celsius, pascal float64) (float64, error) {
	rho, err := WaterDensity(celsius)
	if err != nil {
		return 0, err
	}
	f, err := WaterCompression(celsius, pascal)
	return rho * f, err
}

func airedWater(celsius, pascal float64) (float64, error) {
	rho, err := WaterAtPressure(celsius, pascal)
	if err != nil {
		return 0, err
	}
	air, err := WaterAirSaturation(celsius)
	return rho + air, err
}

// line is the density of a liquid from 15 to 25 °C by its value at 20 °C and its mean slope per °C there. How the
// pressure of the air presses it together is far below what its purity leaves open.
func line(at20, slope float64) func(celsius, pascal float64) (float64, error) {
	return func(celsius, _ float64) (float64, error) {
		if !(celsius >= 15 && celsius <= 25) {
			return 0, fmt.Errorf("%w: the density of this liquid at %g °C, known from 15 to 25 °C", ErrRange, celsius)
		}
		return at20 + slope*(celsius-20), nil
	}
}
