package main

import (
	"strings"

	"github.com/spf13/cobra"

	"whystone/cmd/whystone/terminal"
	"whystone/engine/bench"
	"whystone/engine/phrase"
)

// sized is what the flags of weight against size say.
type sized struct {
	cut                      string
	mounted                  bool
	length, width, depth, sg measured
	carat                    weight
}

func (a *app) reckonWeight() *cobra.Command {
	var f sized
	cmd := &cobra.Command{
		Use:   "weight",
		Short: "Weight from measurements by cut, and what a weight says of the stone",
		Long: `The weight of a stone by its measurements, its cut and its specific gravity; or,
with --carat in place of --sg, the specific gravity that its weight implies. The
factor of each cut, and what the make of a stone leaves open, are those of the
ruleset ("whystone procedure weight-against-size"), so that a case with these
measurements has the same figures. An uncertainty given with a measurement is
added to that.`,
		Example: `  whystone reckon weight --length-mm 6.45 --width-mm 6.48 --depth-mm 3.96 \
    --sg 3.52
  whystone reckon weight --cut oval --length-mm 8.1 --width-mm 6 \
    --depth-mm 3.9 --carat 1.42`,
		Args: noArguments,
		RunE: a.does(func(s *session, cmd *cobra.Command, _ []string) error {
			return s.reckonWeight(cmd, &f)
		}),
	}
	fl := cmd.Flags()
	fl.StringVar(&f.cut, "cut", "round brilliant", "the `cut`")
	fl.BoolVar(&f.mounted, "mounted", false, "the stone is in a mount")
	fl.Var(&f.length, "length-mm", "length, or the largest diameter")
	fl.Var(&f.width, "width-mm", "width, or the smallest diameter")
	fl.Var(&f.depth, "depth-mm", "depth")
	fl.Var(&f.sg, "sg", "specific gravity: of what it is said to be")
	fl.Var(&f.carat, "carat", "in place of --sg: the stone's weight")
	return cmd
}

func (m *measured) bench() bench.Measured { return bench.Measured{Value: m.Value, U: m.U} }

func (s *session) reckonWeight(cmd *cobra.Command, f *sized) error {
	if err := missingFlag(cmd, "length-mm", "width-mm", "depth-mm"); err != nil {
		return err
	}
	if f.sg.given == f.carat.given {
		return usageError("%s needs either --sg, for the weight, or --carat, for the specific gravity",
			cmd.CommandPath())
	}
	rs, err := s.ruleset(cmd.Context())
	if err != nil {
		return err
	}
	size := bench.Size{Cut: strings.ToLower(f.cut), Mounted: f.mounted, Carat: f.carat.bench(),
		Length: f.length.bench(), Width: f.width.bench(), Depth: f.depth.bench()}
	what, unit := "weight", "ct"
	b, read, err := size.Weight(rs, f.sg.bench())
	if f.carat.given {
		what, unit = "specific gravity by size", ""
		b, read, err = size.Gravity(rs)
	}
	if err != nil {
		return cantReckon(err)
	}
	out := reckonedOf(what, unit, read.Note, b)
	if wide := max(f.length.Value, f.width.Value); f.depth.Value > wide {
		out.Cautions = append(out.Cautions, "The depth is "+phrase.Times(f.depth.Value/wide)+
			" the longest measurement across. Few stones are deeper than wide: look at the decimal point.")
	}
	return s.tell(out, func() {
		s.out.Reckoned(phrase.Capital(what), unit, b)
		if f.carat.given {
			s.out.ToldApart(bench.BySize(rs, b.Value, b.U), rs.Policy.Misfit*b.U, rs.Policy.Misfit)
		}
		s.out.Field("Caution", terminal.Plain, out.Cautions...)
		s.out.Field("Source", terminal.Dim, read.Note)
	})
}
