package main

import (
	"math"

	"github.com/spf13/cobra"

	"whystone/cmd/whystone/catalog"
	"whystone/engine/bench"
	"whystone/engine/picture"
	"whystone/kb/physics/raytrace"
)

// looked is what the flags of reading through say.
type looked struct {
	proportions raytrace.Proportions
	index, tilt float64
	picture     string
}

func (a *app) reckonReadThrough() *cobra.Command {
	f := looked{proportions: raytrace.Usual}
	// help shows them, without the last digits of binary fractions
	percent := func(x float64) float64 { return math.Round(1e6*x) / 1e4 }
	table, girdle := percent(raytrace.Usual.Table), percent(raytrace.Usual.Girdle)
	cmd := &cobra.Command{
		Use:   "readthrough",
		Short: "Through which round brilliants print can be seen",
		Long: `Rays of an eye are traced through the cross-section of a round brilliant that
lies table down on print: Snell's law, Fresnel's equations, total reflection.
What comes from the paper without a reflection shows print; what comes after
reflections shows none. For each material of the ruleset, or for one index: how
much of the view comes from the paper directly, and whether print can be seen
there at all. That it can does not say that anybody reads it: facets break it
up.`,
		Example: `  whystone reckon readthrough
  whystone reckon readthrough --pavilion 38 --tilt 5
  whystone reckon readthrough --index 2.417 --picture rays.svg`,
		Args: noArguments,
		RunE: a.does(func(s *session, cmd *cobra.Command, _ []string) error {
			f.proportions.Table, f.proportions.Girdle = table/100, girdle/100
			return s.readThrough(cmd, &f)
		}),
	}
	fl := cmd.Flags()
	fl.Float64Var(&f.index, "index", 0, "of this index of refraction alone")
	fl.Float64Var(&f.proportions.Pavilion, "pavilion", f.proportions.Pavilion, "angle of the pavilion, degrees")
	fl.Float64Var(&f.proportions.Crown, "crown", f.proportions.Crown, "angle of the crown, degrees")
	fl.Float64Var(&table, "table", table, "table, percent of the diameter")
	fl.Float64Var(&girdle, "girdle", girdle, "girdle, percent of the diameter")
	fl.Float64Var(&f.tilt, "tilt", 0, "how far the eye is from straight above, degrees")
	fl.StringVar(&f.picture, "picture", "", "draw the rays to this `file` (.svg or .html); with --index")
	return cmd
}

// throughs is what can be seen through, as JSON.
type throughs struct {
	Format      int                  `json:"format"`
	Proportions raytrace.Proportions `json:"proportions"`
	Tilt        float64              `json:"tilt"`
	// LargestIndex is that up to which light comes directly through the table to an eye straight above.
	LargestIndex float64             `json:"largest_index"`
	Lines        []bench.ReadThrough `json:"lines"`
}

func (s *session) readThrough(cmd *cobra.Command, f *looked) error {
	if f.picture != "" && !cmd.Flags().Changed("index") {
		return usageError("a picture of rays is of one index: give --index")
	}
	if f.picture != "" {
		if err := s.mayDraw(f.picture); err != nil {
			return err
		}
	}
	list, err := s.throughs(cmd, f)
	if err != nil {
		return cantReckon(err)
	}
	if f.picture != "" {
		stone, err := raytrace.Brilliant(f.proportions, f.index)
		if err != nil {
			return err
		}
		const rays = 16
		if err := toPicture(f.picture, "Reading through", picture.OfRays(stone, f.tilt, rays).Draw()); err != nil {
			return err
		}
	}
	limit := raytrace.LargestIndex(f.proportions.Pavilion)
	out := throughs{catalog.Format, f.proportions, f.tilt, limit, append([]bench.ReadThrough{}, list...)}
	return s.tell(out, func() { s.out.ReadThrough(f.proportions, f.tilt, limit, list) })
}

// throughs looks through the one index that is given, or through all materials.
func (s *session) throughs(cmd *cobra.Command, f *looked) ([]bench.ReadThrough, error) {
	if cmd.Flags().Changed("index") {
		one, err := bench.ReadThroughOf(f.proportions, f.index, f.index, f.tilt)
		return []bench.ReadThrough{one}, err
	}
	rs, err := s.ruleset(cmd.Context())
	if err != nil {
		return nil, err
	}
	return bench.ReadThroughs(rs, f.proportions, f.tilt)
}
