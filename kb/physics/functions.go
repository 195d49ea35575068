package physics

import "fmt"

// Function is a formula of this package as rules may call it. In each of its arguments it rises or falls throughout.
type Function struct {
	Name  string
	Takes []string // what the arguments are, with their units
	Gives string   // what comes of it, with its unit
	F     func(x []float64) (float64, error)
}

// Functions are the formulas that rules may call, sorted by name.
func Functions() []Function {
	return []Function{
		{"brewster_angle", []string{"refractive index"}, "Brewster angle, degrees from the normal",
			ofIndex(BrewsterAngle)},
		{"critical_angle", []string{"refractive index"}, "critical angle, degrees from the normal",
			ofIndex(CriticalAngle)},
		{"fresnel_reflectance", []string{"refractive index"}, "reflectance of one polished face, percent",
			ofIndex(Reflectance)},
		{"index_by_reflectance", []string{"reflectance of one polished face, percent"}, "refractive index",
			func(x []float64) (float64, error) {
				if !(x[0] >= 0 && x[0] < 100) {
					return 0, fmt.Errorf("%w: a reflectance of %g percent, wanted 0 to below 100", ErrRange, x[0])
				}
				return IndexFromReflectance(x[0]), nil
			}},
		{"index_by_deviation", []string{"angle of the prism, degrees", "least deviation, degrees"}, "refractive index",
			func(x []float64) (float64, error) {
				return LeastDeviation(x[0], x[1])
			}},
		{"least_deviation", []string{"refractive index", "angle of the prism, degrees"}, "least deviation, degrees",
			func(x []float64) (float64, error) {
				return DeviationOf(x[0], x[1])
			}},
		{"weighing_uncertainty", []string{"specific gravity", "weight in air, ct", "what the balance repeats to, ct"},
			"standard uncertainty of the specific gravity", func(x []float64) (float64,
				error) {
				return WeighingUncertainty(x[0], x[1], x[2])
			}},
	}
}

// ofIndex is a function of an index of refraction, which must be 1 or more.
func ofIndex(f func(float64) float64) func(x []float64) (float64, error) {
	return func(x []float64) (float64, error) {
		if !(x[0] >= 1) {
			return 0, fmt.Errorf("%w: an index of refraction of %g, wanted 1 or more", ErrRange, x[0])
		}
		return f(x[0]), nil
	}
}
