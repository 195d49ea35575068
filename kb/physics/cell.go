package physics

import (
	"fmt"
	"math"
)

// Cell is a crystal's unit cell: edges in angstrom, angles in degrees.
type Cell struct{ A, B, C, Alpha, Beta, Gamma float64 }

// Volume is the volume of the cell in cubic angstrom, a b c sqrt(1 - cos²α - cos²β - cos²γ + 2 cosα cosβ cosγ), the
// general triclinic formula of crystallography. ErrRange if no such cell can be.
func (c Cell) Volume() (float64, error) {
	cos := func(degrees float64) float64 { return math.Cos(degrees * math.Pi / 180) }
	a, b, g := cos(c.Alpha), cos(c.Beta), cos(c.Gamma)
	shape := 1 - a*a - b*b - g*g + 2*a*b*g
	v := c.A * c.B * c.C * math.Sqrt(shape)
	const flat = 1e-12 // what rounding leaves of three axes in one plane
	if !(c.A > 0 && c.B > 0 && c.C > 0 && v > 0 && shape > flat) || math.IsInf(v, 0) {
		return 0, fmt.Errorf("%w: no cell has edges %g, %g, %g and angles %g, %g, %g", ErrRange, c.A, c.B, c.C, c.Alpha,
			c.Beta, c.Gamma)
	}
	return v, nil
}

// XRayDensity is the density in g/cm³ of a crystal with z formula units of the given molar mass (g/mol) in its cell:
// z M/(N_A V), with the Avogadro constant exact by definition of the SI (2019).
func XRayDensity(c Cell, z, molarMass float64) (float64, error) {
	const avogadro = 0.602214076 // per mol, times 1e-24 cm³ per cubic angstrom
	v, err := c.Volume()
	if err != nil {
		return 0, err
	}
	if !(z > 0 && molarMass > 0) || math.IsInf(z*molarMass, 0) {
		return 0, fmt.Errorf("%w: %g formula units of %g g/mol", ErrRange, z, molarMass)
	}
	return z * molarMass / (avogadro * v), nil
}
