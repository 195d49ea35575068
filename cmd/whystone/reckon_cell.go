package main

import (
	"cmp"

	"github.com/spf13/cobra"

	"whystone/kb/physics"
)

// reckonCell is the density of a perfect crystal, against which a sheet's range can be held.
func (a *app) reckonCell() *cobra.Command {
	var formula string
	var z, x, y, c, alpha, beta, gamma float64
	cmd := &cobra.Command{
		Use:   "cell",
		Short: "Density of a perfect crystal by its unit cell",
		Long: `The density of a crystal without a fault, by its chemical formula and unit cell:
Z M/(N_A V). Edges are in angstrom, angles in degrees. A stone's own specific
gravity differs by what it holds besides: the figure checks a sheet's range, and
is not it.`,
		Example: `  whystone reckon cell --formula C --z 8 --a 3.567
  whystone reckon cell --formula Al2O3 --z 6 --a 4.7589 --c 12.991 --gamma 120`,
		Args: noArguments,
		RunE: a.does(func(s *session, cmd *cobra.Command, _ []string) error {
			if err := missingFlag(cmd, "formula", "z", "a"); err != nil {
				return err
			}
			mass, err := physics.MolarMass(formula)
			if err != nil {
				return cantReckon(err)
			}
			cell := physics.Cell{A: x, B: cmp.Or(y, x), C: cmp.Or(c, x), Alpha: alpha, Beta: beta, Gamma: gamma}
			density, err := physics.XRayDensity(cell, z, mass)
			if err != nil {
				return cantReckon(err)
			}
			return s.figures("density of a perfect crystal",
				"IUPAC atomic weights of 1999; Avogadro constant of the SI",
				figureOf{"molar mass", "g/mol", mass}, figureOf{"density", "g/cm³", density})
		}),
	}
	f := cmd.Flags()
	f.StringVar(&formula, "formula", "", "chemical `formula`: Al2SiO4F2")
	f.Float64Var(&z, "z", 0, "formula units in the cell")
	f.Float64Var(&x, "a", 0, "edge a, angstrom")
	f.Float64Var(&y, "b", 0, "edge b, angstrom (default: as a)")
	f.Float64Var(&c, "c", 0, "edge c, angstrom (default: as a)")
	f.Float64Var(&alpha, "alpha", 90, "angle between b and c, degrees")
	f.Float64Var(&beta, "beta", 90, "angle between a and c, degrees")
	f.Float64Var(&gamma, "gamma", 90, "angle between a and b, degrees")
	return cmd
}
