package main

import (
	"slices"

	"github.com/spf13/cobra"

	"whystone/cmd/whystone/catalog"
	"whystone/cmd/whystone/terminal"
	"whystone/engine/phrase"
	"whystone/kb/physics"
	"whystone/kb/quantity"
)

func (a *app) reckonOptics() *cobra.Command {
	return a.group(&cobra.Command{Use: "optics", Short: "What an index implies, and an index from what was measured"},
		a.reckonFace(), a.reckonIndex(), a.reckonDispersion())
}

// formula is one figure that follows from others.
type formula struct {
	what, unit, source string
	f                  func(x []float64) (float64, error)
}

const (
	fresnel = "Fresnel's equation for light that falls straight on a face that absorbs little"
	snell   = "Snell's law"
)

func (a *app) reckonFace() *cobra.Command {
	var index, depth measured
	cmd := &cobra.Command{
		Use:   "face",
		Short: "Reflectance, critical and Brewster angle, apparent depth",
		Long: `What a polished face of an index in air does with light: the part that it
reflects of light falling on it straight, the angle beyond which light within is
reflected totally, the angle at which reflected light is fully polarised; with
--depth-mm, how deep something seems to lie that is seen straight through the
face. Angles are from the normal.`,
		Example: `  whystone reckon optics face --index 2.417±0.001`,
		Args:    noArguments,
		RunE: func(cmd *cobra.Command, _ []string) error {
			if err := missingFlag(cmd, "index"); err != nil {
				return err
			}
			of := func(name string) func(x []float64) (float64, error) {
				return func(x []float64) (float64, error) { return call(name, x[0]) }
			}
			list := []formula{
				{"reflectance of a face", "percent", fresnel, of("fresnel_reflectance")},
				{"critical angle", "degrees", snell, of("critical_angle")},
				{"Brewster angle", "degrees", "Brewster's law", of("brewster_angle")},
			}
			in := []quantity.Input{input("index", "", index)}
			if depth.given {
				in = append(in, input("depth", "mm", depth))
				seems := func(x []float64) (float64, error) { return physics.ApparentDepth(x[1], x[0]), nil }
				list = append(list, formula{"apparent depth", "mm", snell + " for small angles", seems})
			}
			return a.optics(cmd, in, list)
		},
	}
	cmd.Flags().Var(&index, "index", "index of refraction")
	cmd.Flags().Var(&depth, "depth-mm", "a depth within the stone")
	return cmd
}

// input is a figure that was measured, for reckoning with it.
func input(name, unit string, m measured) quantity.Input {
	return quantity.Input{Name: name, Unit: unit, Value: m.Value, U: m.U}
}

// call asks a formula that rules may call too, so that both have the same figures.
func call(name string, x ...float64) (float64, error) {
	i := slices.IndexFunc(physics.Functions(), func(f physics.Function) bool { return f.Name == name })
	return physics.Functions()[i].F(x)
}

func (a *app) reckonIndex() *cobra.Command {
	var reflectance, prism, deviation, depth, apparent measured
	cmd := &cobra.Command{
		Use:   "index",
		Short: "Index by reflectance, by least deviation, or by apparent depth",
		Long: `The index of refraction by one of three measurements:

  --reflectance          percent of light falling straight on a polished face
  --prism, --deviation   angle between two faces, and the least angle by which
                         they deviate light of one colour, in degrees
  --depth-mm             depth of a stone between parallel faces, and with it
  --apparent-mm          the depth that it seems to have seen straight through`,
		Example: `  whystone reckon optics index --reflectance 17.2±0.6
  whystone reckon optics index --prism 40.00±0.05 --deviation 24.60±0.05`,
		Args: noArguments,
		RunE: func(cmd *cobra.Command, _ []string) error {
			byFace := func(x []float64) (float64, error) { return call("index_by_reflectance", x[0]) }
			byPrism := func(x []float64) (float64, error) { return physics.LeastDeviation(x[0], x[1]) }
			byDepth := func(x []float64) (float64, error) { return physics.DepthRatio(x[0], x[1]) }
			switch [...]bool{reflectance.given, prism.given, deviation.given, depth.given, apparent.given} {
			case [...]bool{true, false, false, false, false}:
				return a.optics(cmd, []quantity.Input{input("reflectance", "percent", reflectance)},
					[]formula{{"index", "", fresnel, byFace}})
			case [...]bool{false, true, true, false, false}:
				in := []quantity.Input{input("angle of the prism", "degrees", prism),
					input("least deviation", "degrees", deviation)}
				return a.optics(cmd, in, []formula{{"index", "", snell + " for the symmetrical path", byPrism}})
			case [...]bool{false, false, false, true, true}:
				return a.optics(cmd, []quantity.Input{input("depth", "mm", depth),
					input("apparent depth", "mm", apparent)},
					[]formula{{"index", "", snell + " for small angles", byDepth}})
			}
			return usageError("%s needs --reflectance, or --prism and --deviation, or --depth-mm and --apparent-mm",
				cmd.CommandPath())
		},
	}
	f := cmd.Flags()
	f.Var(&reflectance, "reflectance", "reflectance of a polished face, percent")
	f.Var(&prism, "prism", "angle between two polished faces, degrees")
	f.Var(&deviation, "deviation", "least deviation, degrees")
	f.Var(&depth, "depth-mm", "depth between parallel faces")
	f.Var(&apparent, "apparent-mm", "depth that it seems to have")
	return cmd
}

func (a *app) reckonDispersion() *cobra.Command {
	var first, second physics.Dispersion
	var at, from, to float64
	cmd := &cobra.Command{
		Use:   "dispersion",
		Short: "Index, dispersion and birefringence at given wavelengths",
		Long: `Index, dispersion and birefringence by the published dispersion formulas of a
stone's rays. Wavelengths are in nm: unless others are given, the index is told
at the sodium line (589.3) and the dispersion between the lines G (430.8) and B
(686.7). The forms and their coefficients (in micrometres) are those of
"whystone help formulas".`,
		Example: `  whystone reckon optics dispersion --form 1 \
    --coefficients 0,0.3306,0.175,4.3356,0.106
  whystone reckon optics dispersion --form 5 --coefficients 1.53,0.0046,-2 \
    --coefficients-2 1.539,0.0047,-2`,
		Args: noArguments,
		RunE: a.does(func(s *session, cmd *cobra.Command, _ []string) error {
			if err := missingFlag(cmd, "form", "coefficients"); err != nil {
				return err
			}
			second.Form = first.Form
			list, err := ofRay(first, at/1000, from/1000, to/1000)
			if err != nil {
				return cantReckon(err)
			}
			if len(second.Coefficients) > 0 {
				more, err := ofRay(second, at/1000, from/1000, to/1000)
				if err != nil {
					return cantReckon(err)
				}
				for _, m := range more {
					m.What += " of the second ray"
					list = append(list, m)
				}
				twice, err := physics.Birefringence(at/1000, first, second)
				if err != nil {
					return cantReckon(err)
				}
				list = append(list, figureOf{"birefringence", "", twice})
			}
			return s.figures("dispersion", "the formula given, which holds within its own range of wavelengths",
				list...)
		}),
	}
	f := cmd.Flags()
	f.IntVar(&first.Form, "form", 0, "the formula's form, 1 to 9")
	f.Float64SliceVar(&first.Coefficients, "coefficients", nil, "its `coefficients`, with commas")
	f.Float64SliceVar(&second.Coefficients, "coefficients-2", nil, "`coefficients` of a second ray")
	f.Float64Var(&at, "at", 1000*physics.LineD, "wavelength of the index, nm")
	f.Float64Var(&from, "from", 1000*physics.LineG, "shorter wavelength of the dispersion, nm")
	f.Float64Var(&to, "to", 1000*physics.LineB, "longer wavelength of the dispersion, nm")
	return cmd
}

// ofRay is the index of a ray at a wavelength, and its dispersion between two, in micrometres.
func ofRay(d physics.Dispersion, at, from, to float64) ([]figureOf, error) {
	n, err := d.Index(at)
	if err != nil {
		return nil, err
	}
	spread, err := d.Between(from, to)
	return []figureOf{{"index", "", n}, {"dispersion", "", spread}}, err
}

// optics tells the figures that follow from some that were measured, each with its uncertainty; of a single one the
// whole budget.
func (a *app) optics(cmd *cobra.Command, in []quantity.Input, list []formula) error {
	s, err := a.begin(cmd)
	if err != nil {
		return err
	}
	for _, f := range list {
		b, err := quantity.Propagate(in, f.f)
		if err != nil {
			return cantReckon(err)
		}
		if s.json() {
			if err := s.print(reckonedOf(f.what, f.unit, f.source, b)); err != nil {
				return err
			}
			continue
		}
		if len(list) == 1 {
			s.out.Reckoned(phrase.Capital(f.what), f.unit, b)
			s.out.Field("Source", terminal.Dim, f.source)
			continue
		}
		s.out.Figure(f.what, f.unit, b.Value, b.U, f.source)
	}
	return write(s.out)
}

// figureOf is a figure that carries no uncertainty, as JSON.
type figureOf struct {
	What  string  `json:"what"`
	Unit  string  `json:"unit,omitempty"`
	Value float64 `json:"value"`
}

// figures tells figures without uncertainty.
func (s *session) figures(what, source string, list ...figureOf) error {
	return s.tell(struct {
		Format  int        `json:"format"`
		What    string     `json:"what"`
		Figures []figureOf `json:"figures"`
		Source  string     `json:"source"`
	}{catalog.Format, what, list, source}, func() {
		for _, f := range list {
			s.out.Figure(f.What, f.Unit, f.Value, 0, "")
		}
		s.out.Field("Source", terminal.Dim, source)
	})
}
